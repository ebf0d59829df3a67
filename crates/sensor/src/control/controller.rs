//! The one voice that talks to a trainer's control point.
//!
//! The newest demand wins; one procedure runs at a time; control is requested first and again
//! whenever it was lost. Three rules are about safety and stand above everything else:
//!
//! - *Release overtakes.* A release does not wait behind another demand, nor long behind a
//!   procedure that is not answered, and is repeated until it is confirmed.
//! - *Nothing comes back by itself.* When a link or the control comes back, the only thing written
//!   is a release, until somebody asks for a load again.
//! - *A demand made without a link is not kept.* Whoever wants it must want it again.
//!
//! Answers carry no number, only the op code they answer. A release that overtook a load of the
//! same op code is therefore believed to be confirmed only by an answer that cannot be the load's.

use super::demand::{ControlMode, Demand, LIGHT_LOAD_W, ReleaseWay, request, stand_in};
use super::event::{ControlEvent, ControlOutput, ControlState};
use super::pending::{Overtaken, Pending, is_echo, is_load, words};
use crate::assigned;
use crate::fitness_machine::control::{Request, Response, ResultCode, StopOrPause};
use crate::fitness_machine::status::Status;
use std::collections::VecDeque;
use units::{AttError, Packet, Span, Timestamp};

/// Without an indication for this long, a demand counts as unconfirmed.
pub const UNCONFIRMED_AFTER: Span = Span::from_secs(3);
/// Procedure time-out of the standard (30 s from the write), after which only a new link helps.
pub const PROCEDURE_TIMEOUT: Span = Span::from_secs(30);
/// A release waits no longer than this for the procedure before it.
pub const RELEASE_WAITS: Span = Span::from_millis(250);
/// Wait before a write that was turned away is tried again.
pub const RETRY_AFTER: Span = Span::from_millis(300);
/// Longest wait between two tries of a release.
pub const LONGEST_BACK_OFF: Span = Span::from_secs(2);
/// Wait before control is requested again after it was refused.
pub const ASK_AGAIN_AFTER: Span = Span::from_secs(2);
/// So often a load is tried in vain before it counts as refused. A release is never given up.
pub const MOST_TRIES: u32 = 4;
/// A new target that the trainer reports later than this after a release is not that release.
pub const ECHO_WITHIN: Span = Span::from_secs(1);

/// So often control is requested without any answer before it is taken for granted: some trainers
/// never answer at all (common practice).
const SILENT_ASKS: u32 = 2;
/// Writes whose acknowledgement is remembered at most.
const MOST_UNACKNOWLEDGED: usize = 16;
const LONG_AGO: Timestamp = Timestamp::from_nanos(i64::MIN);

/// Whether there is a link.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Link {
    /// There is.
    Up,
    /// There is none.
    Down,
}

/// The conversation with one trainer.
#[derive(Debug)]
pub struct Controller {
    mode: ControlMode,
    release_way: ReleaseWay,
    now: Timestamp,
    link: Link,
    has_control: bool,
    started: bool,
    /// Requests of control that were not answered since one was.
    silent_asks: u32,
    /// A load was confirmed or may have been applied since the last confirmed release.
    maybe_loaded: bool,
    wanted: Option<Demand>,
    /// The demand wanted was refused, and is not tried again until it is wanted again.
    refused: bool,
    confirmed: Option<Demand>,
    confirmed_at: Timestamp,
    pending: Option<Pending>,
    overtaken: Vec<Overtaken>,
    sequence: u64,
    unacknowledged: VecDeque<u64>,
    last_written: Timestamp,
    last_answered: Timestamp,
    not_before: Timestamp,
    back_off: Span,
    /// Tries in vain since the demand was wanted.
    tries: u32,
    needs_new_link: bool,
    /// Whether it was said that something stands in for target powers.
    told_instead: bool,
    outputs: VecDeque<ControlOutput>,
}

