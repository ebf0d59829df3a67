//! Offset and scale of the device, separated by a regression with errors in both variables.

use super::given::Given;
use crate::outcome::{Estimate, Outcome};

/// Name of the examination.
pub const NAME: &str = "dependence on level";

/// Offset and scale against the reference as indicated.
#[derive(Clone, Debug, PartialEq)]
pub struct LevelDependence {
    /// Indicated power of the device where the reference shows zero, W.
    pub offset_w: Estimate,
    /// 95 % interval of the offset.
    pub offset_interval_w: [f64; 2],
    /// Scale error, %: slope of device against reference minus one.
    pub scale_pct: Estimate,
    /// 95 % interval of the scale error.
    pub scale_interval_pct: [f64; 2],
    /// Correlation of the two; close to −1 when low levels were not ridden.
    pub correlation: f64,
    /// Weighted residual sum of squares over its degrees of freedom; near one for a straight line.
    pub reduced_chi_square: f64,
    /// Levels the line goes through.
    pub levels: Vec<LevelPoint>,
}

/// One level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LevelPoint {
    /// Level, W.
    pub level_w: f64,
    /// Mean of the reference, W.
    pub reference_w: f64,
    /// Mean of the device, W.
    pub under_test_w: f64,
    /// Standard uncertainty of the mean difference, W.
    pub u_w: f64,
    /// Windows.
    pub windows: usize,
}

/// Separates offset and scale.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn level_dependence(_given: &Given<'_>) -> Outcome<LevelDependence> {
    super::not_tested(NAME, "this examination is not written yet")
}
