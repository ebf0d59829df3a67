//! One claim in a file, and what every claim must fulfil.

use super::claimed::Claim;
use super::error::ClaimError;
use super::power::PowerClaimFile;
use super::statement::{Field, MeasurableClaim, Subject};
use crate::limit::Limit;
use serde::{Deserialize, Serialize};

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

    pub(super) const fn of(limit: Limit) -> Self {
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
