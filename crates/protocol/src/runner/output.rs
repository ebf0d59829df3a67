//! What the runner asks for and what it records.

use super::input::Lost;
use crate::load::{Cue, Target};
use crate::step::Procedure;
use std::fmt;

/// One thing to do or to record, in order.
#[derive(Clone, Debug, PartialEq)]
pub enum Output {
    /// Ask the brake for this.
    SetTarget(Target),
    /// Take all load off at once. No target follows before somebody agrees.
    Release {
        /// Why.
        reason: ReleaseReason,
    },
    /// Tell the rider what to do. A simulated rider obeys the same cue.
    Cue(Cue),
    /// A step begins.
    StepBegan {
        /// Position in the plan.
        index: usize,
        /// 1 for the first attempt.
        attempt: u32,
    },
    /// The step that began last ends.
    StepEnded {
        /// Position in the plan.
        index: usize,
        /// Which attempt.
        attempt: u32,
        /// Why.
        why: StepEnd,
    },
    /// Show these words and wait for this answer. A rehearsal answers it with
    /// [`super::Command::Acknowledge`], or with [`super::Command::AcceptReadiness`] or
    /// [`super::Command::Resume`] where the answer says so.
    Prompt {
        /// What counts as an answer.
        answer: Answer,
        /// The words.
        text: String,
    },
    /// The prompt is settled.
    PromptCleared,
    /// Somebody agreed to what was asked; for the record.
    Consent {
        /// What was asked.
        to: Answer,
    },
    /// From now on what is measured may not be judged.
    InvalidFrom {
        /// Why.
        because: String,
    },
    /// What is measured may be judged again.
    ValidAgain,
    /// The operator's mark.
    Marker {
        /// The operator's words, possibly none.
        text: String,
    },
    /// Start this procedure of the instruments.
    StartProcedure(Procedure),
    /// The run is over; nothing follows.
    Finished {
        /// Why.
        why: EndReason,
    },
}

/// What answers a prompt.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// Accepting the readiness questions and cautions.
    Readiness,
    /// An acknowledgement.
    Acknowledge,
    /// Stopping and pedalling again, or an acknowledgement.
    Pedal,
    /// The measured change of gear, or an acknowledgement.
    Gear,
    /// Resuming.
    Resume,
    /// An acknowledgement starts the cool-down; skipping declines it.
    CoolDown,
}

/// Why the load was taken off.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ReleaseReason {
    /// The operator paused.
    Paused,
    /// The operator stopped.
    Stopped,
    /// The rider stopped pedalling under load, or could not get going again.
    RiderStopped,
    /// The legs turn but no work arrives: a dropped chain, say.
    NoWork,
    /// Power did not come down during the rest.
    NotRested,
    /// Something was lost.
    Lost(Lost),
    /// Nothing can be recorded any more.
    RecordingFailed,
    /// The device refused a target.
    Refused(String),
    /// The program did not get to run.
    BenchStalled,
    /// Nobody answered.
    NobodyAnswered,
    /// The run is complete.
    Complete,
}

/// Why a step ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum StepEnd {
    /// It was ridden as planned.
    Complete,
    /// Its question was decided before its time.
    Decided,
    /// The operator went on.
    Skipped,
    /// The operator wants it ridden again.
    Repeated,
    /// The window cannot be judged.
    GateFailed {
        /// Why.
        because: String,
    },
    /// The most time it may take is over.
    LimitReached,
    /// What had to happen did not: the gear or speed was not seen.
    NotReached,
    /// Nobody could check: the instrument for it reports nothing.
    NotChecked,
    /// An earlier step it depends on did not reach its aim.
    NotPossible,
    /// The device does not offer this mode.
    NotOffered,
    /// The instrument's procedure failed.
    ProcedureFailed {
        /// The instrument's reason.
        because: String,
    },
    /// The run ended during it.
    RunEnded,
}

/// Why the run ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum EndReason {
    /// All steps were gone through.
    Complete,
    /// The operator stopped.
    Stopped,
    /// Nothing could be recorded any more.
    RecordingFailed,
    /// Nobody answered a question.
    NobodyAnswered,
}

impl fmt::Display for ReleaseReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Paused => f.write_str("paused by the operator"),
            Self::Stopped => f.write_str("stopped by the operator"),
            Self::RiderStopped => f.write_str("the rider stopped pedalling"),
            Self::NoWork => f.write_str("no work arrives, look at the chain"),
            Self::NotRested => f.write_str("power did not come down during the rest"),
            Self::Lost(lost) => lost.fmt(f),
            Self::RecordingFailed => f.write_str("nothing can be recorded any more"),
            Self::Refused(why) => write!(f, "the device refused a target: {why}"),
            Self::BenchStalled => f.write_str("the program was held up"),
            Self::NobodyAnswered => f.write_str("nobody answered"),
            Self::Complete => f.write_str("the run is complete"),
        }
    }
}

impl fmt::Display for Lost {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Reference => "the reference is lost",
            Self::Control => "control of the device is lost",
            Self::Link => "the link to the device is lost",
        })
    }
}

impl fmt::Display for StepEnd {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Complete => f.write_str("complete"),
            Self::Decided => f.write_str("decided before its time"),
            Self::Skipped => f.write_str("skipped"),
            Self::Repeated => f.write_str("to be ridden again"),
            Self::GateFailed { because } => write!(f, "not to be judged: {because}"),
            Self::LimitReached => f.write_str("time limit reached"),
            Self::NotReached => f.write_str("not reached"),
            Self::NotChecked => f.write_str("could not be checked"),
            Self::NotPossible => f.write_str("not possible after the step before"),
            Self::NotOffered => f.write_str("not offered by the device"),
            Self::ProcedureFailed { because } => write!(f, "procedure failed: {because}"),
            Self::RunEnded => f.write_str("the run ended"),
        }
    }
}

impl fmt::Display for EndReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Complete => "complete",
            Self::Stopped => "stopped by the operator",
            Self::RecordingFailed => "nothing could be recorded any more",
            Self::NobodyAnswered => "nobody answered",
        })
    }
}
