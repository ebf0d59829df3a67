//! The rider, and what is lost on the way from the cranks to the hub.

use serde::{Deserialize, Serialize};

/// The person on the bicycle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct RiderSpec {
    /// Cadence when nobody asked for one, rpm.
    pub preferred_rpm: f64,
    /// Standard deviation of the cadence around what was asked for, fresh, rpm.
    pub cadence_sd_rpm: f64,
    /// Correlation time of that variation, s.
    pub cadence_memory_s: f64,
    /// Standard deviation of the torque around what the cadence needs, %.
    pub torque_sd_pct: f64,
    /// Torque the rider can keep up, N·m.
    pub strength_nm: f64,
    /// Torque for a moment at standstill, N·m; falls linearly with cadence.
    pub burst_nm: f64,
    /// Cadence at which no torque is left in a burst, rpm.
    pub burst_end_rpm: f64,
    /// Work after which the cadence varies twice as much as fresh, kJ.
    pub tires_after_kj: f64,
    /// How often per hour the rider stands up unasked, fresh.
    pub stands_per_hour: f64,
    /// Shortest and longest time from a prompt to the deed, s.
    pub reaction_s: (f64, f64),
}

impl Default for RiderSpec {
    fn default() -> Self {
        Self {
            preferred_rpm: 88.0,
            cadence_sd_rpm: 0.8,
            cadence_memory_s: 6.0,
            torque_sd_pct: 2.0,
            strength_nm: 75.0,
            burst_nm: 190.0,
            burst_end_rpm: 230.0,
            tires_after_kj: 2500.0,
            stands_per_hour: 4.0,
            reaction_s: (0.5, 1.5),
        }
    }
}

/// What is lost between crank and hub: a constant and a share.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct DrivetrainSpec {
    /// Constant part, W.
    pub constant_w: f64,
    /// Share of the crank power, %.
    pub fraction_pct: f64,
}

impl Default for DrivetrainSpec {
    fn default() -> Self {
        Self {
            constant_w: 0.6,
            fraction_pct: 1.7,
        }
    }
}
