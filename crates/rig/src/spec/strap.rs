//! A heart-rate strap.

use serde::{Deserialize, Serialize};

/// What is special to a heart-rate strap, and the heart under it. The heart follows the power at
/// the crank to first order; that is enough to have beats to record, and no physiology.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct StrapSpec {
    /// Time between measurements, ms.
    pub report_ms: u32,
    /// Heart rate at rest, 1/min.
    pub rest_bpm: f64,
    /// Highest heart rate, 1/min.
    pub most_bpm: f64,
    /// Power at which the heart settles halfway between the two, W.
    pub half_at_w: f64,
    /// Time constant of the heart, s.
    pub tau_s: f64,
}

impl Default for StrapSpec {
    fn default() -> Self {
        Self {
            report_ms: 1000,
            rest_bpm: 62.0,
            most_bpm: 182.0,
            half_at_w: 180.0,
            tau_s: 35.0,
        }
    }
}
