//! Apportioning: own noise and bias of each of three instruments that measured the same rider.

use super::given::Given;
use crate::outcome::{Estimate, Outcome};

/// Name of the examination.
pub const NAME: &str = "apportioning";

/// Own noise of three instruments.
#[derive(Clone, Debug, PartialEq)]
pub struct Apportioning {
    /// One entry per instrument.
    pub sources: Vec<SourceNoise>,
    /// Index into `sources` of the instrument whose bias stands apart from two that agree.
    pub alone_in_bias: Option<usize>,
    /// Index into `sources` of the instrument whose noise is shown to be above both others'.
    pub alone_in_noise: Option<usize>,
    /// Whether some variance came out negative: the errors are not independent.
    pub dependent: bool,
    /// Length of the means used, s.
    pub mean_s: f64,
    /// Means used.
    pub means: usize,
}

/// Own noise of one instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct SourceNoise {
    /// Name of the stream.
    pub source: String,
    /// Own noise of its means, W; zero where the variance came out negative.
    pub noise_w: f64,
    /// 95 % interval of the noise, W.
    pub noise_interval_w: [f64; 2],
    /// Own noise by triple collocation, which allows each instrument its own scale, W.
    pub collocation_w: Option<f64>,
    /// Mean deviation from the middle one of the three, %.
    pub bias_pct: Estimate,
}

/// Apportions noise and bias to three instruments.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn apportioning(_given: &Given<'_>) -> Outcome<Apportioning> {
    super::not_tested(NAME, "this examination is not written yet")
}
