//! What the silence of the trainer means: a demand is unconfirmed, and later the link is of no more
//! use.

use super::Controller;
use super::patience::PROCEDURE_TIMEOUT;
use super::pending::{Overtaken, is_load};
use crate::control::event::ControlEvent;
use units::Timestamp;

impl Controller {
    pub(super) fn tell_unconfirmed(&mut self) {
        let now = self.now;
        let Some(pending) = self
            .pending
            .as_mut()
            .filter(|pending| pending.tell_at.is_some_and(|due| due <= now))
        else {
            return;
        };
        pending.tell_at = None;
        let demand = pending.demand;
        if !self.confirm_echo() {
            self.event(ControlEvent::Unconfirmed { demand });
        }
    }

    pub(super) fn time_out(&mut self) {
        let now = self.now;
        let is_silent = |since: Timestamp| now - since >= PROCEDURE_TIMEOUT;
        // A load that was overtaken is no sign of a dead link if something later was answered.
        let is_dead = |one: &Overtaken| is_silent(one.written) && one.written > self.last_answered;
        let dead = self.overtaken.iter().any(is_dead);
        self.overtaken.retain(|one| !is_silent(one.written));
        let pending = self
            .pending
            .take_if(|pending| is_silent(pending.silent_since));
        if pending.is_none() && !dead {
            return;
        }
        if let Some(pending) = pending.filter(|pending| pending.for_release) {
            // By the standard it is of no use; but a release is never given up.
            self.not_before = self.not_before.max(pending.written + self.back_off);
        }
        if !std::mem::replace(&mut self.needs_new_link, true) {
            self.event(ControlEvent::TimedOut);
        }
        if is_load(self.wanted) {
            self.forget_load();
        }
    }
}