impl Controller {
    /// A controller for a trainer that is linked and idle.
    pub fn new(mode: ControlMode) -> Self {
        Self {
            mode,
            release_way: ReleaseWay::Lowest,
            now: LONG_AGO,
            link: Link::Up,
            has_control: false,
            started: false,
            silent_asks: 0,
            maybe_loaded: false,
            wanted: None,
            refused: false,
            confirmed: None,
            confirmed_at: LONG_AGO,
            pending: None,
            overtaken: Vec::new(),
            sequence: 0,
            unacknowledged: VecDeque::new(),
            last_written: LONG_AGO,
            last_answered: LONG_AGO,
            not_before: LONG_AGO,
            back_off: RETRY_AFTER,
            tries: 0,
            needs_new_link: false,
            told_instead: false,
            outputs: VecDeque::new(),
        }
    }

    /// Changes how the trainer is unloaded, once its features are known.
    pub fn set_mode(&mut self, mode: ControlMode) {
        if self.mode != mode {
            self.mode = mode;
            self.release_way = ReleaseWay::Lowest;
            self.told_instead = false;
        }
    }

    /// Asks for a load. The newest demand wins; without a link only a release is remembered. A
    /// demand that is confirmed is not written again; one that was refused is.
    pub fn want(&mut self, now: Timestamp, demand: Demand) {
        self.handle_time(now);
        if demand == Demand::Release {
            self.want_release();
        } else if self.link == Link::Down {
            self.event(ControlEvent::NotKept { demand });
            return;
        } else {
            self.want_load(demand);
        }
        self.advance();
    }

    /// Takes the acknowledgement of the oldest write that has none yet.
    pub fn handle_write_result(&mut self, now: Timestamp, result: &Result<(), AttError>) {
        self.handle_time(now);
        let acknowledged = self.unacknowledged.pop_front();
        if let Err(error) = result
            && let Some(pending) = self
                .pending
                .take_if(|pending| Some(pending.sequence) == acknowledged)
        {
            self.write_failed(&pending, error);
        }
        self.advance();
    }

    /// Takes a packet; everything but control-point indications and status is ignored.
    pub fn handle_packet(&mut self, packet: &Packet) {
        self.handle_time(packet.at);
        if self.link == Link::Down {
            return;
        }
        match packet.characteristic {
            assigned::FITNESS_MACHINE_CONTROL_POINT => {
                if let Ok(decoded) = Response::decode(&packet.bytes) {
                    self.handle_response(&decoded.value);
                }
            }
            assigned::FITNESS_MACHINE_STATUS => {
                if let Ok(decoded) = Status::decode(&packet.bytes) {
                    self.handle_status(&decoded.value);
                }
            }
            _ => return,
        }
        self.advance();
    }

    /// Takes the news that the link went down or came up. Coming up twice is a new link.
    pub fn handle_link(&mut self, now: Timestamp, link: Link) {
        self.handle_time(now);
        let was = std::mem::replace(&mut self.link, link);
        let was_in_use = self.has_control || self.pending.is_some() || is_load(self.wanted);
        self.forget_control();
        self.pending = None;
        self.overtaken.clear();
        self.unacknowledged.clear();
        self.needs_new_link = false;
        self.forget_load();
        if link == Link::Down && was == Link::Up {
            self.event(ControlEvent::Lost {
                reason: "the link is down",
            });
        } else if link == Link::Up && was == Link::Up && was_in_use {
            self.event(ControlEvent::Lost {
                reason: "the link was made anew",
            });
        }
        self.advance();
    }

    /// Takes evidence from outside, such as the measured power, that a demand which the trainer
    /// never confirmed is in force.
    pub fn handle_evidence(&mut self, now: Timestamp, demand: Demand) {
        self.handle_time(now);
        let now = self.now;
        let shown =
            |pending: &mut Pending| pending.demand == Some(demand) && pending.tell_at.is_none();
        if let Some(pending) = self.pending.take_if(shown) {
            self.confirm(pending.demand, now - pending.written);
        }
        self.advance();
    }

