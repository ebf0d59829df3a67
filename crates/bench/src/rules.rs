//! What the runner may do to the rider, as it is kept in the session file.
//!
//! A replay must ride by the same rules as the ride did, so they are the first event of every
//! session.

use protocol::{DeviceRange, EarlyEnd, GateRepeat, Interval, RunnerConfig};
use serde::{Deserialize, Serialize};
use units::Watts;

/// The rules of one ride.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RideRules {
    /// No target power above this, W.
    pub rider_ceiling_w: f64,
    /// Lowest and highest target power the device accepts, W, if it said so.
    pub device_power_w: Option<[f64; 2]>,
    /// Lowest and highest resistance level it accepts, if it said so.
    pub device_resistance: Option<[f64; 2]>,
    /// Lowest and highest grade it accepts, %, if it said so.
    pub device_grade_pct: Option<[f64; 2]>,
    /// Whether a hold may end once its question is decided.
    pub ends_when_decided: bool,
    /// Whether a failed gate is ridden again once by itself.
    pub repeats_failed_gate: bool,
    /// The power from which an effort is hard, W, so that a cool-down is offered after it. Sessions
    /// of earlier versions do not say; there it is a share of the ceiling.
    #[serde(default)]
    pub hard_w: Option<f64>,
    /// Whether the steps were brought into the device's range before the ride; if not, the operator
    /// is asked. Earlier versions did so without asking.
    #[serde(default = "without_asking")]
    pub caps_steps: bool,
}

const fn without_asking() -> bool {
    true
}

impl RideRules {
    /// The usual rules under a rider's ceiling, for a device that has not said anything yet.
    pub fn under(rider_ceiling_w: f64) -> Self {
        Self {
            rider_ceiling_w,
            device_power_w: None,
            device_resistance: None,
            device_grade_pct: None,
            ends_when_decided: false,
            repeats_failed_gate: true,
            hard_w: None,
            caps_steps: true,
        }
    }

    /// The rules as the runner takes them.
    pub fn runner_config(&self) -> RunnerConfig {
        let interval = |limits: Option<[f64; 2]>| {
            limits.and_then(|[lowest, highest]| Interval::new(lowest, highest))
        };
        let wide = DeviceRange::WIDE;
        RunnerConfig {
            rider_ceiling: Watts(self.rider_ceiling_w),
            range: DeviceRange {
                power_w: interval(self.device_power_w).or(wide.power_w),
                resistance: interval(self.device_resistance).or(wide.resistance),
                grade_pct: interval(self.device_grade_pct).or(wide.grade_pct),
            },
            early_end: if self.ends_when_decided {
                EarlyEnd::WhenDecided
            } else {
                EarlyEnd::Off
            },
            repeat_failed_gate: if self.repeats_failed_gate {
                GateRepeat::Once
            } else {
                GateRepeat::Never
            },
            hard_from: self.hard_w.map(Watts),
            ..RunnerConfig::default()
        }
    }
}
