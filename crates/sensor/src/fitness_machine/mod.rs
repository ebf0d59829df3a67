//! The Fitness Machine Service as an indoor bike uses it.
//!
//! Source: Bluetooth SIG Fitness Machine Service 1.0 and 1.0.1. Data of other machines (treadmill,
//! rower and so on) are absent.

pub mod advertisement;
mod assembler;
pub mod control;
pub mod feature;
pub mod indoor_bike_data;
pub mod ranges;
pub mod simulation;
pub mod status;
pub mod training_status;
pub mod width;

pub use assembler::RecordAssembler;
pub use width::ResistanceWidth;
