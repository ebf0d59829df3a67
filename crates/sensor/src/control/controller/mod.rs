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
//! What it may be told and asked is in this file. Behind it: what is wanted (`wish`), when the next
//! procedure is written, and which (`turn`), what an answer means (`answer`), what the trainer
//! says of its own accord (`own_word`), what its silence means (`silence`), and what is believed
//! of its load and of our control after all that (`belief`).

mod answer;
mod belief;
mod own_word;
mod patience;
mod pending;
mod silence;
mod turn;
mod wish;

use super::demand::{ControlMode, Demand, ReleaseWay};
use super::event::{ControlEvent, ControlOutput, ControlState};
use crate::assigned;
use crate::fitness_machine::control::Response;
use crate::fitness_machine::status::Status;
pub use patience::{
    ASK_AGAIN_AFTER, ECHO_WITHIN, LONGEST_BACK_OFF, MOST_TRIES, PROCEDURE_TIMEOUT, RELEASE_WAITS,
    RETRY_AFTER, UNCONFIRMED_AFTER,
};
use pending::{Overtaken, Pending, is_load};
use std::collections::VecDeque;
use units::{AttError, Packet, Span, Timestamp};

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

    fn event(&mut self, event: ControlEvent) {
        self.outputs.push_back(ControlOutput::Event(event));
    }
}
