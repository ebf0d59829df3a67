//! The claim sheet as a RON file, with errors that name the place and the remedy.
//!
//! Measurements by hand may stand in the sheet or in a file of their own, `(measurements: [..])`:
//! a sheet is fixed before the ride, and most things are weighed afterwards.

use super::measurement::{Measurement, MeasurementFile};
use super::nearest::{nearest, remedy};
use super::reference_check::Checked;
use super::reference_check::{ReferenceCheck, ReferenceCheckFile};
use super::statement::{Field, MeasurableClaim, Subject};
use super::{Claim, PowerClaimFile};
use crate::limit::Limit;
use crate::outcome::NotTested;
use crate::settings::Settings;
use serde::{Deserialize, Serialize, de::DeserializeOwned};

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

/// Why a claim sheet could not be used.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ClaimError {
    /// The text is not a claim sheet.
    #[error("claim sheet, line {line}, column {column}: {words}")]
    NotASheet {
        /// Line, counted from 1.
        line: usize,
        /// Column, counted from 1.
        column: usize,
        /// What is wrong and what helps.
        words: String,
    },
    /// A number, a name or a source makes no sense.
    #[error("claim {name:?}{}: {words}", at(.place))]
    BadNumber {
        /// Name of the claim.
        name: String,
        /// Line and column of the name, counted from 1, where the text is at hand.
        place: Option<[usize; 2]>,
        /// What is wrong and what is expected.
        words: String,
    },
}

fn at(place: &Option<[usize; 2]>) -> String {
    place.map_or(String::new(), |[line, column]| {
        format!(" at line {line}, column {column}")
    })
}

impl ClaimError {
    pub(super) fn bad(name: &str, words: &str) -> Self {
        Self::BadNumber {
            name: name.into(),
            place: None,
            words: words.into(),
        }
    }

