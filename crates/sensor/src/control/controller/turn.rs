//! Whose turn it is: when the next procedure may be written, which one it is, and the writing itself.

use super::patience::{LONGEST_BACK_OFF, RELEASE_WAITS, SILENT_ASKS, UNCONFIRMED_AFTER};
use super::pending::{Pending, is_load};
use super::{Controller, LONG_AGO, Link};
use crate::control::demand::{Demand, request, stand_in};
use crate::control::event::{ControlEvent, ControlOutput};
use crate::fitness_machine::control::Request;
use units::Timestamp;

/// Writes whose acknowledgement is remembered at most.
const MOST_UNACKNOWLEDGED: usize = 16;

impl Controller {
    pub(super) fn has_something_to_say(&self) -> bool {
        self.wanted.is_some() && self.wanted != self.confirmed && !self.refused
    }

    /// When the next procedure may be written.
    pub(super) fn next_write(&self) -> Option<Timestamp> {
        if self.link == Link::Down || !self.has_something_to_say() {
            return None;
        }
        let releasing = self.wanted == Some(Demand::Release);
        let free = match &self.pending {
            None => LONG_AGO,
            Some(pending) if releasing && pending.for_release => pending.written + self.back_off,
            Some(pending) if releasing => pending.written + RELEASE_WAITS,
            Some(pending) if pending.tell_at.is_none() && pending.demand != self.wanted => {
                pending.written
            }
            Some(_) => return None,
        };
        Some(free.max(self.not_before))
    }

    /// Writes the next procedure if one is due.
    pub(super) fn advance(&mut self) {
        let now = self.now;
        if self.next_write().is_none_or(|due| due > now) {
            return;
        }
        let Some(wanted) = self.wanted else { return };
        let releasing = wanted == Demand::Release;
        let is_release = |pending: &Pending| pending.demand == Some(Demand::Release);
        if releasing && self.pending.as_ref().is_some_and(is_release) && self.confirm_echo() {
            return;
        }
        let overtaken = self.pending.take();
        if let Some(pending) = &overtaken {
            self.leave_unanswered(pending);
        }
        let (request, demand) = if !self.has_control && self.silent_asks < SILENT_ASKS {
            (Request::RequestControl, None)
        } else if !self.started && !releasing {
            (Request::StartOrResume, None)
        } else {
            match request(wanted, self.mode, self.release_way) {
                Ok(request) => {
                    self.tell_instead(wanted);
                    (request, Some(wanted))
                }
                Err(answer) => {
                    self.refuse_wanted(answer);
                    return;
                }
            }
        };
        self.write(request, demand, overtaken.as_ref());
    }

    /// What the silence of a trainer teaches, before something else is written.
    fn leave_unanswered(&mut self, pending: &Pending) {
        match pending.request {
            Request::RequestControl => self.silent_asks += 1,
            Request::StartOrResume => self.started = true,
            _ => self.remember_overtaken(pending),
        }
        if pending.for_release && self.wanted == Some(Demand::Release) {
            self.back_off = (self.back_off * 2).min(LONGEST_BACK_OFF);
        }
    }

    fn write(&mut self, request: Request, demand: Option<Demand>, overtaken: Option<&Pending>) {
        let now = self.now;
        let for_release = self.wanted == Some(Demand::Release);
        if is_load(demand) {
            self.maybe_loaded = true;
            self.confirmed = None;
        }
        self.sequence += 1;
        self.unacknowledged.push_back(self.sequence);
        if self.unacknowledged.len() > MOST_UNACKNOWLEDGED {
            self.unacknowledged.pop_front();
        }
        self.outputs
            .push_back(ControlOutput::Write(request.encode()));
        self.last_written = now;
        // A release that is repeated is one wish, and is told to be unconfirmed once.
        let repeated = overtaken.filter(|pending| pending.for_release && for_release);
        self.pending = Some(Pending {
            request,
            demand,
            for_release,
            sequence: self.sequence,
            written: now,
            silent_since: overtaken.map_or(now, |pending| pending.silent_since),
            tell_at: repeated.map_or(Some(now + UNCONFIRMED_AFTER), |pending| pending.tell_at),
            echoed: None,
        });
    }

    /// Says that something stands in for target powers, once for each mode.
    fn tell_instead(&mut self, demand: Demand) {
        if let Some(asked) = stand_in(demand, self.mode)
            && !std::mem::replace(&mut self.told_instead, true)
        {
            self.event(ControlEvent::Instead { demand, asked });
        }
    }
}
