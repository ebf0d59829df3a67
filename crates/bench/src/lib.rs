//! The composed machine: sensors, runner, live judgement and safety rules in one place.
//!
//! The bench takes packets, operator commands and link news, each with its moment, and gives back
//! writes, events and a read-only [`Model`]. It is the only place where instruments, script and
//! judgement meet, and it neither knows nor asks whether a radio, the simulated bench or a file is
//! on the other side. A recorded stream pushed through it again raises the same flags and, at its
//! end, gives the same findings.
//!
//! What is absent, on purpose: clocks, threads, files, radios, screens.

pub mod command;
pub mod happening;
pub mod model;
pub mod trace;

pub use command::Command;
pub use happening::Happening;
pub use model::Model;
pub use trace::Trace;
