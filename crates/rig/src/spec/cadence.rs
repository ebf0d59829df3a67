//! A sensor of the speed and cadence service.

use serde::{Deserialize, Serialize};

/// What is special to a sensor of the speed and cadence service.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct CadenceSpec {
    /// Time between measurements, ms.
    pub report_ms: u32,
    /// Circumference of the wheel it counts as well, mm; none if it counts the crank only.
    pub wheel_mm: Option<f64>,
}

impl Default for CadenceSpec {
    fn default() -> Self {
        Self {
            report_ms: 1000,
            wheel_mm: None,
        }
    }
}
