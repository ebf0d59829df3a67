//! The settings as a RON file. Every field may be left out; what is left out has its default.
//!
//! Measurements by hand are not part of it: they are made after the settings were fixed.
//!
//! The file has its own structs so that the words of the file can stay while the code changes.

mod bench;
mod check;
mod error;
mod plain;
mod rule;
#[cfg(test)]
mod tests;

use super::{SecondReferenceAccuracy, Settings};
use crate::claim::ClaimFile;
use bench::{DrivetrainFile, ReferenceFile, SlopeFile};
use check::check;
pub use error::SettingsError;
use plain::{AlignFile, DropOutFile, GateFile};
use rule::{DecisionFile, EarlyEndFile};
use serde::{Deserialize, Serialize};

impl Settings {
    /// Reads settings from RON.
    ///
    /// # Errors
    /// [`SettingsError`] with place and remedy.
    pub fn from_ron(text: &str) -> Result<Self, SettingsError> {
        let file: SettingsFile =
            ron::from_str(text).map_err(|error| SettingsError::NotSettings {
                line: error.span.start.line,
                column: error.span.start.col,
                words: error.code.to_string(),
            })?;
        file.into_settings()
    }

    /// Writes settings as [`Settings::from_ron`] reads them, every field spelled out: this is the
    /// text a session stores and hashes before the first sample.
    pub fn to_ron(&self) -> String {
        ron::ser::to_string_pretty(
            &SettingsFile::from_settings(self),
            ron::ser::PrettyConfig::default(),
        )
        .unwrap_or_default()
    }
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "Settings", deny_unknown_fields, default)]
struct SettingsFile {
    claims: Vec<ClaimFile>,
    decision: DecisionFile,
    #[serde(skip_serializing_if = "Option::is_none")]
    early_end: Option<EarlyEndFile>,
    drivetrain: DrivetrainFile,
    reference: ReferenceFile,
    second_reference: SlopeFile,
    gate: GateFile,
    align: AlignFile,
    dropout: DropOutFile,
}

impl Default for SettingsFile {
    fn default() -> Self {
        Self::from_settings(&Settings::default())
    }
}

impl SettingsFile {
    fn from_settings(settings: &Settings) -> Self {
        Self {
            claims: settings.claims.iter().map(ClaimFile::from_claim).collect(),
            decision: DecisionFile::from_domain(&settings.decision),
            early_end: settings.early_end.map(EarlyEndFile::of),
            drivetrain: DrivetrainFile::from_domain(&settings.drivetrain),
            reference: ReferenceFile::from_domain(&settings.reference),
            second_reference: SlopeFile::from_domain(&settings.second_reference.slope),
            gate: GateFile::from(&settings.gate),
            align: AlignFile::from(&settings.align),
            dropout: DropOutFile::from(&settings.dropout),
        }
    }

    fn into_settings(self) -> Result<Settings, SettingsError> {
        let claims = self
            .claims
            .into_iter()
            .map(ClaimFile::into_claim)
            .collect::<Result<_, _>>()?;
        let settings = Settings {
            claims,
            measurements: Vec::new(),
            decision: self.decision.into_domain(),
            early_end: self.early_end.map(EarlyEndFile::into_domain),
            drivetrain: self.drivetrain.into_domain(),
            reference: self.reference.into_domain(),
            second_reference: SecondReferenceAccuracy {
                slope: self.second_reference.into_domain(),
            },
            gate: self.gate.into(),
            align: self.align.into(),
            dropout: self.dropout.into(),
        };
        check(&settings)?;
        Ok(settings)
    }
}
