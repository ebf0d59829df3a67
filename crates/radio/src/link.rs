//! The link machine of one device: Idle → Connecting → Discovering → Subscribing → Live, and from
//! anywhere to Lost, which ends by itself.
//!
//! It has no clock and does no I/O: the driver tells it what happened and when, and carries out
//! the calls it puts out, one at a time. Every link is treated as new: a new object for the
//! device, its services read anew, every subscription made anew (trouble list B16, C1, C3).
//! Nothing is ever written by this machine.

use crate::fault::HostFault;
use crate::news::{Entry, Flags, LinkState, TroubleKind};
use crate::order::Wanted;
use crate::patience::Patience;
use crate::watch::{Advice, Watch};
use std::collections::VecDeque;
use units::{Characteristic, Span, Timestamp};

/// One thing for the driver to do with the system.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum What {
    /// Make a new connection with the system's Bluetooth service.
    Renew,
    /// Look for the device in one burst of scanning.
    Burst,
    /// Take a new object for the device and open its stream of values.
    Find,
    Connect,
    Discover,
    Subscribe(Characteristic),
    /// Unsubscribe and subscribe.
    Resubscribe(Characteristic),
    /// Ask whether the link is up.
    Ask,
    Disconnect,
}

/// A call with its time limit. The driver cuts it off and answers `TimedOut` for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Call {
    pub(crate) serial: u64,
    pub(crate) what: What,
    pub(crate) within: Span,
}

/// What a call brought.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Reply {
    Done,
    Linked(bool),
    Table(Vec<Entry>),
}

/// What the machine wants done or said, in order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Output {
    Call(Call),
    /// Drop the call that is under way, if one is.
    Abandon,
    /// Values of this link are to be forwarded from now on, under this epoch.
    OpenDrain,
    /// Forward what has arrived, then close the stream; pending writes and reads have failed.
    CloseDrain,
    State(LinkState, String),
    Services(Vec<Entry>),
    Trouble(TroubleKind, String, &'static str),
    /// The device is detached and its link is down.
    Finished,
}

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

