//! Why a settings file could not be used.

use crate::claim::ClaimError;

/// Why a settings file could not be used.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SettingsError {
    /// The text is not a settings file.
    #[error("settings, line {line}, column {column}: {words}")]
    NotSettings {
        /// Line, counted from 1.
        line: usize,
        /// Column, counted from 1.
        column: usize,
        /// What is wrong.
        words: String,
    },
    /// A number makes no sense.
    #[error("settings, {field}: {words}")]
    BadNumber {
        /// Which field.
        field: &'static str,
        /// What is expected.
        words: &'static str,
    },
    /// The claim in it makes no sense.
    #[error(transparent)]
    Claim(#[from] ClaimError),
}
