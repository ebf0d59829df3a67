//! One conversation with a control point: the steps of a plan, one procedure at a time.
//!
//! It records what happened and judges nothing. A plan that cannot go on, because a procedure was
//! never answered or the device does not let itself be written to, ends there.

use std::collections::VecDeque;
use units::{AttError, Characteristic, Span, Timestamp};

/// Procedure time-out of the standards.
pub(super) const ANSWER_WITHIN: Span = Span::from_secs(30);
/// Quiet time after an answer, in which a status or a second answer may follow.
const SETTLE: Span = Span::from_millis(300);
/// The same where a status is waited for, or a second procedure may be under way.
const LONG_SETTLE: Span = Span::from_millis(1000);
/// Longest wait for the acknowledgement of the second of two writes.
const SECOND_WITHIN: Span = Span::from_secs(3);
/// An answer this long after the acknowledgement of a second write was not under way before it.
const CLEARLY_LATER: Span = Span::from_millis(50);

/// What a step is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// One write and its answer.
    Ask,
    /// The same, and a status that should report the new target.
    Set,
    /// A second write while the first is pending.
    Busy,
}

/// Whether control is needed for a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Needs {
    /// It is not.
    Nothing,
    /// It is.
    Control,
    /// It must have been given before, and then have ended.
    ControlEnded,
}

/// One step of a plan.
#[derive(Clone, Debug)]
pub(super) struct Step {
    /// Name of the rule that it is about.
    pub(super) id: &'static str,
    /// The rule in words.
    pub(super) title: String,
    /// Where it is written.
    pub(super) clause: &'static str,
    /// What is written.
    pub(super) bytes: Vec<u8>,
    /// Results that keep the rule.
    pub(super) expected: &'static [u8],
    pub(super) kind: Kind,
    pub(super) needs: Needs,
}

/// What became of a step.
#[derive(Clone, Debug)]
pub(super) struct Exchange {
    pub(super) step: Step,
    /// Why it was left out, if it was.
    pub(super) skipped: Option<String>,
    pub(super) written: Timestamp,
    pub(super) acknowledged: Option<(Timestamp, Result<(), AttError>)>,
    pub(super) answers: Vec<(Timestamp, Vec<u8>)>,
    pub(super) statuses: Vec<Vec<u8>>,
    /// The acknowledgement of the second write of [`Kind::Busy`].
    pub(super) second: Option<(Timestamp, Result<(), AttError>)>,
    second_written: Option<Timestamp>,
    timed_out: bool,
}

impl Exchange {
    fn new(step: Step, now: Timestamp) -> Self {
        Self {
            step,
            skipped: None,
            written: now,
            acknowledged: None,
            answers: Vec::new(),
            statuses: Vec::new(),
            second: None,
            second_written: None,
            timed_out: false,
        }
    }

    /// Whether the procedure was never answered.
    pub(super) fn timed_out(&self) -> bool {
        self.timed_out
    }

    /// Whether the second write was certainly made while the first procedure was pending: its
    /// acknowledgement came well before the answer to the first.
    pub(super) fn was_busy(&self) -> bool {
        match (&self.second, self.answers.first()) {
            (Some((acknowledged, _)), Some((answered, _))) => {
                *answered - *acknowledged >= CLEARLY_LATER
            }
            _ => false,
        }
    }

    fn failed(&self) -> Option<&AttError> {
        self.acknowledged
            .as_ref()
            .and_then(|(_, result)| result.as_ref().err())
    }

    fn waits_for_second(&self) -> bool {
        self.second_written.is_some() && self.second.is_none()
    }
}

/// Where the answers of a control point come from and how they begin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Point {
    pub(super) characteristic: Characteristic,
    /// First octet of an answer.
    pub(super) response: u8,
    /// Op codes that give control and that end it, where there is such a thing.
    pub(super) control: Option<(u8, u8)>,
}

/// One conversation.
#[derive(Debug)]
pub(super) struct Dialogue {
    pub(super) point: Point,
    plan: VecDeque<Step>,
    done: Vec<Exchange>,
    current: Option<Exchange>,
    /// The current step is over at this moment, unless something more comes.
    settled_at: Option<Timestamp>,
    has_control: bool,
    control_ended: bool,
    ended: Option<String>,
}

impl Dialogue {
    pub(super) fn new(point: Point, plan: Vec<Step>) -> Self {
        Self {
            point,
            plan: plan.into(),
            done: Vec::new(),
            current: None,
            settled_at: None,
            has_control: false,
            control_ended: false,
            ended: None,
        }
    }

    /// Ends it before its time.
    pub(super) fn end(&mut self, why: &str) {
        if self.ended.is_none() {
            self.ended = Some(why.to_owned());
        }
        self.done.extend(self.current.take());
        let left_out = std::mem::take(&mut self.plan);
        for step in left_out {
            self.skip(step, format!("not tried, because before it: {why}"));
        }
    }

    pub(super) fn is_over(&self) -> bool {
        self.current.is_none() && self.plan.is_empty()
    }

