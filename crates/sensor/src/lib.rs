//! sensor
