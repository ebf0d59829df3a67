//! Repeatability and reproducibility across sessions, days, units or benches.

use crate::outcome::Outcome;

/// Name of the examination.
pub const NAME: &str = "repeatability";

/// Variance components of repeated measurements.
#[derive(Clone, Debug, PartialEq)]
pub struct Repeatability {
    /// Mean of all.
    pub mean: f64,
    /// Standard uncertainty of the mean, groups taken as random.
    pub u_mean: f64,
    /// Repeatability standard deviation, within groups.
    pub s_r: f64,
    /// 95 % interval of it.
    pub s_r_interval: [f64; 2],
    /// Standard deviation between groups; zero where it came out negative.
    pub s_l: f64,
    /// Reproducibility standard deviation.
    pub s_reproducibility: f64,
    /// Two results within a group differ by no more than this in 95 of 100 cases.
    pub repeatability_limit: f64,
    /// Two results of different groups differ by no more than this in 95 of 100 cases.
    pub reproducibility_limit: f64,
    /// Ratio of mean squares.
    pub f: f64,
    /// Chance of a ratio this high without differences between groups.
    pub p: f64,
    /// Groups.
    pub groups: usize,
    /// Results.
    pub results: usize,
}

/// Evaluates groups of repeated results (sessions, days, units).
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to repeat.
pub fn repeatability(_groups: &[Vec<f64>], _unit: &str) -> Outcome<Repeatability> {
    super::not_tested(NAME, "this examination is not written yet")
}
