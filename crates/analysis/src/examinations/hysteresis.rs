//! Hysteresis: whether the difference at a level depends on the side it is reached from.

use super::given::Given;
use crate::outcome::{Estimate, Outcome};

/// Name of the examination.
pub const NAME: &str = "hysteresis";

/// Paired comparison of levels reached from below and from above.
#[derive(Clone, Debug, PartialEq)]
pub struct Hysteresis {
    /// Difference reached from below minus difference reached from above, % of reference.
    pub up_minus_down_pct: Estimate,
    /// 95 % interval of it.
    pub interval_pct: [f64; 2],
    /// Whether hysteresis is claimed: the interval excludes zero.
    pub claimed: bool,
    /// Whether a steady drift in time was taken out in the same fit.
    pub drift_taken_out: bool,
    /// The pairs.
    pub pairs: Vec<HysteresisPair>,
}

/// One level reached from both sides.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HysteresisPair {
    /// Level, W.
    pub level_w: f64,
    /// Difference when reached from below, %.
    pub up_pct: f64,
    /// Difference when reached from above, %.
    pub down_pct: f64,
    /// Minutes from the visit from below to the visit from above.
    pub minutes_between: f64,
}

/// Compares levels reached from both sides.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn hysteresis(_given: &Given<'_>) -> Outcome<Hysteresis> {
    super::not_tested(NAME, "this examination is not written yet")
}
