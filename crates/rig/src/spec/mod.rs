//! The parts of a rig file: rider, drivetrain, brake and instruments, each with sensible defaults,
//! so that a file only says what is special. Plain data; [`crate::RigFile::check`] judges it.

mod brake;
mod cadence;
mod identity;
mod instrument;
mod link;
mod meter;
mod rider;
mod signal;
mod strap;
mod trainer;
mod upsets;

pub use brake::BrakeSpec;
pub use cadence::CadenceSpec;
pub use identity::IdentitySpec;
pub use instrument::{InstrumentSpec, KindSpec, PlaceSpec, RoleSpec};
pub use link::LinkSpec;
pub use meter::{MeterFields, MeterSpec, OneSidedSpec};
pub use rider::{DrivetrainSpec, RiderSpec};
pub use signal::{SignalSpec, Smoothing};
pub use strap::StrapSpec;
pub use trainer::{Records, SteeredBy, TargetSpec, TrainerSpec};
pub use upsets::{ChanceUpset, PlannedUpset, UpsetKind, UpsetsSpec};
