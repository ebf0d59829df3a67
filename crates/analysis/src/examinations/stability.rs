//! Steadiness of held targets, judged on the reference: scatter and slow oscillation.

use super::given::Given;
use crate::outcome::{Estimate, Outcome};
use units::Timestamp;

/// Name of the examination.
pub const NAME: &str = "holding stability";

/// Steadiness of every hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Stability {
    /// One entry per held step.
    pub holds: Vec<Hold>,
}

/// One hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Hold {
    /// Index of the step.
    pub step: usize,
    /// Beginning of what was judged.
    pub from: Timestamp,
    /// End of what was judged.
    pub to: Timestamp,
    /// Target, W.
    pub target_w: f64,
    /// Mean of the reference, W.
    pub reference_w: f64,
    /// Standard deviation of the one-second means of the reference, W, with its uncertainty.
    pub reference_sd_w: Estimate,
    /// The same of the device's own word, W.
    pub under_test_sd_w: Option<f64>,
    /// A slow oscillation that stands out of the noise, if any.
    pub oscillation: Option<Oscillation>,
}

/// A slow oscillation of the reference power.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Oscillation {
    /// Period, s.
    pub period_s: f64,
    /// Amplitude (half of peak to peak), W.
    pub amplitude_w: f64,
    /// Chance of a peak this high in noise of the same colour, all holds counted.
    pub p: f64,
}

/// Examines how steady the reference power was in every hold.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn stability(_given: &Given<'_>) -> Outcome<Stability> {
    super::not_tested(NAME, "this examination is not written yet")
}