    /// Everything that happened, with what was left out.
    pub(super) fn into_exchanges(mut self) -> (Point, Vec<Exchange>) {
        if !self.is_over() {
            self.end("the audit was ended");
        }
        (self.point, self.done)
    }

    /// Goes on; gives what is to be written now.
    pub(super) fn advance(&mut self, now: Timestamp) -> Option<Vec<u8>> {
        self.handle_time(now);
        if let Some(current) = &mut self.current {
            // The second write of a pair, as soon as the first is acknowledged.
            let first_taken = matches!(current.acknowledged, Some((_, Ok(()))));
            let wants_second = current.step.kind == Kind::Busy && current.second_written.is_none();
            if first_taken && wants_second && current.answers.is_empty() {
                current.second_written = Some(now);
                return Some(current.step.bytes.clone());
            }
            return None;
        }
        while let Some(step) = self.plan.pop_front() {
            if let Some(reason) = self.obstacle(step.needs) {
                self.skip(step, reason.to_owned());
                continue;
            }
            let bytes = step.bytes.clone();
            self.current = Some(Exchange::new(step, now));
            self.settled_at = None;
            return Some(bytes);
        }
        None
    }

    pub(super) fn handle_write_result(&mut self, now: Timestamp, result: &Result<(), AttError>) {
        let Some(current) = &mut self.current else {
            return;
        };
        if current.acknowledged.is_none() {
            current.acknowledged = Some((now, result.clone()));
            if result.is_err() {
                self.settled_at = Some(now + SETTLE);
            }
        } else if current.waits_for_second() {
            current.second = Some((now, result.clone()));
            if !current.answers.is_empty() {
                self.settled_at = Some(now + LONG_SETTLE);
            }
        }
    }

    pub(super) fn handle_indication(&mut self, now: Timestamp, bytes: &[u8]) {
        let Some(current) = &mut self.current else {
            return;
        };
        let op = current.step.bytes.first().copied();
        current.answers.push((now, bytes.to_vec()));
        let answers = bytes.first() == Some(&self.point.response) && bytes.get(1).copied() == op;
        if answers && let (Some((give, end)), Some(op)) = (self.point.control, op) {
            let success = bytes.get(2) == Some(&1);
            self.has_control =
                (self.has_control && !(op == end && success)) || (op == give && success);
            self.control_ended =
                (self.control_ended || (op == end && success)) && !(op == give && success);
        }
        if answers && self.settled_at.is_none() {
            let settle = if current.step.kind == Kind::Ask {
                SETTLE
            } else {
                LONG_SETTLE
            };
            self.settled_at = Some(now + settle);
        }
    }

    pub(super) fn handle_status(&mut self, bytes: &[u8]) {
        if bytes.first() == Some(&0xFF) {
            self.has_control = false;
        }
        let last = self.current.as_mut().or(self.done.last_mut());
        if let Some(exchange) = last {
            exchange.statuses.push(bytes.to_vec());
        }
    }

    fn handle_time(&mut self, now: Timestamp) {
        let Some(current) = &mut self.current else {
            return;
        };
        if self.settled_at.is_some_and(|due| due <= now) {
            let waits = current.waits_for_second()
                && current
                    .second_written
                    .is_some_and(|at| now - at < SECOND_WITHIN);
            if waits {
                return;
            }
            let stops = current.failed().and_then(no_way_on);
            self.done.extend(self.current.take());
            self.settled_at = None;
            if let Some(why) = stops {
                self.end(&why);
            }
        } else if self.settled_at.is_none() && now - current.written >= ANSWER_WITHIN {
            current.timed_out = true;
            self.end("a procedure was not answered within 30 s");
        }
    }

    pub(super) fn poll_timeout(&self) -> Option<Timestamp> {
        let current = self.current.as_ref()?;
        let settled = self.settled_at.map(|due| {
            let second = current
                .second_written
                .filter(|_| current.waits_for_second());
            second.map_or(due, |written| due.max(written + SECOND_WITHIN))
        });
        Some(settled.unwrap_or(current.written + ANSWER_WITHIN))
    }

    fn obstacle(&self, needs: Needs) -> Option<&'static str> {
        match needs {
            Needs::Control if !self.has_control => Some("control was not given"),
            Needs::ControlEnded if !self.control_ended => {
                Some("a reset, which would have ended the control, did not succeed")
            }
            _ => None,
        }
    }

    fn skip(&mut self, step: Step, reason: String) {
        let mut exchange = Exchange::new(step, Timestamp::ZERO);
        exchange.skipped = Some(reason);
        self.done.push(exchange);
    }
}

/// Errors after which nothing else can be asked on this link.
fn no_way_on(error: &AttError) -> Option<String> {
    match error {
        AttError::Code(0x05 | 0x08 | 0x0C | 0x0F | 0xFD | 0x81 | 0x01 | 0x0A) => {
            let advice = crate::control::event::advice(error).unwrap_or_default();
            Some(format!("{error}; {advice}"))
        }
        AttError::Code(_) => None,
        AttError::NotConnected | AttError::Other(_) => Some(error.to_string()),
    }
}
