//! The link machine of one device: Idle → Connecting → Discovering → Subscribing → Live, and from
//! anywhere to Lost, which ends by itself.
//!
//! It has no clock and does no I/O: the driver tells it what happened and when, and carries out
//! the calls it puts out, one at a time. Every link is treated as new: a new object for the
//! device, its services read anew, every subscription made anew (trouble list B16, C1, C3).
//! Nothing is ever written by this machine.
//!
//! What it is told is in this file, what it wants done in [`output`]. The way to a link is that of
//! [`finding`] the device, judging its [`table`] and [`subscribing`]; then it is [`live`], and [`away`]
//! is the way out of all of them.

mod away;
mod finding;
mod live;
mod output;
mod subscribing;
mod table;

use crate::fault::HostFault;
use crate::news::{Entry, LinkState};
use crate::order::Wanted;
use crate::patience::Patience;
use crate::watch::Watch;
pub(crate) use output::{Call, Output, Reply, What};
use std::collections::VecDeque;
use units::{Characteristic, Span, Timestamp};

/// Where the machine stands.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Phase {
    Idle,
    Resting { until: Option<Timestamp> },
    Renewing,
    Bursting,
    Finding { burst_done: bool },
    Connecting,
    Discovering { round: u32 },
    Settling { round: u32, until: Timestamp },
    Subscribing { tries: u32 },
    Pausing { tries: u32, until: Timestamp },
    Live,
    Closing { then: Option<Span> },
}

#[derive(Debug)]
pub(crate) struct Link {
    patience: Patience,
    wanted: Vec<Wanted>,
    phase: Phase,
    epoch: u32,
    /// Attempts in a row that did not reach Live.
    failures: u32,
    /// Those of them that failed with the link up.
    deep_failures: u32,
    renew_first: bool,
    said_silent: bool,
    adapter_ready: bool,
    table: Option<Vec<Entry>>,
    to_subscribe: VecDeque<Wanted>,
    to_resubscribe: VecDeque<Characteristic>,
    watch: Watch,
    serial: u64,
    calling: Option<Call>,
    doubtful_answers: u32,
    out: VecDeque<Output>,
}

impl Link {
    pub(crate) fn new(wanted: Vec<Wanted>, patience: Patience) -> Self {
        Self {
            patience,
            wanted,
            phase: Phase::Idle,
            epoch: 0,
            failures: 0,
            deep_failures: 0,
            renew_first: false,
            said_silent: false,
            adapter_ready: true,
            table: None,
            to_subscribe: VecDeque::new(),
            to_resubscribe: VecDeque::new(),
            watch: Watch::new(patience),
            serial: 0,
            calling: None,
            doubtful_answers: 0,
            out: VecDeque::new(),
        }
    }

    pub(crate) const fn epoch(&self) -> u32 {
        self.epoch
    }

    pub(crate) fn is_live(&self) -> bool {
        self.phase == Phase::Live
    }

    pub(crate) fn poll_output(&mut self) -> Option<Output> {
        self.out.pop_front()
    }

    /// When `tick` has to be called next.
    pub(crate) fn deadline(&self) -> Option<Timestamp> {
        match self.phase {
            Phase::Resting { until } => until,
            Phase::Settling { until, .. } | Phase::Pausing { until, .. } => Some(until),
            Phase::Live => self.watch.deadline(),
            _ => None,
        }
    }

    pub(crate) fn attach(&mut self) {
        if self.phase == Phase::Idle {
            if self.adapter_ready {
                self.begin();
            } else {
                self.set(LinkState::Lost, "waiting for the system's Bluetooth");
                self.phase = Phase::Resting { until: None };
            }
        }
    }

    /// Takes the link down for good.
    pub(crate) fn detach(&mut self) {
        match self.phase {
            Phase::Idle => self.out.push_back(Output::Finished),
            Phase::Resting { .. } => self.finish(),
            Phase::Closing { ref mut then } => *then = None,
            _ => {
                self.abandon();
                self.out.push_back(Output::CloseDrain);
                self.phase = Phase::Closing { then: None };
                self.call(What::Disconnect, self.patience.call);
            }
        }
    }

