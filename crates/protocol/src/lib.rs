//! The script of efforts a tester rides, and the runner that turns time, readings and replies into
//! targets, prompts and marks.
//!
//! A [`Script`] is read from RON and is either runnable or refused with every mistake's place and
//! remedy; it unfolds into a [`Plan`] of plain steps. A [`Runner`] rides a plan: it is a state
//! machine without clock, channel or file. What is absent: bytes, devices, and any judgement of
//! what was measured; the runner is told "steady" and "decided", it does not find out.

mod feeds;
mod load;
mod plan;
mod range;
mod ready;
mod runner;
pub mod safety;
mod script;
mod step;

pub use feeds::Feeds;
pub use load::{Brake, Cue, GearCue, Pedalling, SlopeLoad, Target};
pub use plan::{CurvePoint, Plan};
pub use range::{Beyond, DeviceRange, Interval};
pub use ready::{ReadyScript, UnknownScript, ready_script, ready_scripts};
pub use runner::{
    Answer, Command, DecisionState, EarlyEnd, EndReason, Fault, GateRepeat, GateState, GuardPhase,
    Input, Instrument, Lost, Output, Phase, PromptView, Quantity, ReadinessRule, Reading,
    ReleaseReason, Runner, RunnerConfig, StallGuard, Status, StepEnd,
};
pub use script::{Place, Problem, Script, ScriptErrors};
pub use step::{
    Ending, Length, Load, PlannedStep, Procedure, ProgramAxis, ProgramShape, SlopePoint, StepKind,
    ZeroOf,
};