    /// Fires what has fallen due.
    pub fn handle_time(&mut self, now: Timestamp) {
        self.now = self.now.max(now);
        self.tell_unconfirmed();
        self.time_out();
        self.advance();
    }

    /// When [`Controller::handle_time`] wants to be called next; always later than its last call.
    pub fn poll_timeout(&self) -> Option<Timestamp> {
        if self.link == Link::Down {
            return None;
        }
        let pending = self.pending.as_ref();
        let silent = pending.map(|pending| pending.silent_since + PROCEDURE_TIMEOUT);
        let overtaken = self
            .overtaken
            .iter()
            .map(|one| one.written + PROCEDURE_TIMEOUT);
        pending
            .and_then(|pending| pending.tell_at)
            .into_iter()
            .chain(silent)
            .chain(overtaken)
            .chain(self.next_write())
            .min()
    }

    /// The next thing to write or tell.
    pub fn poll_output(&mut self) -> Option<ControlOutput> {
        self.outputs.pop_front()
    }

    /// A summary of where the conversation stands.
    pub fn state(&self) -> ControlState {
        ControlState {
            told: self.wanted,
            confirmed: self.wanted.is_some() && self.wanted == self.confirmed,
            released: !self.maybe_loaded,
            has_control: self.has_control,
            needs_new_link: self.needs_new_link,
        }
    }

    /// Whether nothing is under way or waiting, so that another procedure, such as a spin-down,
    /// may use the control point.
    pub fn is_idle(&self) -> bool {
        self.pending.is_none() && !self.has_something_to_say()
    }

    fn want_release(&mut self) {
        let repeated = self.wanted == Some(Demand::Release) && !self.refused;
        self.wanted = Some(Demand::Release);
        self.refused = false;
        self.back_off = RETRY_AFTER;
        if repeated {
            // Pressed again while it is being tried: sooner, but no faster than a first retry.
            self.not_before = self.not_before.min(self.last_written + RETRY_AFTER);
        } else {
            self.not_before = self.now;
            self.tries = 0;
        }
    }

    fn want_load(&mut self, demand: Demand) {
        if self.wanted != Some(demand) || self.refused {
            self.tries = 0;
            self.back_off = RETRY_AFTER;
        }
        self.wanted = Some(demand);
        self.refused = false;
        if self.needs_new_link {
            let answer = "it has not answered for 30 s; the link has to be made anew first";
            self.refuse_wanted(answer.to_owned());
        } else if let Err(answer) = request(demand, self.mode, self.release_way) {
            self.refuse_wanted(answer);
        }
    }

    fn write_failed(&mut self, pending: &Pending, error: &AttError) {
        // A write answered by an error has begun nothing; by the standard it is simply gone.
        // Which error it was is not known on every system, so all are treated alike: wait, ask
        // for control again, try once more, then report.
        self.tries += 1;
        self.has_control = false;
        let report_at = if pending.for_release { 1 } else { 2 };
        if self.tries == report_at {
            self.event(ControlEvent::WriteFailed {
                asked: words(pending),
                error: error.clone(),
            });
        }
        self.try_later(self.back_off, &error.to_string());
    }

    fn handle_response(&mut self, response: &Response) {
        let op = response.request_op;
        let success = response.result == ResultCode::Success;
        let awaited = self
            .pending
            .as_ref()
            .filter(|pending| pending.request.op_code() == op);
        let awaits_release = awaited.is_some_and(|pending| pending.demand == Some(Demand::Release));
        if let Some(index) = self.overtaken.iter().position(|one| one.op == op)
            && (awaited.is_none() || awaits_release)
        {
            self.overtaken.remove(index);
            self.back_off = RETRY_AFTER;
            self.last_answered = self.now;
            if let Some(pending) = &mut self.pending {
                pending.silent_since = self.now;
            }
            if success {
                self.suspect_load();
            }
            return;
        }
        let Some(pending) = self
            .pending
            .take_if(|pending| pending.request.op_code() == op)
        else {
            return;
        };
        self.last_answered = self.now;
        self.overtaken.retain(|one| one.op != op);
        // The attribute protocol takes one request after the other, so what was written before
        // this has been acknowledged, whether or not anybody said so.
        self.unacknowledged
            .retain(|&sequence| sequence >= pending.sequence);
        self.take_result(pending, response.result);
    }

