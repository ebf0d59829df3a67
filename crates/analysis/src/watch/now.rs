//! The cell being ridden, judged so far, and what it still needs.

use crate::needs::Needs;
use crate::verdict::Verdict;

/// The cell being ridden, judged so far.
#[derive(Clone, Debug, PartialEq)]
pub struct CellNow {
    /// Which cell, in words.
    pub title: String,
    /// Steady seconds so far, complete windows only.
    pub seconds: f64,
    /// Complete windows so far.
    pub windows: usize,
    /// Difference so far, %.
    pub bias_pct: f64,
    /// Expanded uncertainty, %.
    pub expanded_pct: f64,
    /// Half-width of the claimed tolerance, %.
    pub tolerance_pct: f64,
    /// Conformance probability.
    pub p_conform: f64,
    /// The verdict so far.
    pub verdict: Verdict,
    /// What is still needed.
    pub needs: Needs,
}
