//! The settings as a RON file. Every field may be left out; what is left out has its default.
//!
//! Measurements by hand are not part of it: they are made after the settings were fixed.
//!
//! The file has its own structs so that the words of the file can stay while the code changes.

use super::{
    AlignSettings, Drivetrain, DropOutSettings, GateSettings, HalfWidth, ReferenceAccuracy,
    SecondReferenceAccuracy, Settings, SlopeKnowledge,
};
use crate::claim::{ClaimError, ClaimFile};
use crate::sequential::{Boundary, EarlyEnd};
use crate::stats::normal::Coverage;
use crate::verdict::DecisionRule;
use serde::{Deserialize, Serialize};

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

#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(rename = "Boundary", rename_all = "kebab-case")]
enum BoundaryFile {
    Pocock,
    OBrienFleming,
}

#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(rename = "EarlyEnd", deny_unknown_fields)]
struct EarlyEndFile {
    boundary: BoundaryFile,
    windows: usize,
}

impl EarlyEndFile {
    const fn of(early: EarlyEnd) -> Self {
        Self {
            boundary: match early.boundary {
                Boundary::Pocock => BoundaryFile::Pocock,
                Boundary::OBrienFleming => BoundaryFile::OBrienFleming,
            },
            windows: early.windows,
        }
    }

    const fn into_domain(self) -> EarlyEnd {
        EarlyEnd {
            boundary: match self.boundary {
                BoundaryFile::Pocock => Boundary::Pocock,
                BoundaryFile::OBrienFleming => Boundary::OBrienFleming,
            },
            windows: self.windows,
        }
    }
}

#[derive(Clone, Serialize, Deserialize)]
struct HalfWidthFile {
    half_width: f64,
    source: String,
}

#[derive(Clone, Serialize, Deserialize)]
#[serde(rename = "Slope")]
enum SlopeFile {
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

#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(rename = "Coverage", rename_all = "kebab-case")]
enum CoverageFile {
    KTwo,
    StudentT,
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "Decision", deny_unknown_fields, default)]
struct DecisionFile {
    shown_at: f64,
    coverage: CoverageFile,
    min_windows: usize,
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "Drivetrain", deny_unknown_fields, default)]
struct DrivetrainFile {
    efficiency: f64,
    efficiency_half_width: HalfWidthFile,
    constant_loss_w: f64,
    proportional_loss: f64,
    constant_half_width_w: HalfWidthFile,
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "Reference", deny_unknown_fields, default)]
struct ReferenceFile {
    slope: SlopeFile,
    zero_change_nm: HalfWidthFile,
    temperature_pct: HalfWidthFile,
    uniform_cadence_pct: HalfWidthFile,
    one_side_pct: HalfWidthFile,
    repeat_pct: HalfWidthFile,
}

/// Structs of plain numbers differ from the domain only in being serialisable.
macro_rules! plain_file {
    ($file:ident, $name:literal, $domain:ident, { $($field:ident : $kind:ty),+ $(,)? }) => {
        #[derive(Serialize, Deserialize)]
        #[serde(rename = $name, deny_unknown_fields, default)]
        struct $file { $($field: $kind),+ }

        impl From<&$domain> for $file {
            fn from(value: &$domain) -> Self {
                Self { $($field: value.$field),+ }
            }
        }

        impl From<$file> for $domain {
            fn from(value: $file) -> Self {
                Self { $($field: value.$field),+ }
            }
        }

        impl Default for $file {
            fn default() -> Self {
                Self::from(&$domain::default())
            }
        }
    };
}

plain_file!(GateFile, "Gate", GateSettings, {
    window_s: u32,
    shortest_s: u32,
    settle_s: u32,
    cadence_cv_pct: f64,
    gear_ratio_pct: f64,
    coverage_pct: f64,
    equivalent_mass_kg: f64,
    window_closure_pct: f64,
    cell_closure_pct: f64,
    reference_zero_below_w: f64,
    plateau_change_pct: f64,
    plateau_cv_pct: f64,
    plateau_min_w: f64,
});
plain_file!(AlignFile, "Align", AlignSettings, {
    near_s: f64,
    far_s: f64,
    segment_s: f64,
    min_correlation: f64,
    max_u_s: f64,
});
plain_file!(DropOutFile, "DropOut", DropOutSettings, {
    work_above_w: f64,
    pedalling_above_rpm: f64,
    flag_after_s: u32,
    frozen_after_s: f64,
    frozen_change_w: f64,
    frozen_change_pct: f64,
});