    /// The system's Bluetooth became ready, or is not.
    pub(crate) fn adapter(&mut self, ready: bool, words: &str) {
        if self.adapter_ready == ready {
            return;
        }
        self.adapter_ready = ready;
        match (&self.phase, ready) {
            (Phase::Idle, _) => {}
            (Phase::Resting { .. }, true) => {
                self.failures = 0;
                self.begin();
            }
            (Phase::Closing { then: None }, false) => {
                self.abandon();
                self.finish();
            }
            (_, true) => {}
            (_, false) => {
                self.drop_link(words);
                self.phase = Phase::Resting { until: None };
            }
        }
    }

    /// The system says that the link went down.
    pub(crate) fn disconnected(&mut self, now: Timestamp) {
        if self.is_linked() {
            self.drop_link("the link went down");
            self.rest(now, self.patience.back_off_first);
        }
    }

    /// A write or a read failed in a way that ends the link.
    pub(crate) fn call_failed(&mut self, fault: &HostFault) {
        if self.phase == Phase::Live && fault.ends_link() {
            self.lose_linked(&format!("a request failed: {fault}"));
        }
    }

    /// The newest value of a characteristic came at `at`.
    pub(crate) fn seen(&mut self, characteristic: Characteristic, at: Timestamp) {
        self.watch.seen(characteristic, at);
    }

    pub(crate) fn tick(&mut self, now: Timestamp) {
        match self.phase {
            Phase::Resting { until: Some(until) } if now >= until => self.begin(),
            Phase::Settling { round, until } if now >= until => self.discover(round),
            Phase::Pausing { tries, until } if now >= until => self.subscribe_next(tries, now),
            Phase::Live => self.look_at_ages(now),
            _ => {}
        }
    }

    /// A call is over. Answers to abandoned calls are ignored.
    pub(crate) fn answer(&mut self, serial: u64, result: Result<Reply, HostFault>, now: Timestamp) {
        let Some(call) = self.calling.take_if(|call| call.serial == serial) else {
            return;
        };
        match (self.phase.clone(), result) {
            (Phase::Renewing, Ok(_)) => self.find(false),
            (Phase::Renewing, Err(fault)) => self.fail(&fault, now),
            // Seen or not, the system is asked; it may know the device without hearing it.
            (Phase::Bursting, _) => self.find(true),
            (Phase::Finding { .. }, Ok(_)) => {
                self.phase = Phase::Connecting;
                self.call(What::Connect, self.patience.connect);
            }
            (Phase::Finding { burst_done: false }, Err(HostFault::NotFound))
                if self.may_burst() =>
            {
                self.burst();
            }
            (Phase::Finding { .. }, Err(fault)) => self.fail(&fault, now),
            (Phase::Connecting, Ok(_)) => {
                self.epoch = self.epoch.saturating_add(1);
                self.set(LinkState::Discovering, "linked");
                self.discover(0);
            }
            (Phase::Connecting, Err(fault)) => self.fail(&fault, now),
            (Phase::Discovering { round }, Ok(Reply::Table(table))) => {
                self.judge_table(round, table, now);
            }
            (Phase::Discovering { .. }, Ok(_)) => {}
            (Phase::Discovering { .. }, Err(fault)) => self.fail(&fault, now),
            (Phase::Subscribing { tries }, result) => self.subscribed(tries, result, now),
            (Phase::Live, result) => self.live_answer(call.what, result, now),
            (Phase::Closing { then: None }, _) => self.finish(),
            (Phase::Closing { then: Some(pause) }, _) => self.rest(now, pause),
            _ => {}
        }
    }

    fn abandon(&mut self) {
        if self.calling.take().is_some() {
            self.out.push_back(Output::Abandon);
        }
    }

    fn call(&mut self, what: What, within: Span) {
        self.serial += 1;
        let call = Call {
            serial: self.serial,
            what,
            within,
        };
        self.calling = Some(call);
        self.out.push_back(Output::Call(call));
    }

    fn set(&mut self, state: LinkState, words: &str) {
        self.out.push_back(Output::State(state, words.to_owned()));
    }
}

#[cfg(test)]
mod tests;
