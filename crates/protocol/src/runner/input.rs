//! What the runner is told.

use crate::step::Procedure;
use units::{MetresPerSecond, RevPerMin, Span, Watts};

/// One thing that happened.
#[derive(Clone, Debug, PartialEq)]
pub enum Input {
    /// Begin the run.
    Start,
    /// Nothing; time has passed.
    Tick,
    /// An instrument reported.
    Reading(Reading),
    /// The bench judged whether the current window is steady.
    Gate(GateState),
    /// The bench judged whether the current step's question is decided.
    Decision(DecisionState),
    /// The operator, who may be the rider, asked for something.
    Command(Command),
    /// Something broke.
    Fault(Fault),
    /// Something that was lost is back. Nothing resumes by itself.
    Back(Lost),
    /// An instrument's own procedure ended.
    ProcedureEnded {
        /// Which.
        procedure: Procedure,
        /// `Err` with the instrument's reason if it failed.
        outcome: Result<(), String>,
    },
}

/// One value of one instrument.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Whose.
    pub instrument: Instrument,
    /// Of what, and how much.
    pub quantity: Quantity,
}

/// Whose reading it is, as far as the runner cares.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Instrument {
    /// The device under test.
    UnderTest,
    /// The primary reference.
    Reference,
}

/// A reading's value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Quantity {
    /// Power.
    Power(Watts),
    /// Cadence.
    Cadence(RevPerMin),
    /// Flywheel or virtual speed.
    Speed(MetresPerSecond),
}

/// Whether the current window is steady, as the bench judges it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum GateState {
    /// Too early to say.
    Settling,
    /// Steady.
    Steady,
    /// Not steady.
    NotSteady {
        /// Why.
        because: String,
    },
}

/// Whether the current step's question is decided, as the bench's sequential rule says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DecisionState {
    /// Not yet.
    Open,
    /// Decided; more riding would not change it.
    Decided,
}

/// What an operator can ask for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Command {
    /// Release the brake and wait.
    Pause,
    /// Go on, from low load.
    Resume,
    /// End this step and go to the next.
    Skip,
    /// Ride this step again from its beginning.
    Repeat,
    /// Ride this step longer.
    Extend(Span),
    /// Release the brake at once and end the run.
    Stop,
    /// Put a mark into the record.
    Mark(String),
    /// Yes, to the prompt that is shown, except to the readiness questions.
    Acknowledge,
    /// Yes, to the readiness questions and cautions.
    AcceptReadiness,
}

/// What can be lost and come back.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Lost {
    /// The primary reference sends nothing.
    Reference,
    /// The device no longer lets us control it.
    Control,
    /// The link to the device under test.
    Link,
}

/// What can break.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fault {
    /// Something was lost that may come back.
    Lost(Lost),
    /// Nothing can be recorded any more: disk full, file gone. The run ends.
    RecordingFailed(String),
    /// The device refused a target.
    Refused(String),
    /// The program itself did not get to run for longer than a second or two, so that targets
    /// would arrive bunched. Whoever owns the clock says so before it delivers late deadlines.
    BenchStalled,
}