macro_rules! default_from_domain {
    ($($file:ident <- $domain:ident),+ $(,)?) => {
        $(impl Default for $file {
            fn default() -> Self {
                Self::from_domain(&$domain::default())
            }
        })+
    };
}

default_from_domain!(
    DecisionFile <- DecisionRule,
    DrivetrainFile <- Drivetrain,
    ReferenceFile <- ReferenceAccuracy,
);

impl Default for SlopeFile {
    fn default() -> Self {
        Self::from_domain(&SecondReferenceAccuracy::default().slope)
    }
}

impl Default for SettingsFile {
    fn default() -> Self {
        Self::from_settings(&Settings::default())
    }
}

impl HalfWidthFile {
    fn from_domain(value: &HalfWidth) -> Self {
        Self {
            half_width: value.value,
            source: value.source.clone(),
        }
    }

    fn into_domain(self) -> HalfWidth {
        HalfWidth {
            value: self.half_width,
            source: self.source,
        }
    }
}

impl SlopeFile {
    fn from_domain(slope: &SlopeKnowledge) -> Self {
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

    fn into_domain(self) -> SlopeKnowledge {
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

impl DecisionFile {
    fn from_domain(rule: &DecisionRule) -> Self {
        Self {
            shown_at: rule.shown_at,
            coverage: match rule.coverage {
                Coverage::KTwo => CoverageFile::KTwo,
                Coverage::StudentT => CoverageFile::StudentT,
            },
            min_windows: rule.min_windows,
        }
    }

    fn into_domain(self) -> DecisionRule {
        DecisionRule {
            shown_at: self.shown_at,
            coverage: match self.coverage {
                CoverageFile::KTwo => Coverage::KTwo,
                CoverageFile::StudentT => Coverage::StudentT,
            },
            min_windows: self.min_windows,
        }
    }
}

impl DrivetrainFile {
    fn from_domain(drivetrain: &Drivetrain) -> Self {
        Self {
            efficiency: drivetrain.efficiency,
            efficiency_half_width: HalfWidthFile::from_domain(&drivetrain.efficiency_half_width),
            constant_loss_w: drivetrain.constant_loss_w,
            proportional_loss: drivetrain.proportional_loss,
            constant_half_width_w: HalfWidthFile::from_domain(&drivetrain.constant_half_width_w),
        }
    }

    fn into_domain(self) -> Drivetrain {
        Drivetrain {
            efficiency: self.efficiency,
            efficiency_half_width: self.efficiency_half_width.into_domain(),
            constant_loss_w: self.constant_loss_w,
            proportional_loss: self.proportional_loss,
            constant_half_width_w: self.constant_half_width_w.into_domain(),
        }
    }
}

impl ReferenceFile {
    fn from_domain(reference: &ReferenceAccuracy) -> Self {
        Self {
            slope: SlopeFile::from_domain(&reference.slope),
            zero_change_nm: HalfWidthFile::from_domain(&reference.zero_change_nm),
            temperature_pct: HalfWidthFile::from_domain(&reference.temperature_pct),
            uniform_cadence_pct: HalfWidthFile::from_domain(&reference.uniform_cadence_pct),
            one_side_pct: HalfWidthFile::from_domain(&reference.one_side_pct),
            repeat_pct: HalfWidthFile::from_domain(&reference.repeat_pct),
        }
    }

    fn into_domain(self) -> ReferenceAccuracy {
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

fn check(settings: &Settings) -> Result<(), SettingsError> {
    let bad = |field, words| Err(SettingsError::BadNumber { field, words });
    if !(settings.decision.shown_at > 0.5 && settings.decision.shown_at < 1.0) {
        return bad(
            "decision.shown_at",
            "a probability above 0.5 and below 1 is expected",
        );
    }
    if settings
        .early_end
        .is_some_and(|early| early.windows < settings.decision.min_windows)
    {
        return bad(
            "early_end.windows",
            "at least as many windows as the rule needs are expected",
        );
    }
    if !(settings.drivetrain.efficiency > 0.5 && settings.drivetrain.efficiency <= 1.0) {
        return bad(
            "drivetrain.efficiency",
            "a share above 0.5 and up to 1 is expected",
        );
    }
    if !(settings.drivetrain.constant_loss_w >= 0.0
        && settings.drivetrain.proportional_loss >= 0.0
        && settings.drivetrain.proportional_loss < 0.5)
    {
        return bad(
            "drivetrain",
            "losses are not negative and below half of the power",
        );
    }
    let half_widths = [
        &settings.drivetrain.efficiency_half_width,
        &settings.drivetrain.constant_half_width_w,
        &settings.reference.zero_change_nm,
        &settings.reference.temperature_pct,
        &settings.reference.uniform_cadence_pct,
        &settings.reference.one_side_pct,
        &settings.reference.repeat_pct,
    ];
    let slopes = [
        settings.reference.slope.u_pct(),
        settings.second_reference.slope.u_pct(),
    ];
    let finite = half_widths
        .iter()
        .all(|half_width| half_width.value.is_finite() && half_width.value >= 0.0)
        && slopes.iter().all(|u_pct| u_pct.is_finite());
    if !finite {
        return bad(
            "reference",
            "half-widths and uncertainties are finite and not negative",
        );
    }
    let gate = &settings.gate;
    if gate.window_s < 5 || gate.shortest_s < 3 || gate.shortest_s > gate.window_s {
        return bad(
            "gate.window_s",
            "at least 5 s, and the shortest window from 3 s up to it",
        );
    }
    let align = &settings.align;
    let within = |value: f64, low: f64, high: f64| value >= low && value <= high;
    if !(within(align.near_s, 1.0, 3600.0)
        && within(align.far_s, align.near_s, 7200.0)
        && within(align.segment_s, 30.0, 7200.0))
    {
        return bad(
            "align",
            "1 s ≤ near_s ≤ far_s ≤ 7200 s and 30 s ≤ segment_s are expected",
        );
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::claim::{Claim, PowerClaim};

    #[test]
    fn settings_survive_writing_and_reading() {
        let mut settings = Settings::default();
        settings
            .claims
            .push(Claim::PowerAccuracy(PowerClaim::assumed()));
        settings.reference.slope = SlopeKnowledge::Calibrated {
            u_pct: 0.25,
            dof: f64::MAX,
            source: "own static check".into(),
        };
        assert!(!settings.to_ron().contains("early_end"), "off by default");
        assert_eq!(Settings::from_ron(&settings.to_ron()).unwrap(), settings);
        settings.early_end = Some(EarlyEnd {
            boundary: Boundary::OBrienFleming,
            windows: 6,
        });
        assert_eq!(Settings::from_ron(&settings.to_ron()).unwrap(), settings);
    }

    #[test]
    fn what_is_left_out_has_its_default() {
        assert_eq!(Settings::from_ron("()").unwrap(), Settings::default());
        let short = Settings::from_ron("(gate: (window_s: 60))").unwrap();
        assert_eq!(short.gate.window_s, 60);
        assert_eq!(short.gate.shortest_s, 15);
    }

    #[test]
    fn wrong_settings_say_where() {
        for (text, part) in [
            ("(\n gait: ())", "line 2"),
            ("(decision: (shown_at: 0.2))", "decision.shown_at"),
            ("(drivetrain: (efficiency: 97.5))", "drivetrain.efficiency"),
            ("(gate: (window_s: 1))", "gate.window_s"),
            ("(align: (near_s: 0.0))", "align"),
            (
                "(early_end: Some((boundary: pocock, windows: 2)))",
                "early_end.windows",
            ),
        ] {
            let error = Settings::from_ron(text).unwrap_err().to_string();
            assert!(error.contains(part), "{error}");
        }
    }
}
