//! Published claims as measurable statements.
//!
//! A claim such as "±2 %" is incomplete: where it holds, over which range, after what preparation
//! and what it covers must be said, and what the maker left silent is the tester's interpretation
//! and is printed as such. A claim sheet is a RON file that is hashed before the first sample.
//!
//! [`power`] holds the claim of power accuracy, [`statement`] everything else that can be claimed
//! and measured, [`measurement`] what is measured by hand, [`reference_check`] the static check of a reference,
//! [`sheet`] the file and its errors. The
//! verdicts are given when a session is assessed.

pub(crate) mod judge;
pub mod measurement;
mod nearest;
pub mod power;
pub mod reference_check;
pub mod sheet;
pub mod statement;

pub use measurement::{Check, Entered, Measurement};
pub use nearest::remedy;
pub(crate) use power::PowerClaimFile;
pub use power::{ClaimLocation, Covers, PowerClaim};
pub use reference_check::{Checked, ReferenceCheck};
pub(crate) use sheet::ClaimFile;
pub use sheet::{
    ClaimError, ClaimSheet, read_claims, read_measurements, read_sheet, write_claims, write_sheet,
};
pub use statement::{Field, MeasurableClaim, Subject};

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