    fn take_result(&mut self, pending: Pending, result: ResultCode) {
        let after = self.now - pending.written;
        match (result, &pending.request) {
            (ResultCode::Success, Request::RequestControl) => {
                self.has_control = true;
                self.silent_asks = 0;
                self.event(ControlEvent::Granted);
            }
            // Some trainers do not know the request and are controlled without.
            (ResultCode::OpCodeNotSupported, Request::RequestControl) => {
                self.has_control = true;
                self.silent_asks = 0;
            }
            (result, Request::RequestControl) => {
                self.silent_asks = 0;
                self.tries += 1;
                if self.tries == 1 {
                    self.tell_refusal(&pending, result);
                }
                self.try_later(ASK_AGAIN_AFTER, &format!("request control: {result}"));
            }
            (ResultCode::ControlNotPermitted, _) => {
                self.forget_control();
                self.tries += 1;
                self.try_later(self.back_off, &result.to_string());
            }
            // Start while started is answered "operation failed", which is no failure of ours;
            // and a trainer without start and resume is driven without.
            (_, Request::StartOrResume) => self.started = true,
            (ResultCode::Success, Request::Reset) => {
                self.forget_control();
                self.confirm(pending.demand, after);
            }
            (ResultCode::Success, _) => {
                self.has_control = true;
                self.confirm(pending.demand, after);
            }
            (result, _) if pending.demand == Some(Demand::Release) => {
                self.tries += 1;
                if self.tries == 1 {
                    self.tell_refusal(&pending, result);
                }
                self.release_way = self.release_way.other();
                self.try_later(self.back_off, &result.to_string());
            }
            (result, _) => {
                self.tell_refusal(&pending, result);
                self.refused |= pending.demand == self.wanted;
            }
        }
    }

    fn handle_status(&mut self, status: &Status) {
        match status {
            Status::ControlPermissionLost => {
                self.forget_control();
                self.lose("the trainer took it back");
            }
            Status::StoppedBySafetyKey => self.lose("the safety key was pulled"),
            Status::StoppedOrPaused(StopOrPause::Stop) => self.lose("stopped at the trainer"),
            // Some trainers pause by themselves whenever nobody pedals (common practice).
            Status::StoppedOrPaused(_) => self.started = false,
            Status::Reset if is_load(self.wanted) => {
                self.forget_control();
                self.lose("the trainer was reset");
            }
            _ => self.take_echo(status),
        }
    }

    /// The load is gone, or no longer ours: what is under way is forgotten, and nothing but a
    /// release follows.
    fn lose(&mut self, reason: &'static str) {
        self.started = false;
        if let Some(pending) = self.pending.take() {
            self.remember_overtaken(&pending);
        }
        self.forget_load();
        self.event(ControlEvent::Lost { reason });
    }

    /// A careless trainer changes its load but never answers: its own word will do, once there
    /// was time enough for an answer.
    fn take_echo(&mut self, status: &Status) {
        let now = self.now;
        let echoes = |pending: &Pending| is_echo(status, &pending.request);
        if let Some(pending) = self.pending.as_mut().filter(|pending| echoes(pending)) {
            pending.echoed = Some(now);
            if pending.tell_at.is_none() {
                self.confirm_echo();
            }
            return;
        }
        let settled = now - self.confirmed_at > ECHO_WITHIN;
        if self.confirmed == Some(Demand::Release) && settled && self.is_load_by_status(status) {
            // Loaded by somebody else while we hold control and want it released.
            self.not_before = self.not_before.max(self.last_written + LONGEST_BACK_OFF);
            self.suspect_load();
        }
    }

