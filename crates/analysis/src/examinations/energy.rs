//! Work of the whole session, device over reference, zeros in and out.

use super::given::Given;
use crate::outcome::{Estimate, Outcome};

/// Name of the examination.
pub const NAME: &str = "work of the session";

/// Work over the seconds that both instruments cover.
#[derive(Clone, Debug, PartialEq)]
pub struct Energy {
    /// Seconds covered by both.
    pub seconds: f64,
    /// Work of the reference, kJ.
    pub reference_kj: f64,
    /// Work of the device, kJ.
    pub under_test_kj: f64,
    /// Device over reference, all covered seconds.
    pub ratio: Estimate,
    /// Device over reference, only seconds where both show power.
    pub ratio_without_zeros: Estimate,
    /// Seconds where the device shows nothing and the reference shows work.
    pub zero_under_load_s: f64,
}

/// Compares the work of the session.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn energy(_given: &Given<'_>) -> Outcome<Energy> {
    super::not_tested(NAME, "this examination is not written yet")
}
