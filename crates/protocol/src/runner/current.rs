//! The step that is being ridden, and what is known about this attempt.

use super::input::GateState;
use super::senses::Senses;
use crate::load::Target;
use crate::step::{Ending, Length, PlannedStep};
use units::{Span, Timestamp};

const SECOND_NANOS: i64 = 1_000_000_000;

#[derive(Debug)]
pub(super) struct Current {
    pub(super) index: usize,
    pub(super) attempt: u32,
    /// Whether this attempt is the automatic repeat of a failed gate.
    pub(super) is_repeat_of_failed: bool,
    pub(super) step: PlannedStep,
    began: Timestamp,
    paused_total: Span,
    paused_since: Option<Timestamp>,
    pub(super) extension: Span,
    /// The plan's target at the last whole second of the step.
    pub(super) planned: Target,
    /// Metres ridden when the step began, and at the last whole second of the step.
    metres_began: f64,
    pub(super) metres: f64,

    pub(super) gate: GateState,
    gate_since: Timestamp,
    gate_was_heard: bool,
    steady: Span,
    not_steady: Span,
    pub(super) decided: bool,
    /// Why the judged part of this attempt cannot be used.
    pub(super) spoilt: Option<String>,

    /// Whether the rider has stood still since a prompt asked for it.
    pub(super) stood_still: bool,
    /// Since when what the ending waits for has been so.
    pub(super) so_since: Option<Timestamp>,
    /// How the procedure ended, if it did.
    pub(super) procedure: Option<Result<(), String>>,
    /// Whether somebody acknowledged.
    pub(super) acknowledged: bool,
}

impl Current {
    pub(super) fn new(
        index: usize,
        attempt: u32,
        step: PlannedStep,
        now: Timestamp,
        senses: &Senses,
    ) -> Self {
        let metres_began = senses.metres(now);
        Self {
            index,
            attempt,
            is_repeat_of_failed: false,
            planned: step.target_at(Span::ZERO, 0.0),
            step,
            began: now,
            paused_total: Span::ZERO,
            paused_since: None,
            extension: Span::ZERO,
            metres_began,
            metres: 0.0,
            gate: GateState::Settling,
            gate_since: now,
            gate_was_heard: false,
            steady: Span::ZERO,
            not_steady: Span::ZERO,
            decided: false,
            spoilt: None,
            stood_still: false,
            so_since: None,
            procedure: None,
            acknowledged: false,
        }
    }

    /// Time ridden, pauses not counted.
    pub(super) fn ridden(&self, now: Timestamp) -> Span {
        self.paused_since.unwrap_or(now) - self.began - self.paused_total
    }

    /// The moment at which `ridden` will have been ridden if nothing pauses.
    pub(super) fn moment(&self, ridden: Span) -> Timestamp {
        self.began + self.paused_total + ridden
    }

    pub(super) fn pause(&mut self, now: Timestamp) {
        if self.paused_since.is_none() {
            self.paused_since = Some(now);
        }
    }

    pub(super) fn resume(&mut self, now: Timestamp) {
        if let Some(since) = self.paused_since.take() {
            self.paused_total += now - since;
        }
    }

    /// The planned length with extensions, where time ends the step.
    pub(super) fn fixed_length(&self) -> Option<Span> {
        match (self.step.length, self.step.ending) {
            (Length::Fixed(length), Ending::Time) => Some(length + self.extension),
            (Length::Open { limit, .. }, Ending::Time) => Some(limit + self.extension),
            _ => None,
        }
    }

    /// The longest the step may take, extensions included.
    pub(super) fn limit(&self) -> Span {
        self.step.length.limit() + self.extension
    }

    /// When the step's next whole second begins.
    pub(super) fn next_second(&self, now: Timestamp) -> Timestamp {
        let whole = self.ridden(now).as_nanos().div_euclid(SECOND_NANOS);
        self.moment(Span::from_secs(whole + 1))
    }

    /// At a whole second of the step, takes the planned target of that second.
    pub(super) fn at_second(&mut self, now: Timestamp, senses: &Senses) {
        let ridden = self.ridden(now);
        if ridden.as_nanos().rem_euclid(SECOND_NANOS) == 0 {
            self.metres = senses.metres(now) - self.metres_began;
            self.planned = self.step.target_at(ridden, self.metres);
        }
    }

    /// Takes the bench's word on steadiness; only what follows the settling time counts.
    pub(super) fn judge_gate(&mut self, now: Timestamp, gate: GateState) {
        self.count_gate(now);
        self.gate = gate;
        self.gate_was_heard = true;
    }

    fn count_gate(&mut self, now: Timestamp) {
        let from = self.gate_since.max(self.moment(self.step.settle));
        if now > from {
            match self.gate {
                GateState::Steady => self.steady += now - from,
                GateState::NotSteady { .. } => self.not_steady += now - from,
                GateState::Settling => {}
            }
        }
        self.gate_since = now;
    }

    /// Why the attempt cannot be judged, if it cannot: it was disturbed after settling, or it was
    /// unsteady for longer than steady.
    pub(super) fn failed_gate(&mut self, now: Timestamp) -> Option<String> {
        self.count_gate(now);
        if self.spoilt.is_some() {
            return self.spoilt.clone();
        }
        if !self.gate_was_heard || self.not_steady <= self.steady {
            return None;
        }
        Some(match &self.gate {
            GateState::NotSteady { because } => because.clone(),
            _ => "not steady for most of the time".to_owned(),
        })
    }

    /// Remembers that what is judged was disturbed; what happens while settling does not matter.
    pub(super) fn spoil(&mut self, now: Timestamp, because: &str) {
        if self.spoilt.is_none() && self.ridden(now) > self.step.settle {
            self.spoilt = Some(because.to_owned());
        }
    }
}