const DISCOVERY_ROUNDS: u32 = 3;
const SUBSCRIBE_TRIES: u32 = 3;
const SUBSCRIBE_PAUSE: Span = Span::from_millis(300);

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

    // ----- towards a link

    fn begin(&mut self) {
        let words = match self.failures {
            0 => "looking for the device".to_owned(),
            n => format!("attempt {}", n.saturating_add(1)),
        };
        self.set(LinkState::Connecting, &words);
        if std::mem::take(&mut self.renew_first) {
            self.phase = Phase::Renewing;
            self.call(What::Renew, self.patience.call);
        } else if self.failures >= 2 && self.may_burst() {
            self.burst();
        } else {
            self.find(false);
        }
    }

    /// A scan takes air time from the links that are up: twice at first, then with every third
    /// attempt.
    const fn may_burst(&self) -> bool {
        self.failures < 2 || (self.failures - 2).is_multiple_of(3)
    }

    fn burst(&mut self) {
        self.phase = Phase::Bursting;
        self.call(What::Burst, self.patience.burst + self.patience.call);
    }

    fn find(&mut self, burst_done: bool) {
        self.phase = Phase::Finding { burst_done };
        self.call(What::Find, self.patience.call);
    }

    fn discover(&mut self, round: u32) {
        self.phase = Phase::Discovering { round };
        self.call(What::Discover, self.patience.discover);
    }

    /// A table may be incomplete at first (B4), stale (C1, C2), or carry a number twice (A6).
    fn judge_table(&mut self, round: u32, mut table: Vec<Entry>, now: Timestamp) {
        table.sort_by_key(|entry| (entry.service, entry.characteristic));
        let missing: Vec<String> = match &self.table {
            Some(known) => known
                .iter()
                .filter(|entry| self.wants(entry.characteristic) && !table.contains(entry))
                .map(|entry| entry.characteristic.to_string())
                .collect(),
            None => Vec::new(),
        };
        let nothing =
            !self.wanted.is_empty() && !table.iter().any(|entry| self.wants(entry.characteristic));
        if (nothing || !missing.is_empty()) && round < DISCOVERY_ROUNDS {
            let until = now + self.patience.settle;
            self.phase = Phase::Settling {
                round: round + 1,
                until,
            };
            return;
        }
        if nothing {
            let words = "the device offers none of the wanted characteristics".to_owned();
            self.out.push_back(Output::Trouble(
                TroubleKind::Missing,
                words,
                HostFault::Gone.remedy(),
            ));
            self.fail(&HostFault::Gone, now);
            return;
        }
        if self.table.as_ref().is_some_and(|known| *known != table) {
            let words = match missing.as_slice() {
                [] => "the device's services differ from those of its last link".to_owned(),
                list => format!("missing since the last link: {}", list.join(", ")),
            };
            self.out.push_back(Output::Trouble(
                TroubleKind::TableChanged,
                words,
                HostFault::Gone.remedy(),
            ));
        }
        self.warn_of_duplicates(&table);
        self.plan_subscriptions(&table);
        self.out.push_back(Output::Services(table.clone()));
        self.table = Some(table);
        self.watch.clear();
        self.out.push_back(Output::OpenDrain);
        let words = format!("{} to switch on", self.to_subscribe.len());
        self.set(LinkState::Subscribing, &words);
        self.subscribe_next(0, now);
    }

    fn wants(&self, characteristic: Characteristic) -> bool {
        self.wanted
            .iter()
            .any(|wanted| wanted.characteristic == characteristic)
    }

    fn warn_of_duplicates(&mut self, table: &[Entry]) {
        let twice: Vec<Characteristic> = self
            .wanted
            .iter()
            .map(|wanted| wanted.characteristic)
            .filter(|one| table.iter().filter(|e| e.characteristic == *one).count() > 1)
            .collect();
        for characteristic in twice {
            self.out.push_back(Output::Trouble(
                TroubleKind::Duplicate,
                format!("{characteristic} is offered by two services of one device"),
                "only the one of the lower service number is recorded",
            ));
        }
    }

    /// Indications first: a control point that is written before them answers with an error.
    fn plan_subscriptions(&mut self, table: &[Entry]) {
        let flags = |wanted: &Wanted| {
            table
                .iter()
                .find(|entry| entry.characteristic == wanted.characteristic)
                .map(|entry| entry.flags)
                .filter(|flags| flags.speaks())
        };
        let (first, then): (Vec<Wanted>, Vec<Wanted>) = self
            .wanted
            .iter()
            .copied()
            .filter(|wanted| flags(wanted).is_some())
            .partition(|wanted| flags(wanted).is_some_and(|f| f.has(Flags::INDICATE)));
        self.to_subscribe = first.into_iter().chain(then).collect();
    }

    /// One after the other (B9).
    fn subscribe_next(&mut self, tries: u32, now: Timestamp) {
        match self.to_subscribe.front() {
            Some(wanted) => {
                let what = What::Subscribe(wanted.characteristic);
                self.phase = Phase::Subscribing { tries };
                self.call(what, self.patience.call);
            }
            None => {
                self.phase = Phase::Live;
                self.failures = 0;
                self.deep_failures = 0;
                self.doubtful_answers = 0;
                self.set(LinkState::Live, "subscribed");
                self.look_at_ages(now);
            }
        }
    }

    fn subscribed(&mut self, tries: u32, result: Result<Reply, HostFault>, now: Timestamp) {
        let Some(wanted) = self.to_subscribe.front().copied() else {
            return;
        };
        match result {
            Ok(_) => self.watch.subscribed(wanted, now),
            Err(fault) if fault.ends_link() => {
                self.fail(&fault, now);
                return;
            }
            Err(fault) if fault != HostFault::NotPaired && tries + 1 < SUBSCRIBE_TRIES => {
                self.phase = Phase::Pausing {
                    tries: tries + 1,
                    until: now + SUBSCRIBE_PAUSE,
                };
                return;
            }
            Err(fault) => {
                let words = format!("{} cannot be switched on: {fault}", wanted.characteristic);
                let kind = match fault {
                    HostFault::NotPaired => TroubleKind::NotPaired,
                    _ => TroubleKind::Missing,
                };
                self.out
                    .push_back(Output::Trouble(kind, words, fault.remedy()));
            }
        }
        self.to_subscribe.pop_front();
        self.subscribe_next(0, now);
    }

    // ----- live

    fn look_at_ages(&mut self, now: Timestamp) {
        while let Some(advice) = self.watch.advise(now) {
            match advice {
                Advice::Reconnect(characteristic, age) => {
                    let quiet = self.watch.quiet_link();
                    self.renew_first = quiet >= 2;
                    self.said_silent &= quiet >= 2;
                    if quiet >= 2 && !std::mem::replace(&mut self.said_silent, true) {
                        self.out.push_back(Output::Trouble(
                            TroubleKind::Silent,
                            "the device lets us link and then sends nothing".to_owned(),
                            "turn the cranks, check its battery, and end other programs that \
                             may hold it",
                        ));
                    }
                    let words = format!("{characteristic} silent for {:.1} s", age.as_secs_f64());
                    self.lose_linked(&words);
                    return;
                }
                Advice::NeverSpeaks(characteristic) => {
                    self.out.push_back(Output::Trouble(
                        TroubleKind::Silent,
                        format!("{characteristic} is offered and switched on, but sends nothing"),
                        "nothing to do; the device's other values are recorded",
                    ));
                }
                Advice::Resubscribe(characteristic) => {
                    self.to_resubscribe.push_back(characteristic);
                }
                Advice::Ask if self.calling.is_none() => {
                    self.call(What::Ask, self.patience.ask);
                }
                Advice::Ask => {}
            }
        }
        self.resubscribe_next();
    }

    fn resubscribe_next(&mut self) {
        if self.calling.is_none()
            && let Some(characteristic) = self.to_resubscribe.pop_front()
        {
            self.call(What::Resubscribe(characteristic), self.patience.call);
        }
    }

    fn live_answer(&mut self, what: What, result: Result<Reply, HostFault>, now: Timestamp) {
        match (what, result) {
            (What::Ask, Ok(Reply::Linked(false))) => {
                self.drop_link("the system says that the link is down");
                self.rest(now, self.patience.back_off_first);
            }
            (What::Ask, Ok(_)) => self.doubtful_answers = 0,
            (What::Ask, Err(fault)) => {
                self.doubtful_answers += 1;
                if self.doubtful_answers >= 2 {
                    self.lose_linked(&format!("the system does not answer: {fault}"));
                }
            }
            (_, Err(fault)) if fault.ends_link() => {
                self.lose_linked(&format!("subscribing again failed: {fault}"));
            }
            _ => {}
        }
        if self.phase == Phase::Live {
            self.resubscribe_next();
        }
    }

    // ----- away from a link

    /// Whether the system believes, as far as we know, that there is a link.
    pub(crate) const fn is_linked(&self) -> bool {
        matches!(
            self.phase,
            Phase::Discovering { .. }
                | Phase::Settling { .. }
                | Phase::Subscribing { .. }
                | Phase::Pausing { .. }
                | Phase::Live
        )
    }

    /// An attempt failed. The link, or half a link, may be up: it is taken down (B1, B2).
    fn fail(&mut self, fault: &HostFault, now: Timestamp) {
        let half_up = self.is_linked() || self.phase == Phase::Connecting;
        self.failures = self.failures.saturating_add(1);
        if self.is_linked() {
            self.deep_failures += 1;
        }
        // Two failures with the link up, or six without, and the connection with the system's
        // service itself is suspect (B8, F3).
        self.renew_first = self.deep_failures >= 2 || self.failures.is_multiple_of(6);
        if self.deep_failures >= 2 {
            self.deep_failures = 0;
        }
        if self.failures == 3 {
            self.out.push_back(Output::Trouble(
                fault.kind(),
                format!("no link after {} attempts: {fault}", self.failures),
                match fault {
                    HostFault::TimedOut | HostFault::Other(_) | HostFault::NotConnected => {
                        HostFault::NotFound.remedy()
                    }
                    other => other.remedy(),
                },
            ));
        }
        let pause = self.patience.back_off(self.failures);
        let words = format!("{fault}; next attempt in {:.1} s", pause.as_secs_f64());
        self.drop_link(&words);
        if half_up {
            self.phase = Phase::Closing { then: Some(pause) };
            self.call(What::Disconnect, self.patience.call);
        } else {
            self.rest(now, pause);
        }
    }

    /// The link is given up although the system may hold it: it is taken down first.
    fn lose_linked(&mut self, words: &str) {
        self.drop_link(words);
        self.phase = Phase::Closing {
            then: Some(self.patience.back_off_first),
        };
        self.call(What::Disconnect, self.patience.call);
    }

    fn drop_link(&mut self, words: &str) {
        self.abandon();
        self.watch.clear();
        self.to_resubscribe.clear();
        self.out.push_back(Output::CloseDrain);
        self.set(LinkState::Lost, words);
    }

    fn rest(&mut self, now: Timestamp, pause: Span) {
        let until = self.adapter_ready.then(|| now + pause);
        self.phase = Phase::Resting { until };
    }

    fn finish(&mut self) {
        self.phase = Phase::Idle;
        self.set(LinkState::Idle, "detached");
        self.out.push_back(Output::Finished);
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
#[path = "link_tests.rs"]
mod tests;
