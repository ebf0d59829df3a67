//! Warm-up drift: how the difference between device and reference changes while both get warm.

use super::given::Given;
use crate::outcome::{Estimate, Outcome};

/// Name of the examination.
pub const NAME: &str = "warm-up drift";

/// How the difference changed over a long steady ride.
#[derive(Clone, Debug, PartialEq)]
pub struct WarmUp {
    /// The curve that describes the change best, by the corrected Akaike criterion.
    pub shape: Shape,
    /// Change of the difference from the first to the last minute observed, % of reference. The
    /// uncertainty holds scatter, autocorrelation and the zero change of the instruments.
    pub change_pct: Estimate,
    /// 95 % interval of the change.
    pub interval_pct: [f64; 2],
    /// Whether a drift is claimed: a drifting curve is preferred and the interval excludes zero.
    pub claimed: bool,
    /// Minutes observed.
    pub minutes: f64,
    /// Time constant of the saturating curve, s, where that curve was chosen.
    pub tau_s: Option<Estimate>,
    /// Slope of the straight line, % per 10 minutes.
    pub slope_pct_per_10_min: Estimate,
    /// Standard uncertainty from the zero changes of the instruments, %.
    pub u_zero_pct: f64,
    /// Lag-one autocorrelation of the residuals that the intervals allow for.
    pub autocorrelation: f64,
    /// Mean difference in parts of the ride.
    pub checkpoints: Vec<Checkpoint>,
    /// Criterion of every curve tried; the smallest is the best.
    pub criteria: Vec<(Shape, f64)>,
}

/// Mean difference in one part of the ride.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Checkpoint {
    /// Beginning, minutes from the start of the observation.
    pub from_min: f64,
    /// End, minutes.
    pub to_min: f64,
    /// Mean difference, % of reference.
    pub error_pct: f64,
    /// Standard uncertainty of the mean, %.
    pub u_pct: f64,
}

/// Curves of a drift.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// No change.
    Constant,
    /// A straight line.
    Linear,
    /// Rises or falls towards a final value: 1 − exp(−t/τ).
    Saturating,
}

/// Examines the drift of the difference over the longest steady ride.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn warm_up(_given: &Given<'_>) -> Outcome<WarmUp> {
    super::not_tested(NAME, "this examination is not written yet")
}
