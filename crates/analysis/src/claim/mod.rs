//! Published claims as measurable statements.
//!
//! A claim such as "±2 %" is incomplete: where it holds, over which range, after what preparation
//! and what it covers must be said, and what the maker left silent is the tester's interpretation
//! and is printed as such. A claim sheet is a RON file that is hashed before the first sample.
//!
//! [`power`] holds the claim of power accuracy, [`statement`] everything else that can be claimed
//! and measured, [`measurement`] what is measured by hand, [`reference_check`] the static check of a
//! reference, [`sheet`] the file. The verdicts are given when a session is assessed.

mod claimed;
mod error;
mod file;
pub(crate) mod judge;
pub mod measurement;
mod nearest;
pub mod power;
pub mod reference_check;
pub mod sheet;
pub mod statement;

pub use claimed::Claim;
pub use error::ClaimError;
pub(crate) use file::ClaimFile;
pub use measurement::{Check, Entered, Measurement};
pub use nearest::remedy;
pub use power::{ClaimLocation, Covers, PowerClaim};
pub use reference_check::{Checked, ReferenceCheck};
pub use sheet::{
    ClaimSheet, read_claims, read_measurements, read_sheet, write_claims, write_sheet,
};
pub use statement::{Field, MeasurableClaim, Subject};
