//! Drivetrain and references of the file: each number with its half-width and where it comes from.

use crate::settings::{
    Drivetrain, HalfWidth, ReferenceAccuracy, SecondReferenceAccuracy, SlopeKnowledge,
};
use serde::{Deserialize, Serialize};

#[derive(Clone, Serialize, Deserialize)]
struct HalfWidthFile {
    half_width: f64,
    source: String,
}

#[derive(Clone, Serialize, Deserialize)]
#[serde(rename = "Slope")]
pub(super) enum SlopeFile {
    Claimed {
        half_width: f64,
        source: String,
    },
    Calibrated {
        u_pct: f64,
        dof: Option<f64>,
        source: String,
    },
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "Drivetrain", deny_unknown_fields, default)]
pub(super) struct DrivetrainFile {
    efficiency: f64,
    efficiency_half_width: HalfWidthFile,
    constant_loss_w: f64,
    proportional_loss: f64,
    constant_half_width_w: HalfWidthFile,
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "Reference", deny_unknown_fields, default)]
pub(super) struct ReferenceFile {
    slope: SlopeFile,
    zero_change_nm: HalfWidthFile,
    temperature_pct: HalfWidthFile,
    uniform_cadence_pct: HalfWidthFile,
    one_side_pct: HalfWidthFile,
    repeat_pct: HalfWidthFile,
}

impl Default for SlopeFile {
    fn default() -> Self {
        Self::from_domain(&SecondReferenceAccuracy::default().slope)
    }
}

impl HalfWidthFile {
    pub(super) fn from_domain(value: &HalfWidth) -> Self {
        Self {
            half_width: value.value,
            source: value.source.clone(),
        }
    }

    pub(super) fn into_domain(self) -> HalfWidth {
        HalfWidth {
            value: self.half_width,
            source: self.source,
        }
    }
}

impl SlopeFile {
    pub(super) fn from_domain(slope: &SlopeKnowledge) -> Self {
        match slope {
            SlopeKnowledge::Claimed(half_width) => Self::Claimed {
                half_width: half_width.value,
                source: half_width.source.clone(),
            },
            SlopeKnowledge::Calibrated { u_pct, dof, source } => Self::Calibrated {
                u_pct: *u_pct,
                dof: (*dof < f64::MAX).then_some(*dof),
                source: source.clone(),
            },
        }
    }

    pub(super) fn into_domain(self) -> SlopeKnowledge {
        match self {
            Self::Claimed { half_width, source } => SlopeKnowledge::Claimed(HalfWidth {
                value: half_width,
                source,
            }),
            Self::Calibrated { u_pct, dof, source } => SlopeKnowledge::Calibrated {
                u_pct,
                dof: dof.unwrap_or(f64::MAX),
                source,
            },
        }
    }
}

impl Default for DrivetrainFile {
    fn default() -> Self {
        Self::from_domain(&Drivetrain::default())
    }
}

impl DrivetrainFile {
    pub(super) fn from_domain(drivetrain: &Drivetrain) -> Self {
        Self {
            efficiency: drivetrain.efficiency,
            efficiency_half_width: HalfWidthFile::from_domain(&drivetrain.efficiency_half_width),
            constant_loss_w: drivetrain.constant_loss_w,
            proportional_loss: drivetrain.proportional_loss,
            constant_half_width_w: HalfWidthFile::from_domain(&drivetrain.constant_half_width_w),
        }
    }

    pub(super) fn into_domain(self) -> Drivetrain {
        Drivetrain {
            efficiency: self.efficiency,
            efficiency_half_width: self.efficiency_half_width.into_domain(),
            constant_loss_w: self.constant_loss_w,
            proportional_loss: self.proportional_loss,
            constant_half_width_w: self.constant_half_width_w.into_domain(),
        }
    }
}

impl Default for ReferenceFile {
    fn default() -> Self {
        Self::from_domain(&ReferenceAccuracy::default())
    }
}

impl ReferenceFile {
    pub(super) fn from_domain(reference: &ReferenceAccuracy) -> Self {
        Self {
            slope: SlopeFile::from_domain(&reference.slope),
            zero_change_nm: HalfWidthFile::from_domain(&reference.zero_change_nm),
            temperature_pct: HalfWidthFile::from_domain(&reference.temperature_pct),
            uniform_cadence_pct: HalfWidthFile::from_domain(&reference.uniform_cadence_pct),
            one_side_pct: HalfWidthFile::from_domain(&reference.one_side_pct),
            repeat_pct: HalfWidthFile::from_domain(&reference.repeat_pct),
        }
    }

    pub(super) fn into_domain(self) -> ReferenceAccuracy {
        ReferenceAccuracy {
            slope: self.slope.into_domain(),
            zero_change_nm: self.zero_change_nm.into_domain(),
            temperature_pct: self.temperature_pct.into_domain(),
            uniform_cadence_pct: self.uniform_cadence_pct.into_domain(),
            one_side_pct: self.one_side_pct.into_domain(),
            repeat_pct: self.repeat_pct.into_domain(),
        }
    }
}
