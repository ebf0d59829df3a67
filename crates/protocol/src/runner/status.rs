//! What a screen shows of a run.

use super::input::GateState;
use super::output::{Answer, EndReason, ReleaseReason};
use crate::load::{Cue, Target};
use units::Span;

/// A view of the runner at the moment of its last input.
#[derive(Clone, Debug, PartialEq)]
pub struct Status {
    /// What is going on.
    pub phase: Phase,
    /// The current step's position in the plan; `None` before the first and after the last.
    pub step: Option<usize>,
    /// Which attempt of the step; 0 without a step.
    pub attempt: u32,
    /// Time ridden in the step, pauses not counted.
    pub elapsed: Span,
    /// Time left in the step; `None` where it ends by something else than time.
    pub remaining: Option<Span>,
    /// What the brake was last asked for; `None` while it is released.
    pub target: Option<Target>,
    /// What the rider was last asked for.
    pub cue: Option<Cue>,
    /// The next step's position in the plan.
    pub next: Option<usize>,
    /// Whether the current window is steady.
    pub gate: GateState,
    /// The prompt that waits for an answer.
    pub prompt: Option<PromptView>,
    /// Why what is measured now may not be judged.
    pub invalid: Option<String>,
    /// Whether the stall guard has stepped in.
    pub guard: GuardPhase,
    /// Why the run ended, once it has.
    pub ended: Option<EndReason>,
}

/// What is going on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Phase {
    /// Not started.
    NotStarted,
    /// Readiness is asked for.
    Readiness,
    /// A step is being ridden.
    Riding,
    /// The brake is released and somebody has to resume.
    Paused(ReleaseReason),
    /// A cool-down is offered.
    CoolDownOffered,
    /// Over.
    Finished,
}

/// Whether the stall guard has stepped in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GuardPhase {
    /// It watches.
    Watching,
    /// The target is eased while the rider recovers.
    Eased,
    /// The target is coming back.
    ComingBack,
}

/// A prompt that waits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PromptView {
    /// What counts as an answer.
    pub answer: Answer,
    /// The words.
    pub text: String,
}
