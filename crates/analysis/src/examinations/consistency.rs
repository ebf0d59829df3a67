//! Consistency: whether instruments agree within their own uncertainties.

use super::given::Given;
use crate::outcome::{Estimate, Outcome};

/// Name of the examination.
pub const NAME: &str = "consistency";

/// Pairwise comparison of all power instruments.
#[derive(Clone, Debug, PartialEq)]
pub struct Consistency {
    /// One entry per pair.
    pub pairs: Vec<ConsistencyPair>,
    /// Whether two references disagree by more than their uncertainties: no verdict until the
    /// reason is found.
    pub references_disagree: bool,
}

/// One pair.
#[derive(Clone, Debug, PartialEq)]
pub struct ConsistencyPair {
    /// Name of the first stream.
    pub a: String,
    /// Name of the second stream.
    pub b: String,
    /// Second minus first over the first, %, both referred to the same side of the drivetrain.
    pub difference_pct: Estimate,
    /// Difference over the expanded uncertainty of the difference; absent where an instrument's
    /// uncertainty is not known. Consistent up to one.
    pub e_n: Option<f64>,
    /// Whether both are references.
    pub both_references: bool,
}

/// Compares all instruments in pairs.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn consistency(_given: &Given<'_>) -> Outcome<Consistency> {
    super::not_tested(NAME, "this examination is not written yet")
}
