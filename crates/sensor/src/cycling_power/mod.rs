//! The Cycling Power Service: measurement, feature, vector, sensor location and control point.
//!
//! Sources for every layout: Bluetooth SIG GATT Specification Supplement, the older XML
//! definitions of the same body, and a silicon vendor's header, which agree.

pub mod control;
pub mod feature;
pub mod location;
pub mod measurement;
pub mod vector;
