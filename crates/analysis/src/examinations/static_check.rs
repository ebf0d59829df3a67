//! Static check of a reference with weights of known mass at a crank of known length.
//!
//! Numbers are entered by hand with their uncertainties; nothing comes from a session.

use crate::outcome::{Estimate, Outcome};

/// Name of the examination.
pub const NAME: &str = "static check";

/// A static check as entered.
#[derive(Clone, Debug, PartialEq)]
pub struct StaticCheck {
    /// Readings, in the order they were taken.
    pub readings: Vec<StaticReading>,
    /// Relative standard uncertainty of the masses.
    pub u_mass_rel: f64,
    /// Standard uncertainty of the arm, m.
    pub u_arm_m: f64,
    /// Largest departure of the arm from level, degrees.
    pub level_deg: f64,
    /// Local acceleration of free fall, m/s².
    pub gravity_m_per_s2: Estimate,
    /// Day of the check, days since 1970-01-01.
    pub day: i64,
    /// Days until the check is due again.
    pub valid_days: i64,
}

/// One reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StaticReading {
    /// Which side.
    pub side: Side,
    /// Mass hung, kg.
    pub mass_kg: f64,
    /// Arm, m.
    pub arm_m: f64,
    /// Torque shown, N·m.
    pub shown_nm: f64,
    /// Whether the mass was reached by adding or by taking off.
    pub direction: Direction,
}

/// Side of the crank.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Side {
    /// Left.
    Left,
    /// Right.
    Right,
}

/// How a load was reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Weights were added.
    Adding,
    /// Weights were taken off.
    TakingOff,
}

/// What a static check shows.
#[derive(Clone, Debug, PartialEq)]
pub struct StaticFindings {
    /// Shown over applied torque, both sides together.
    pub slope: Estimate,
    /// 95 % interval of the slope.
    pub slope_interval: [f64; 2],
    /// Shown at no load, N·m.
    pub intercept_nm: Estimate,
    /// Per side: slope.
    pub sides: Vec<(Side, Estimate)>,
    /// Largest difference between taking off and adding at one load, N·m.
    pub hysteresis_nm: Option<f64>,
    /// Worst residual of the line, N·m.
    pub worst_residual_nm: f64,
    /// Terms of the uncertainty of the slope: name and relative standard uncertainty in %.
    pub terms: Vec<(&'static str, f64)>,
    /// Day on which the check is due again, days since 1970-01-01.
    pub due_day: i64,
}

/// Evaluates a static check.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to hang.
pub fn static_check(_check: &StaticCheck) -> Outcome<StaticFindings> {
    super::not_tested(NAME, "this examination is not written yet")
}
