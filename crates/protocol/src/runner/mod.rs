//! Riding a plan: a state machine that is told what happens and says what to do.
//!
//! There is no clock in here. [`Runner::handle`] first fires every deadline that lies before the
//! new input, each at its own moment and in order, so the same inputs always give the same
//! outputs, however often a driver calls in between. After every call the driver drains
//! [`Runner::poll_output`] and waits for the earlier of its next input and
//! [`Runner::poll_timeout`].
//!
//! What never happens: a target above the rider's ceiling or outside the device's range; a rise
//! steeper than the limit; a target after a release before somebody agreed; anything at all after
//! the end.

mod advance;
mod commands;
mod config;
mod current;
mod ending;
mod governor;
mod guard;
mod input;
mod output;
mod senses;
mod status;
mod steps;

pub use config::{EarlyEnd, GateRepeat, ReadinessRule, RunnerConfig, StallGuard};
pub use input::{
    Command, DecisionState, Fault, GateState, Input, Instrument, Lost, Quantity, Reading,
};
pub use output::{Answer, EndReason, Output, ReleaseReason, StepEnd};
pub use status::{GuardPhase, Phase, PromptView, Status};

use crate::load::Cue;
use crate::plan::Plan;
use current::Current;
use governor::Governor;
use guard::{Guard, Watch};
use senses::Senses;
use std::collections::{BTreeSet, VecDeque};
use units::{Span, Timestamp};

/// Rides one plan once.
#[derive(Debug)]
pub struct Runner {
    plan: Plan,
    config: RunnerConfig,
    now: Timestamp,
    phase: Phase,
    /// When the phase began, for the phases that wait for an answer.
    since: Timestamp,
    outputs: VecDeque<(Timestamp, Output)>,
    senses: Senses,
    governor: Governor,
    guard: Guard,
    watch: Watch,
    current: Option<Current>,
    cue: Option<Cue>,
    prompt: Option<PromptView>,
    invalid: Option<String>,
    lost: BTreeSet<Lost>,
    /// The development measured on the last rung of a flywheel-speed ladder, m.
    last_development_m: Option<f64>,
    /// Whether something hard was ridden since the last cool-down.
    owes_cool_down: bool,
    ended: Option<EndReason>,
}

impl Runner {
    /// A runner for a plan. Settings that would be unsafe are brought to safe ones: a rise above
    /// 100 W/s, say, or a range above the rider's ceiling.
    pub fn new(plan: Plan, config: RunnerConfig) -> Self {
        let config = config.made_safe();
        Self {
            plan,
            now: Timestamp::from_nanos(i64::MIN),
            phase: Phase::NotStarted,
            since: Timestamp::ZERO,
            outputs: VecDeque::new(),
            senses: Senses::default(),
            governor: Governor::new(config.range, config.rise_w_per_s, config.low_load),
            guard: Guard::Watching,
            watch: Watch::default(),
            current: None,
            cue: None,
            prompt: None,
            invalid: None,
            lost: BTreeSet::new(),
            last_development_m: None,
            owes_cool_down: false,
            ended: None,
            config,
        }
    }

    /// Lets time pass up to `now`, then takes one input. A `now` before the last one counts as the
    /// last one.
    pub fn handle(&mut self, now: Timestamp, input: Input) {
        let now = now.max(self.now);
        while let Some(deadline) = self.poll_timeout().filter(|deadline| *deadline <= now) {
            self.now = deadline;
            self.advance();
        }
        self.now = now;
        self.take(input);
        self.advance();
    }

    /// The next thing to do or record, with the moment it belongs to. That moment may lie before
    /// the input that brought it up: deadlines fire at their own time.
    pub fn poll_output(&mut self) -> Option<(Timestamp, Output)> {
        self.outputs.pop_front()
    }

    /// When time alone will change something next.
    pub fn poll_timeout(&self) -> Option<Timestamp> {
        self.next_deadline()
    }

    /// The plan being ridden. An accepted cool-down is added to its end.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// The settings as they are applied.
    pub fn config(&self) -> &RunnerConfig {
        &self.config
    }

    /// Whether the run is over.
    pub fn is_finished(&self) -> bool {
        self.phase == Phase::Finished
    }

    /// What a screen shows, as of the last input.
    pub fn status(&self) -> Status {
        let current = self.current.as_ref();
        let step = current.map(|current| current.index);
        let elapsed = current.map_or(Span::ZERO, |current| current.ridden(self.now));
        let remaining = current.and_then(|current| {
            let length = current.fixed_length()?;
            Some((length - elapsed).max(Span::ZERO))
        });
        let next = match (&self.phase, step) {
            (Phase::Finished, _) => None,
            (Phase::NotStarted | Phase::Readiness, None) => Some(0),
            (_, step) => step
                .map(|index| index + 1)
                .filter(|next| *next < self.plan.steps.len()),
        };
        Status {
            phase: self.phase.clone(),
            step,
            attempt: current.map_or(0, |current| current.attempt),
            elapsed,
            remaining,
            target: self.governor.sent(),
            cue: self.cue.clone(),
            next,
            gate: current.map_or(GateState::Settling, |current| current.gate.clone()),
            prompt: self.prompt.clone(),
            invalid: self.invalid.clone(),
            guard: self.guard.phase(),
            ended: self.ended.clone(),
        }
    }

    fn say(&mut self, output: Output) {
        self.outputs.push_back((self.now, output));
    }

    fn ask(&mut self, answer: Answer, text: String) {
        self.prompt = Some(PromptView {
            answer,
            text: text.clone(),
        });
        self.say(Output::Prompt { answer, text });
    }

    fn clear_prompt(&mut self) {
        if self.prompt.take().is_some() {
            self.say(Output::PromptCleared);
        }
    }

    fn invalid_from(&mut self, because: String) {
        if self.invalid.is_none() {
            self.invalid = Some(because.clone());
            self.say(Output::InvalidFrom { because });
        }
    }

    fn valid_again(&mut self) {
        if let Some(because) = self.invalid.take() {
            if let Some(current) = &mut self.current {
                current.spoil(self.now, &because);
            }
            self.say(Output::ValidAgain);
        }
    }
}
