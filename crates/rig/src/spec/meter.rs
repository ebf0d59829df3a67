//! A power meter: what it sends, and which leg it knows.

use serde::{Deserialize, Serialize};

/// What is special to a power meter.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct MeterSpec {
    /// Sensor location, assigned number (5 left crank, 7 left pedal, 15 spider …).
    pub location: u8,
    /// Time between measurements, ms.
    pub report_ms: u32,
    /// Fields besides power and crank revolutions.
    pub fields: MeterFields,
    /// If it measures the left leg only and doubles it.
    pub one_sided: Option<OneSidedSpec>,
    /// Length of the crank arm it is set to, mm.
    pub crank_mm: f64,
    /// Error of its zero as torque at the crank, N·m; an offset compensation removes it.
    pub zero_nm: f64,
    /// How its zero wanders away, N·m per hour; an offset compensation removes what has come.
    pub zero_nm_per_hour: f64,
    /// If it sets its zero by itself while coasting: after how many seconds, and the standard
    /// deviation of the new zero, N·m.
    pub auto_zero: Option<(f64, f64)>,
}

impl Default for MeterSpec {
    fn default() -> Self {
        Self {
            location: 5,
            report_ms: 1000,
            fields: MeterFields::Crank,
            one_sided: None,
            crank_mm: 172.5,
            zero_nm: 0.0,
            zero_nm_per_hour: 0.0,
            auto_zero: None,
        }
    }
}

/// Which optional fields a meter sends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MeterFields {
    /// Crank revolutions.
    Crank,
    /// Crank revolutions and accumulated torque.
    CrankAndTorque,
    /// Crank revolutions and the balance of the legs.
    CrankAndBalance,
}

/// A meter that knows one leg only.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OneSidedSpec {
    /// Share of the left leg at 200 W, %.
    pub left_pct: f64,
    /// How the share changes with power, percentage points per 100 W.
    pub per_100_w: f64,
    /// Standard deviation of the slow wandering of the share, percentage points.
    pub wander_pct: f64,
}
