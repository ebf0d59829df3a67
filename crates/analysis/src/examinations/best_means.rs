//! Best mean power per duration, both instruments over the same moments.

use super::given::Given;
use crate::outcome::{Estimate, Outcome};
use units::Timestamp;

/// Name of the examination.
pub const NAME: &str = "best mean power";

/// Durations compared, s.
pub const DURATIONS_S: [f64; 9] = [1.0, 3.0, 5.0, 10.0, 30.0, 60.0, 300.0, 600.0, 1200.0];

/// Best mean power per duration.
#[derive(Clone, Debug, PartialEq)]
pub struct BestMeans {
    /// One entry per duration that fits.
    pub durations: Vec<BestMean>,
}

/// Best mean power over one duration.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BestMean {
    /// Duration, s.
    pub seconds: f64,
    /// Beginning of the reference's best moments.
    pub from: Timestamp,
    /// Reference's best, W.
    pub reference_w: f64,
    /// Device over the same moments, W.
    pub under_test_w: f64,
    /// Device over reference at the same moments.
    pub ratio: Estimate,
    /// The device's own best, wherever it was, W.
    pub own_best_w: f64,
}

/// Compares best mean power per duration.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn best_means(_given: &Given<'_>) -> Outcome<BestMeans> {
    super::not_tested(NAME, "this examination is not written yet")
}
