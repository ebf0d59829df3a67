//! Inertia: the moving mass that the flywheel stands for.

use super::given::Given;
use crate::outcome::{Estimate, Outcome};

/// Name of the examination.
pub const NAME: &str = "inertia";

/// Equivalent moving mass.
#[derive(Clone, Debug, PartialEq)]
pub struct Inertia {
    /// Mass whose kinetic energy appears at the reference but not in the device's report, kg.
    pub unreported_kg: Estimate,
    /// 95 % interval of it.
    pub interval_kg: [f64; 2],
    /// Whether such a mass is claimed: the interval excludes zero.
    pub claimed: bool,
    /// Mass from the stated moment of inertia and ratio, kg.
    pub stated_kg: Option<f64>,
    /// Seconds of changing speed used.
    pub seconds: f64,
}

/// Examines the inertia.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn inertia(_given: &Given<'_>) -> Outcome<Inertia> {
    super::not_tested(NAME, "this examination is not written yet")
}
