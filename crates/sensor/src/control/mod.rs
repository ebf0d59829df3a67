//! Conversations with control points, from the client's side, without I/O.
//!
//! A control point takes one procedure at a time: a write, its acknowledgement, and later an
//! indication with the result. Each machine in here is told what arrives and when, and asked what
//! to write and when to wake it.

pub mod controller;
pub mod cycling_power;
pub mod demand;
pub mod event;
pub mod spin_down;

pub use controller::{Controller, Link};
pub use cycling_power::{PowerMeterEvent, PowerMeterProcedure, PowerMeterTransaction};
pub use demand::{ControlMode, Demand};
pub use event::{ControlEvent, ControlOutput, ControlState};
pub use spin_down::{SpinDown, SpinDownEvent};
