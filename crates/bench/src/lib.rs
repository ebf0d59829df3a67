//! The composed machine: sensors, runner, live judgement and safety rules in one place.
//!
//! The bench takes packets, operator commands and link news, each with its moment, and gives back
//! writes, events and a read-only [`Model`]. It is the only place where instruments, script and
//! judgement meet, and it neither knows nor asks whether a radio, the simulated bench or a file is
//! on the other side. A recorded stream pushed through it again raises the same flags and, at its
//! end, gives the same findings.
//!
//! What is absent, on purpose: clocks, threads, files, radios, screens.

mod calibrating;
pub mod command;
mod controlling;
mod evidence;
pub mod happening;
pub mod input;
mod instrument;
mod judge;
mod judging;
mod losing;
mod machine;
pub mod model;
pub mod plan;
pub mod procedures;
mod record;
mod riding;
pub mod rules;
pub mod trace;
pub mod view;

pub use command::Command;
pub use happening::Happening;
pub use input::{Input, Output};
pub use machine::{Awaiting, Bench};
pub use model::Model;
pub use plan::{BenchPlan, Origin, SourcePlan};
pub use rules::RideRules;
pub use trace::Trace;
