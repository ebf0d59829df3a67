//! Agreement of window means: difference plot, limits, probability of agreement, distribution.

use super::given::Given;
use crate::outcome::{Estimate, Outcome};

/// Name of the examination.
pub const NAME: &str = "agreement";

/// Agreement of window means with the reference.
#[derive(Clone, Debug, PartialEq)]
pub struct Agreement {
    /// Mean difference, % of reference, windows nested in conditions.
    pub bias_pct: Estimate,
    /// 95 % interval of the mean difference.
    pub bias_interval_pct: [f64; 2],
    /// Standard deviation of single windows about the mean difference, %.
    pub sd_pct: f64,
    /// Limits of agreement (95 %), %.
    pub limits_pct: [f64; 2],
    /// 95 % interval of the lower limit.
    pub lower_interval_pct: [f64; 2],
    /// 95 % interval of the upper limit.
    pub upper_interval_pct: [f64; 2],
    /// Standard deviation within conditions, %.
    pub within_pct: f64,
    /// Standard deviation between conditions, %.
    pub between_pct: f64,
    /// Chance that a window agrees within the tolerance, by level; empty without a tolerance.
    pub probability: Vec<ProbabilityPoint>,
    /// Share of windows within the tolerance, if there is one.
    pub share_within: Option<f64>,
    /// Share that a perfect device with the same noise would have within the tolerance.
    pub share_within_perfect: Option<f64>,
    /// Windows.
    pub windows: usize,
    /// Conditions.
    pub conditions: usize,
}

/// Chance of agreement at one level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProbabilityPoint {
    /// Level, W.
    pub level_w: f64,
    /// Chance that a window mean lies within the tolerance.
    pub probability: f64,
    /// 95 % interval of it.
    pub interval: [f64; 2],
}

/// Examines the agreement of window means.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn agreement(_given: &Given<'_>) -> Outcome<Agreement> {
    super::not_tested(NAME, "this examination is not written yet")
}
