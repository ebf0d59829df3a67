//! Anchors: the same condition early, midway and late, to tell drift from everything else.

use super::given::Given;
use crate::outcome::{Estimate, Outcome};

/// Name of the examination.
pub const NAME: &str = "anchors";

/// Repeated visits of one condition.
#[derive(Clone, Debug, PartialEq)]
pub struct Anchors {
    /// Level of the condition, W.
    pub level_w: f64,
    /// Visits in order of time.
    pub visits: Vec<Visit>,
    /// Difference at the last visit minus at the first, % of reference.
    pub change_pct: Estimate,
    /// 95 % interval of it.
    pub interval_pct: [f64; 2],
    /// Whether a change is claimed: the interval excludes zero.
    pub claimed: bool,
    /// Standard deviation of the visits beyond their own scatter, % of reference.
    pub between_visits_pct: f64,
}

/// One visit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Visit {
    /// Minutes since the session began.
    pub minute: f64,
    /// Difference, % of reference.
    pub error_pct: f64,
    /// Standard uncertainty, %.
    pub u_pct: f64,
}

/// Compares repeated visits of one condition.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn anchors(_given: &Given<'_>) -> Outcome<Anchors> {
    super::not_tested(NAME, "this examination is not written yet")
}