    /// Adds where the name stands; of several places the last, which is the one that is too many.
    fn placed_in(self, text: &str) -> Self {
        match self {
            Self::BadNumber {
                name,
                place: None,
                words,
            } => {
                let place = text.rfind(&format!("{name:?}")).map(|offset| {
                    let before = &text[..offset];
                    let start = before.rfind('\n').map_or(0, |newline| newline + 1);
                    let line = before.matches('\n').count() + 1;
                    [line, before[start..].chars().count() + 1]
                });
                Self::BadNumber { name, place, words }
            }
            other => other,
        }
    }
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

/// One claim in a file; shared with the settings file, which may hold claims of its own.
#[derive(Serialize, Deserialize)]
#[serde(rename = "Claim")]
pub(crate) enum ClaimFile {
    PowerAccuracy(PowerClaimFile),
    LargestPower(LargestPowerFile),
    LargestSlope(NumberFile),
    FieldsSent(FieldsFile),
    UpdateRate(NumberFile),
    EquivalentMass(NumberFile),
    Noise(NoiseFile),
    Mass(NumberFile),
    Dimension(NumberFile),
    Document(DocumentFile),
}

/// A claim with the head that all have, and its own fields.
macro_rules! claim_file {
    ($file:ident, $name:literal, { $($(#[$meta:meta])* $field:ident : $kind:ty),* $(,)? }) => {
        #[derive(Serialize, Deserialize)]
        #[serde(rename = $name, deny_unknown_fields)]
        pub(crate) struct $file {
            name: String,
            #[serde(default)]
            text: String,
            #[serde(default)]
            source: String,
            #[serde(default)]
            conditions: Vec<String>,
            $($(#[$meta])* $field: $kind,)*
        }

        impl $file {
            fn with(self, subject: Subject) -> Result<Claim, ClaimError> {
                claim(MeasurableClaim {
                    name: self.name,
                    text: self.text,
                    source: self.source,
                    conditions: self.conditions,
                    subject,
                })
            }

            fn of(head: &MeasurableClaim $(, $field: $kind)*) -> Self {
                Self {
                    name: head.name.clone(),
                    text: head.text.clone(),
                    source: head.source.clone(),
                    conditions: head.conditions.clone(),
                    $($field,)*
                }
            }
        }
    };
}

claim_file!(NumberFile, "Number", { limit: LimitFile });
claim_file!(LargestPowerFile, "LargestPower", {
    limit: LimitFile,
    #[serde(default = "five_seconds")]
    over_s: f64,
});
claim_file!(NoiseFile, "Noise", { limit: LimitFile, distance_m: f64 });
claim_file!(FieldsFile, "FieldsSent", { fields: Vec<FieldFile> });
claim_file!(DocumentFile, "Document", {});

fn five_seconds() -> f64 {
    5.0
}

#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(rename = "Limit")]
enum LimitFile {
    AtLeast(f64),
    AtMost(f64),
    Between(f64, f64),
    /// A nominal value and the deviation that is allowed either way.
    Nominal(f64, f64),
}

impl LimitFile {
    const fn limit(self) -> Limit {
        match self {
            Self::AtLeast(value) => Limit::AtLeast(value),
            Self::AtMost(value) => Limit::AtMost(value),
            Self::Between(low, high) => Limit::Between(low, high),
            Self::Nominal(value, half) => Limit::Between(value - half, value + half),
        }
    }

    const fn of(limit: Limit) -> Self {
        match limit {
            Limit::AtLeast(value) => Self::AtLeast(value),
            Limit::AtMost(value) => Self::AtMost(value),
            Limit::Between(low, high) => Self::Between(low, high),
        }
    }
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "Field", rename_all = "kebab-case")]
enum FieldFile {
    Power,
    Cadence,
    Speed,
    Other(String),
}

/// Checks what every measurable claim must fulfil.
fn claim(claim: MeasurableClaim) -> Result<Claim, ClaimError> {
    let bad = |words: &str| Err(ClaimError::bad(&claim.name, words));
    let positive = |value: f64| value.is_finite() && value > 0.0;
    if claim.name.trim().is_empty() {
        return bad("a claim needs a name");
    }
    match claim.subject.limit() {
        Some(Limit::AtLeast(value) | Limit::AtMost(value)) if !positive(value) => {
            return bad("a limit is a number above zero");
        }
        Some(Limit::Between(low, high)) if !(low.is_finite() && high.is_finite() && low < high) => {
            return bad("limits go from a lower to a higher number, and a deviation is above zero");
        }
        _ => {}
    }
    match &claim.subject {
        Subject::LargestPower { over_s, .. } if !(1.0..=3600.0).contains(over_s) => {
            bad("over_s is a time from 1 to 3600 s")
        }
        Subject::Noise { distance_m, .. } if !positive(*distance_m) => {
            bad("distance_m is a distance above zero, in metres")
        }
        Subject::FieldsSent { fields } if fields.is_empty() => {
            bad("name at least one field: power, cadence, speed, other(\"…\")")
        }
        _ => Ok(Claim::Measurable(claim)),
    }
}

impl ClaimFile {
    pub(crate) fn into_claim(self) -> Result<Claim, ClaimError> {
        match self {
            Self::PowerAccuracy(file) => file.into_claim().map(Claim::PowerAccuracy),
            Self::LargestPower(file) => {
                let (limit, over_s) = (file.limit.limit(), file.over_s);
                file.with(Subject::LargestPower { limit, over_s })
            }
            Self::LargestSlope(file) => {
                let limit = file.limit.limit();
                file.with(Subject::LargestSlope { limit })
            }
            Self::FieldsSent(mut file) => {
                let fields = std::mem::take(&mut file.fields)
                    .into_iter()
                    .map(|field| match field {
                        FieldFile::Power => Field::Power,
                        FieldFile::Cadence => Field::Cadence,
                        FieldFile::Speed => Field::Speed,
                        FieldFile::Other(name) => Field::Other(name),
                    })
                    .collect();
                file.with(Subject::FieldsSent { fields })
            }
            Self::UpdateRate(file) => {
                let limit = file.limit.limit();
                file.with(Subject::UpdateRate { limit })
            }
            Self::EquivalentMass(file) => {
                let limit = file.limit.limit();
                file.with(Subject::EquivalentMass { limit })
            }
            Self::Noise(file) => {
                let (limit, distance_m) = (file.limit.limit(), file.distance_m);
                file.with(Subject::Noise { limit, distance_m })
            }
            Self::Mass(file) => {
                let limit = file.limit.limit();
                file.with(Subject::Mass { limit })
            }
            Self::Dimension(file) => {
                let limit = file.limit.limit();
                file.with(Subject::Dimension { limit })
            }
            Self::Document(file) => file.with(Subject::Document),
        }
    }

    pub(crate) fn from_claim(claim: &Claim) -> Self {
        let head = match claim {
            Claim::PowerAccuracy(claim) => {
                return Self::PowerAccuracy(PowerClaimFile::from_claim(claim));
            }
            Claim::Measurable(claim) => claim,
        };
        let number = |limit: &Limit| NumberFile::of(head, LimitFile::of(*limit));
        match &head.subject {
            Subject::LargestPower { limit, over_s } => {
                Self::LargestPower(LargestPowerFile::of(head, LimitFile::of(*limit), *over_s))
            }
            Subject::LargestSlope { limit } => Self::LargestSlope(number(limit)),
            Subject::FieldsSent { fields } => {
                let fields = fields
                    .iter()
                    .map(|field| match field {
                        Field::Power => FieldFile::Power,
                        Field::Cadence => FieldFile::Cadence,
                        Field::Speed => FieldFile::Speed,
                        Field::Other(name) => FieldFile::Other(name.clone()),
                    })
                    .collect();
                Self::FieldsSent(FieldsFile::of(head, fields))
            }
            Subject::UpdateRate { limit } => Self::UpdateRate(number(limit)),
            Subject::EquivalentMass { limit } => Self::EquivalentMass(number(limit)),
            Subject::Noise { limit, distance_m } => {
                Self::Noise(NoiseFile::of(head, LimitFile::of(*limit), *distance_m))
            }
            Subject::Mass { limit } => Self::Mass(number(limit)),
            Subject::Dimension { limit } => Self::Dimension(number(limit)),
            Subject::Document => Self::Document(DocumentFile::of(head)),
        }
    }
}
