//! The claim sheet as a RON file, with errors that name the place and the remedy.
//!
//! Measurements by hand may stand in the sheet or in a file of their own, `(measurements: [..])`:
//! a sheet is fixed before the ride, and most things are weighed afterwards.

use super::claimed::Claim;
use super::error::ClaimError;
use super::file::ClaimFile;
use super::measurement::{Measurement, MeasurementFile};
use super::nearest::{nearest, remedy};
use super::reference_check::{Checked, ReferenceCheck, ReferenceCheckFile};
use crate::outcome::NotTested;
use crate::settings::Settings;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

/// A whole sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ClaimSheet {
    /// The claims, names unique.
    pub claims: Vec<Claim>,
    /// What was measured by hand, at most once per claim.
    pub measurements: Vec<Measurement>,
    /// Static checks of the references, at most one of each.
    pub static_checks: Vec<ReferenceCheck>,
}

impl ClaimSheet {
    /// The settings with this sheet in force: its claims, its measurements, and what its static
    /// checks tell about the references.
    ///
    /// # Errors
    /// [`NotTested`] if a static check cannot be evaluated; a sheet that was read holds none such.
    pub fn in_force(&self, settings: &Settings) -> Result<Settings, NotTested> {
        let mut settings = settings.clone();
        settings.claims.clone_from(&self.claims);
        settings.measurements.clone_from(&self.measurements);
        for check in &self.static_checks {
            let known = check.knowledge()?.result;
            match check.of {
                Checked::Reference => settings.reference.slope = known,
                Checked::SecondReference => settings.second_reference.slope = known,
            }
        }
        Ok(settings)
    }
}

/// Reads the claims of a claim sheet.
///
/// # Errors
/// [`ClaimError`] with line, column and remedy.
pub fn read_claims(text: &str) -> Result<Vec<Claim>, ClaimError> {
    read_sheet(text).map(|sheet| sheet.claims)
}

/// Reads a claim sheet with the measurements in it.
///
/// # Errors
/// [`ClaimError`] with line, column and remedy.
pub fn read_sheet(text: &str) -> Result<ClaimSheet, ClaimError> {
    let file: SheetFile = parse(text)?;
    let place = |error: ClaimError| error.placed_in(text);
    let claims = file
        .claims
        .into_iter()
        .map(|claim| claim.into_claim().map_err(place))
        .collect::<Result<Vec<_>, _>>()?;
    for (index, claim) in claims.iter().enumerate() {
        if claims[..index].iter().any(|c| c.name() == claim.name()) {
            let words = "the name stands on the sheet twice; give each claim its own";
            return Err(place(ClaimError::bad(claim.name(), words)));
        }
    }
    let measurements = measurements(file.measurements, &claims).map_err(place)?;
    let static_checks = file
        .static_checks
        .into_iter()
        .map(ReferenceCheckFile::into_check)
        .collect::<Result<Vec<_>, _>>()?;
    if let [first, second, ..] = static_checks.as_slice()
        && (static_checks.len() > 2 || first.of == second.of)
    {
        let words = "one reference was checked twice; keep the check that is in force";
        return Err(ClaimError::bad("static checks", words));
    }
    Ok(ClaimSheet {
        claims,
        measurements,
        static_checks,
    })
}

/// Reads a file of measurements for the claims of a sheet.
///
/// # Errors
/// [`ClaimError`] with line, column and remedy; also where a measurement names no claim.
pub fn read_measurements(text: &str, claims: &[Claim]) -> Result<Vec<Measurement>, ClaimError> {
    let file: MeasurementsFile = parse(text)?;
    measurements(file.measurements, claims).map_err(|error| error.placed_in(text))
}

/// Writes claims as [`read_claims`] reads them.
pub fn write_claims(claims: &[Claim]) -> String {
    write_sheet(&ClaimSheet {
        claims: claims.to_vec(),
        ..ClaimSheet::default()
    })
}

/// Writes a claim sheet as [`read_sheet`] reads it.
pub fn write_sheet(sheet: &ClaimSheet) -> String {
    let file = SheetFile {
        claims: sheet.claims.iter().map(ClaimFile::from_claim).collect(),
        measurements: sheet
            .measurements
            .iter()
            .map(MeasurementFile::from_measurement)
            .collect(),
        static_checks: sheet
            .static_checks
            .iter()
            .map(ReferenceCheckFile::from_check)
            .collect(),
    };
    ron::ser::to_string_pretty(&file, ron::ser::PrettyConfig::default()).unwrap_or_default()
}

fn parse<T: DeserializeOwned>(text: &str) -> Result<T, ClaimError> {
    ron::from_str(text).map_err(|error| ClaimError::NotASheet {
        line: error.span.start.line,
        column: error.span.start.col,
        words: remedy(&error.code),
    })
}

fn measurements(
    files: Vec<MeasurementFile>,
    claims: &[Claim],
) -> Result<Vec<Measurement>, ClaimError> {
    let mut found: Vec<Measurement> = Vec::with_capacity(files.len());
    for file in files {
        let measurement = file.into_measurement()?;
        let name = &measurement.claim;
        if !claims.iter().any(|claim| claim.name() == name) {
            let meant = nearest(name, claims.iter().map(Claim::name))
                .map_or(String::new(), |near| format!("; did you mean {near:?}?"));
            let words = format!("a measurement names a claim that is not on the sheet{meant}");
            return Err(ClaimError::bad(name, &words));
        }
        if found.iter().any(|known| known.claim == *name) {
            let words = "measured twice; enter the mean with its uncertainty";
            return Err(ClaimError::bad(name, words));
        }
        found.push(measurement);
    }
    Ok(found)
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "ClaimSheet", deny_unknown_fields)]
struct SheetFile {
    claims: Vec<ClaimFile>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    measurements: Vec<MeasurementFile>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    static_checks: Vec<ReferenceCheckFile>,
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "Measurements", deny_unknown_fields)]
struct MeasurementsFile {
    measurements: Vec<MeasurementFile>,
}
