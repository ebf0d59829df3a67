//! A simulated bench that behaves and speaks bytes.
//!
//! A rider on a bicycle turns a flywheel against a brake; a trainer and power meters watch, each
//! with its own faults, and send exactly the bytes that real devices send. What the program does
//! with a real bench it does with this one, and here the truth is known.
//!
//! Sans-IO and deterministic: the same plan, seed and calls give the same bytes. The caller owns
//! time: [`Rig::advance`] to [`Rig::poll_timeout`], take every [`Rig::poll_packet`], write with
//! [`Rig::handle_write`], tell the rider with [`Rig::instruct`], again.
//!
//! What is absent, on purpose: clocks, files, threads; any judgement of the data.

mod body;
mod brake;
mod builtin;
mod cadence;
mod control;
mod file;
mod identity;
mod instrument;
mod link;
mod load;
mod meter;
mod noise;
pub mod ride;
mod rider;
mod rig;
mod signal;
pub mod spec;
mod step;
mod strap;
mod trainer;
pub mod truth;
mod upsets;
mod wire;

pub use builtin::{built_in, built_in_names, built_in_text};
pub use file::{RigError, RigFile, RigPlan};
pub use instrument::Indications;
pub use link::{LinkChange, LinkState};
pub use load::{Instruction, Load, Slope};
pub use ride::{RecordedRide, RideError};
pub use rig::{Rig, RigSource, STEP};
pub use truth::{Fault, Truth};
