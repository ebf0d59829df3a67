//! Coast-down and spin-down: the loss curve of the wheel turning by itself.

use super::given::Given;
use crate::outcome::{Estimate, Outcome};

/// Name of the examination.
pub const NAME: &str = "coast-down";

/// What slows the flywheel when nobody pedals.
#[derive(Clone, Debug, PartialEq)]
pub struct CoastDown {
    /// One entry per coast-down.
    pub runs: Vec<CoastDownRun>,
    /// Deceleration common to all runs: constant, linear and quadratic part in speed
    /// (m/s², 1/s, 1/m); the last two absent where the runs cannot show them.
    pub deceleration: [Option<Estimate>; 3],
    /// Equivalent moving mass used to turn deceleration into force, kg, if stated.
    pub equivalent_mass_kg: Option<f64>,
    /// Power lost at some speeds, `(km/h, W)`, where the mass is stated.
    pub loss: Vec<(f64, Estimate)>,
    /// Scatter of the time between two common speeds over the runs, %.
    pub repeatability_pct: Option<f64>,
}

/// One coast-down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoastDownRun {
    /// Index of the step.
    pub step: usize,
    /// Speed at the beginning, km/h.
    pub from_kmh: f64,
    /// Speed at the end, km/h.
    pub to_kmh: f64,
    /// Time taken, s.
    pub seconds: f64,
    /// Time between the two speeds common to all runs, s.
    pub common_s: Option<f64>,
}

/// Examines the coast-downs.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn coast_down(_given: &Given<'_>) -> Outcome<CoastDown> {
    super::not_tested(NAME, "this examination is not written yet")
}
