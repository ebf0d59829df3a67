//! What is measured or looked up by hand for a claim, each with its uncertainty and its source.

use super::error::ClaimError;
use crate::limit::Reached;
use crate::outcome::Estimate;
use serde::{Deserialize, Serialize};

/// One measurement by hand.
#[derive(Clone, Debug, PartialEq)]
pub struct Measurement {
    /// Name of the claim it is for.
    pub claim: String,
    /// What was found.
    pub entered: Entered,
    /// Instrument, place and date.
    pub source: String,
}

/// What was found by hand.
#[derive(Clone, Debug, PartialEq)]
pub enum Entered {
    /// A value in the unit of the claim.
    Value {
        /// The value with its standard uncertainty.
        value: Estimate,
        /// Whether the device was driven to its end; matters for "at least" only.
        reached: Reached,
    },
    /// Readings of a sound level meter.
    Noise {
        /// Levels with the device running, dB(A).
        running_db: Vec<f64>,
        /// Levels of the background, dB(A).
        background_db: Vec<f64>,
        /// Distance of the microphone, m.
        distance_m: f64,
        /// Standard uncertainty of the meter, dB.
        u_meter_db: f64,
    },
    /// Something that was looked up.
    Checked(Check),
}

/// The outcome of looking something up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Check {
    /// It is as claimed.
    Confirmed,
    /// It is not as claimed.
    Refuted,
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "Measurement")]
pub(super) enum MeasurementFile {
    Value(ValueFile),
    Noise(NoiseFile),
    Checked(CheckedFile),
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "Value", deny_unknown_fields)]
pub(super) struct ValueFile {
    claim: String,
    value: f64,
    uncertainty: UncertaintyFile,
    #[serde(default)]
    dof: Option<f64>,
    #[serde(default)]
    reached: ReachedFile,
    source: String,
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "Uncertainty")]
enum UncertaintyFile {
    /// Standard uncertainty.
    Standard(f64),
    /// Half-width of a rectangular distribution.
    HalfWidth(f64),
    /// Expanded uncertainty and its coverage factor.
    Expanded(f64, f64),
}

#[derive(Clone, Copy, Default, Serialize, Deserialize)]
#[serde(rename = "Reached", rename_all = "kebab-case")]
enum ReachedFile {
    #[default]
    End,
    #[serde(alias = "not_end")]
    NotEnd,
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "Noise", deny_unknown_fields)]
pub(super) struct NoiseFile {
    claim: String,
    running_db: Vec<f64>,
    background_db: Vec<f64>,
    distance_m: f64,
    u_meter_db: f64,
    source: String,
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "Checked", deny_unknown_fields)]
pub(super) struct CheckedFile {
    claim: String,
    found: Check,
    source: String,
}

impl MeasurementFile {
    pub(super) fn into_measurement(self) -> Result<Measurement, ClaimError> {
        let measurement = match self {
            Self::Value(file) => {
                let u = match file.uncertainty {
                    UncertaintyFile::Standard(u) => u,
                    UncertaintyFile::HalfWidth(half) => half / 3f64.sqrt(),
                    UncertaintyFile::Expanded(expanded, k) => expanded / k,
                };
                let dof = file.dof.unwrap_or(f64::MAX);
                if !(file.value.is_finite() && u.is_finite() && u > 0.0 && dof >= 1.0) {
                    return Err(ClaimError::bad(
                        &file.claim,
                        "a measured value needs a number, an uncertainty above zero (a scale's \
                         last digit has one) and one degree of freedom or more",
                    ));
                }
                Measurement {
                    claim: file.claim,
                    entered: Entered::Value {
                        value: Estimate {
                            value: file.value,
                            u,
                            dof,
                        },
                        reached: match file.reached {
                            ReachedFile::End => Reached::End,
                            ReachedFile::NotEnd => Reached::NotEnd,
                        },
                    },
                    source: file.source,
                }
            }
            Self::Noise(file) => Measurement {
                claim: file.claim,
                entered: Entered::Noise {
                    running_db: file.running_db,
                    background_db: file.background_db,
                    distance_m: file.distance_m,
                    u_meter_db: file.u_meter_db,
                },
                source: file.source,
            },
            Self::Checked(file) => Measurement {
                claim: file.claim,
                entered: Entered::Checked(file.found),
                source: file.source,
            },
        };
        if measurement.source.trim().is_empty() {
            return Err(ClaimError::bad(
                &measurement.claim,
                "a measurement needs its source: instrument, place and date",
            ));
        }
        Ok(measurement)
    }

    pub(super) fn from_measurement(measurement: &Measurement) -> Self {
        let (claim, source) = (measurement.claim.clone(), measurement.source.clone());
        match &measurement.entered {
            Entered::Value { value, reached } => Self::Value(ValueFile {
                claim,
                value: value.value,
                uncertainty: UncertaintyFile::Standard(value.u),
                dof: (value.dof < f64::MAX).then_some(value.dof),
                reached: match reached {
                    Reached::End => ReachedFile::End,
                    Reached::NotEnd => ReachedFile::NotEnd,
                },
                source,
            }),
            Entered::Noise {
                running_db,
                background_db,
                distance_m,
                u_meter_db,
            } => Self::Noise(NoiseFile {
                claim,
                running_db: running_db.clone(),
                background_db: background_db.clone(),
                distance_m: *distance_m,
                u_meter_db: *u_meter_db,
                source,
            }),
            Entered::Checked(found) => Self::Checked(CheckedFile {
                claim,
                found: *found,
                source,
            }),
        }
    }
}
