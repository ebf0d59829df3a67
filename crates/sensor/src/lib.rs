//! Bytes to typed records of the standard cycling and fitness services, in both directions.
//!
//! Nothing in here does input or output, reads a clock or keeps a thread: bytes are arguments and
//! results. Every record has `decode`, which gives the value and a list of what was odd about it,
//! and `encode`, because the simulated instruments speak the same bytes.

mod bits;

pub mod anomaly;
pub mod assigned;
pub mod audit;
pub mod battery;
pub mod control;
pub mod counter;
pub mod cycling_power;
pub mod device_information;
pub mod fitness_machine;
pub mod heart_rate;
pub mod peripheral;
pub mod speed_cadence;
pub mod stream;
pub mod wire;

pub use anomaly::{Anomaly, DecodeError, Decoded};
