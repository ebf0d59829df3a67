//! Dependence of the difference on cadence or on flywheel speed, each separated from the other.

use super::given::Given;
use crate::outcome::{Estimate, Outcome};

/// What the difference may depend on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Driver {
    /// Cadence at constant gear or with the flywheel speed held apart; unit of the slope 10 rpm.
    Cadence,
    /// Flywheel speed at constant cadence; unit of the slope 10 km/h.
    FlywheelSpeed,
}

/// Dependence of the difference on one driver.
#[derive(Clone, Debug, PartialEq)]
pub struct Dependence {
    /// What it depends on.
    pub driver: Driver,
    /// Change of the difference, % of reference per 10 km/h or per 10 rpm.
    pub slope_pct_per_10: Estimate,
    /// 95 % interval of the slope.
    pub interval_pct_per_10: [f64; 2],
    /// Whether a dependence is claimed: the interval excludes zero.
    pub claimed: bool,
    /// Smallest and largest value of the driver that was ridden.
    pub range: [f64; 2],
    /// What else was held apart in the same fit, in words.
    pub held_apart: Vec<&'static str>,
    /// The windows, one point each.
    pub points: Vec<DependencePoint>,
}

/// One window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DependencePoint {
    /// Value of the driver, rpm or km/h.
    pub x: f64,
    /// Difference, % of reference.
    pub error_pct: f64,
    /// Its standard uncertainty, %.
    pub u_pct: f64,
    /// Level, W.
    pub level_w: f64,
}

/// Examines the dependence on one driver.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn dependence(_given: &Given<'_>, _driver: Driver) -> Outcome<Dependence> {
    super::not_tested("dependence", "this examination is not written yet")
}