    fn is_load_by_status(&self, status: &Status) -> bool {
        match (status, self.mode) {
            (Status::TargetPowerChanged { power_w }, _) => *power_w > LIGHT_LOAD_W,
            (
                Status::TargetResistanceChanged { level, .. },
                ControlMode::Resistance { lowest, .. },
            ) => *level > lowest,
            (Status::SimulationChanged(road), _) => road.grade_pct > 0.0,
            _ => false,
        }
    }

    /// Takes the trainer's own word for the answer that did not come. Gives whether there was one.
    fn confirm_echo(&mut self) -> bool {
        let Some(pending) = self.pending.take_if(|pending| pending.echoed.is_some()) else {
            return false;
        };
        let echoed = pending.echoed.unwrap_or(pending.written);
        self.confirm(pending.demand, echoed - pending.written);
        true
    }

    fn tell_unconfirmed(&mut self) {
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

    fn time_out(&mut self) {
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

    fn confirm(&mut self, demand: Option<Demand>, after: Span) {
        let Some(demand) = demand else { return };
        self.confirmed = Some(demand);
        self.confirmed_at = self.now;
        self.maybe_loaded = demand != Demand::Release;
        self.back_off = RETRY_AFTER;
        self.tries = 0;
        self.event(ControlEvent::Confirmed { demand, after });
    }

    fn suspect_load(&mut self) {
        self.maybe_loaded = true;
        if self.confirmed == Some(Demand::Release) {
            self.confirmed = None;
        }
    }

    /// Says that something stands in for target powers, once for each mode.
    fn tell_instead(&mut self, demand: Demand) {
        if let Some(asked) = stand_in(demand, self.mode)
            && !std::mem::replace(&mut self.told_instead, true)
        {
            self.event(ControlEvent::Instead { demand, asked });
        }
    }

    fn tell_refusal(&mut self, pending: &Pending, result: ResultCode) {
        self.event(ControlEvent::Refused {
            asked: words(pending),
            answer: result.to_string(),
        });
    }

    fn refuse_wanted(&mut self, answer: String) {
        self.refused = true;
        if let Some(wanted) = self.wanted {
            let asked = wanted.to_string();
            self.event(ControlEvent::Refused { asked, answer });
        }
    }

    /// After something went wrong: not at once again, and each time a little later. A load is
    /// given up after a few tries, so that it is not applied when nobody expects it any more.
    fn try_later(&mut self, after: Span, why: &str) {
        self.not_before = self.now + after;
        self.back_off = (self.back_off * 2).min(LONGEST_BACK_OFF);
        if is_load(self.wanted) && !self.refused && self.tries >= MOST_TRIES {
            self.refuse_wanted(format!("given up after {MOST_TRIES} tries: {why}"));
        }
    }

    fn forget_control(&mut self) {
        self.has_control = false;
        self.started = false;
        self.silent_asks = 0;
    }

    /// Forgets the wish for a load. What remains to be said is a release, if one may be needed or
    /// was wanted already.
    fn forget_load(&mut self) {
        let releasing = self.wanted == Some(Demand::Release) && self.confirmed != self.wanted;
        self.wanted = (self.maybe_loaded || releasing).then_some(Demand::Release);
        self.confirmed = None;
        self.refused = false;
        self.tries = 0;
        self.back_off = RETRY_AFTER;
        self.not_before = self.now;
    }

    fn remember_overtaken(&mut self, pending: &Pending) {
        if is_load(pending.demand) {
            self.overtaken.push(Overtaken {
                op: pending.request.op_code(),
                written: pending.written,
            });
        }
    }

    fn has_something_to_say(&self) -> bool {
        self.wanted.is_some() && self.wanted != self.confirmed && !self.refused
    }

    /// When the next procedure may be written.
    fn next_write(&self) -> Option<Timestamp> {
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
    fn advance(&mut self) {
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

    fn event(&mut self, event: ControlEvent) {
        self.outputs.push_back(ControlOutput::Event(event));
    }
}
