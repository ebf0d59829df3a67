//! How an instrument's word differs from the truth, and how it averages.

use serde::{Deserialize, Serialize};

/// How an instrument's word differs from the truth.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct SignalSpec {
    /// Error of the scale, % of the true power.
    pub gain_pct: f64,
    /// Constant error, W, while turning.
    pub offset_w: f64,
    /// How the scale changes with flywheel speed, % per 10 km/h …
    pub speed_pct_per_10_kmh: f64,
    /// … from this speed, km/h.
    pub pivot_kmh: f64,
    /// How the scale changes with cadence, % per 10 rpm from 90 rpm on; trainers only.
    pub cadence_pct_per_10_rpm: f64,
    /// How much more it reads at a power reached from below than at one reached from above, %.
    pub hysteresis_pct: f64,
    /// How the scale changes from cold to warm at steady 200 W, %; in proportion to power.
    pub drift_pct: f64,
    /// Time constant of that change, s.
    pub drift_tau_s: f64,
    /// Noise from report to report, % of the power.
    pub noise_pct: f64,
    /// Noise from report to report, W.
    pub noise_w: f64,
    /// Noise with a memory, % of the power …
    pub wander_pct: f64,
    /// … and its correlation time, s.
    pub wander_memory_s: f64,
    /// Averaging before reporting.
    pub smoothing: Smoothing,
    /// Delay inside the instrument on top of the averaging, s.
    pub delay_s: f64,
    /// Smallest step of the reported power, W.
    pub step_w: f64,
}

impl Default for SignalSpec {
    fn default() -> Self {
        Self {
            gain_pct: 0.0,
            offset_w: 0.0,
            speed_pct_per_10_kmh: 0.0,
            pivot_kmh: 25.0,
            cadence_pct_per_10_rpm: 0.0,
            hysteresis_pct: 0.0,
            drift_pct: 0.0,
            drift_tau_s: 480.0,
            noise_pct: 0.5,
            noise_w: 0.5,
            wander_pct: 0.0,
            wander_memory_s: 3.0,
            smoothing: Smoothing::Mean(1.0),
            delay_s: 0.0,
            step_w: 1.0,
        }
    }
}

/// How an instrument averages.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Smoothing {
    /// The mean of the last so many seconds.
    Mean(f64),
    /// First order with this time constant, s.
    FirstOrder(f64),
}

impl Smoothing {
    /// How far the averaged value trails the truth, s: half a window, or the time constant.
    pub fn group_delay_s(self) -> f64 {
        match self {
            Self::Mean(window_s) => window_s / 2.0,
            Self::FirstOrder(tau_s) => tau_s,
        }
    }

    /// Length of the window, or the time constant, s.
    pub fn length_s(self) -> f64 {
        match self {
            Self::Mean(length_s) | Self::FirstOrder(length_s) => length_s,
        }
    }
}
