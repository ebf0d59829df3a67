//! One claim of a sheet: power accuracy, or anything else that can be measured.

use super::power::PowerClaim;
use super::statement::MeasurableClaim;

/// One claim of a sheet.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Claim {
    /// Steady power is accurate.
    PowerAccuracy(PowerClaim),
    /// Anything else that can be measured or looked up.
    Measurable(MeasurableClaim),
}

impl Claim {
    /// Short name, unique on a sheet.
    pub fn name(&self) -> &str {
        match self {
            Self::PowerAccuracy(claim) => &claim.name,
            Self::Measurable(claim) => &claim.name,
        }
    }

    /// The maker's words, verbatim; empty if there is no published claim behind it.
    pub fn text(&self) -> &str {
        match self {
            Self::PowerAccuracy(claim) => &claim.text,
            Self::Measurable(claim) => &claim.text,
        }
    }
}
