//! Disturbance: what a change of cadence does to a held target, on the reference.

use super::given::Given;
use crate::outcome::{Estimate, Outcome};

/// Name of the examination.
pub const NAME: &str = "cadence disturbance";

/// Reactions to changes of cadence at a constant target.
#[derive(Clone, Debug, PartialEq)]
pub struct Disturbance {
    /// One entry per change.
    pub changes: Vec<CadenceChange>,
    /// Largest departure from the power before, averaged over the changes, W.
    pub peak_w: Estimate,
    /// Whether a disturbance is claimed: on average beyond what the noise alone shows.
    pub claimed: bool,
}

/// One change of cadence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CadenceChange {
    /// Index of the step after the change.
    pub step: usize,
    /// Target held, W.
    pub target_w: f64,
    /// Cadence before, rpm.
    pub before_rpm: f64,
    /// Cadence after, rpm.
    pub after_rpm: f64,
    /// Largest departure of a 3-s mean from the power before, W, with sign.
    pub peak_w: f64,
    /// The largest such departure in a span of equal length before the change: the noise.
    pub quiet_peak_w: f64,
    /// Time until the power stays within ±5 % of what it settles at, s.
    pub recovery_s: Option<f64>,
    /// Work above (positive) or below the settled power until then, kJ.
    pub work_error_kj: f64,
}

/// Examines what changes of cadence did to held targets.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn disturbance(_given: &Given<'_>) -> Outcome<Disturbance> {
    super::not_tested(NAME, "this examination is not written yet")
}
