//! Everything a judgement depends on besides the recording, fixed before the ride.
//!
//! Every number that enters the uncertainty has a source text beside it, because an assumption
//! that is not written down is a silent correction. The defaults are the careful middle of what
//! independent testers use; a session stores what was in force with its hash.

pub mod file;

use crate::claim::{Claim, Measurement, PowerClaim};
use crate::sequential::{EarlyEnd, SequentialRule};
use crate::verdict::DecisionRule;

/// The settings of one assessment.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Settings {
    /// The claims to judge. The first power claim is also judged live; without any, ±2 % is.
    pub claims: Vec<Claim>,
    /// What was measured by hand for the claims.
    pub measurements: Vec<Measurement>,
    /// How a probability becomes a verdict.
    pub decision: DecisionRule,
    /// Whether holds may end early, and by which scheme; off unless switched on.
    pub early_end: Option<EarlyEnd>,
    /// What lies between crank and hub.
    pub drivetrain: Drivetrain,
    /// What is known about the reference, as terms of the uncertainty.
    pub reference: ReferenceAccuracy,
    /// What is known about the second reference.
    pub second_reference: SecondReferenceAccuracy,
    /// When a window counts as steady.
    pub gate: GateSettings,
    /// How streams are aligned.
    pub align: AlignSettings,
    /// When a value counts as a drop-out.
    pub dropout: DropOutSettings,
}

impl Settings {
    /// The power claim in force.
    pub fn power_claim(&self) -> PowerClaim {
        self.claims
            .iter()
            .find_map(|claim| match claim {
                Claim::PowerAccuracy(claim) => Some(claim.clone()),
                _ => None,
            })
            .unwrap_or_else(PowerClaim::assumed)
    }

    /// The rule for ending holds early, if it is switched on.
    pub fn sequential(&self) -> Option<SequentialRule> {
        self.early_end
            .map(|early| SequentialRule::new(&self.decision, early))
    }

    /// The settings with the rule that cells are judged by: where holds may end early, that of
    /// the last look.
    pub fn in_force(&self) -> Self {
        let decision = self
            .sequential()
            .map_or_else(|| self.decision.clone(), |rule| rule.at_the_end());
        Self {
            decision,
            early_end: None,
            ..self.clone()
        }
    }

    /// The whole rule in words, as it was fixed before the ride.
    pub fn rule_words(&self) -> String {
        match self.sequential() {
            Some(rule) => format!("{} {}", self.in_force().decision.words(), rule.words()),
            None => self.decision.words(),
        }
    }
}

/// A half-width of a rectangular distribution and where the number comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct HalfWidth {
    /// Half-width, in the unit of the field's name.
    pub value: f64,
    /// Where the number comes from.
    pub source: String,
}

impl HalfWidth {
    /// A half-width with its source.
    pub fn new(value: f64, source: &str) -> Self {
        Self {
            value,
            source: source.into(),
        }
    }

    /// Standard uncertainty of a rectangular distribution: half-width over √3 (GUM 4.3.7).
    pub fn u(&self) -> f64 {
        self.value.abs() / 3f64.sqrt()
    }
}

/// The loss between crank and hub. The bench cannot measure it: it is the small difference of two
/// large powers, so it is assumed and its uncertainty carried.
///
/// The loss is the larger of (1 − η)·P and the low-power model, which makes it continuous: with
/// the defaults the constant part rules below 200 W.
#[derive(Clone, Debug, PartialEq)]
pub struct Drivetrain {
    /// Efficiency η at ordinary power.
    pub efficiency: f64,
    /// Half-width of the efficiency, as a share of one.
    pub efficiency_half_width: HalfWidth,
    /// Constant part of the loss at low power, W.
    pub constant_loss_w: f64,
    /// Proportional part of the loss at low power, as a share of one.
    pub proportional_loss: f64,
    /// Half-width of the constant part, W.
    pub constant_half_width_w: HalfWidth,
}

impl Default for Drivetrain {
    fn default() -> Self {
        Self {
            efficiency: 0.975,
            efficiency_half_width: HalfWidth::new(
                0.010,
                "assumed for a clean, lubricated chain: published 96 to 98.6 % at 200 to 300 W",
            ),
            constant_loss_w: 1.0,
            proportional_loss: 0.02,
            constant_half_width_w: HalfWidth::new(
                0.5,
                "assumed: half of the constant loss of 1 W + 2 % that rules at low power",
            ),
        }
    }
}

/// What is known about the primary reference.
#[derive(Clone, Debug, PartialEq)]
pub struct ReferenceAccuracy {
    /// How well its slope is known.
    pub slope: SlopeKnowledge,
    /// Change of its zero that is assumed where none was read before and after, N·m at the crank.
    pub zero_change_nm: HalfWidth,
    /// Change of its reading with temperature, %.
    pub temperature_pct: HalfWidth,
    /// Error from taking cadence as uniform over a turn, %; crank and pedals only.
    pub uniform_cadence_pct: HalfWidth,
    /// Error from doubling one side, %; one-sided instruments only.
    pub one_side_pct: HalfWidth,
    /// Repeat-to-repeat scatter that is assumed where no condition was ridden twice, %.
    pub repeat_pct: HalfWidth,
}

impl Default for ReferenceAccuracy {
    fn default() -> Self {
        Self {
            slope: SlopeKnowledge::Claimed(HalfWidth::new(
                1.0,
                "the reference's own published accuracy, taken as ±1 %, rectangular",
            )),
            zero_change_nm: HalfWidth::new(
                0.05,
                "assumed: no zero offsets were read before and after",
            ),
            temperature_pct: HalfWidth::new(
                0.1,
                "assumed: 1 % per 20 °C over a change of 2 °C (trade figure, weak source)",
            ),
            uniform_cadence_pct: HalfWidth::new(
                0.2,
                "assumed: speed within a turn varies by up to ±4.5 %, round chain rings",
            ),
            one_side_pct: HalfWidth::new(
                4.0,
                "assumed: one leg gives 48 to 52 %, and one side is doubled",
            ),
            repeat_pct: HalfWidth::new(0.3, "assumed: no condition was ridden twice"),
        }
    }
}

/// How well the slope of a reference is known.
#[derive(Clone, Debug, PartialEq)]
pub enum SlopeKnowledge {
    /// By its published accuracy, %: a claim too, so rectangular.
    Claimed(HalfWidth),
    /// By a certificate or an own static check.
    Calibrated {
        /// Standard uncertainty, %.
        u_pct: f64,
        /// Degrees of freedom; `f64::MAX` for infinite.
        dof: f64,
        /// Certificate or static check, with its date.
        source: String,
    },
}

impl SlopeKnowledge {
    /// Standard uncertainty, %.
    pub fn u_pct(&self) -> f64 {
        match self {
            Self::Claimed(half_width) => half_width.u(),
            Self::Calibrated { u_pct, .. } => u_pct.abs(),
        }
    }

    /// Degrees of freedom.
    pub fn dof(&self) -> f64 {
        match self {
            Self::Claimed(_) => f64::MAX,
            Self::Calibrated { dof, .. } => dof.max(1.0),
        }
    }

    /// Where the number comes from.
    pub fn source(&self) -> &str {
        match self {
            Self::Claimed(half_width) => &half_width.source,
            Self::Calibrated { source, .. } => source,
        }
    }
}

/// What is known about a second reference, as one number.
#[derive(Clone, Debug, PartialEq)]
pub struct SecondReferenceAccuracy {
    /// How well its slope is known.
    pub slope: SlopeKnowledge,
}

impl Default for SecondReferenceAccuracy {
    fn default() -> Self {
        Self {
            slope: ReferenceAccuracy::default().slope,
        }
    }
}

/// When a window counts as steady.
///
/// The closure of flywheel energy is gated per window at `window_closure_pct`, wider than the
/// 0.2 % that is asked of a whole cell: in 30 s a person's cadence ends 1 rpm from where it began,
/// which alone is 0.3 % at 200 W. What is left over the cell is a term of the budget.
#[derive(Clone, Debug, PartialEq)]
pub struct GateSettings {
    /// Length of a window, s.
    pub window_s: u32,
    /// Shortest rest of a hold that still counts as a window of its own, s.
    pub shortest_s: u32,
    /// Time discarded after a level change where no script says how long, s.
    pub settle_s: u32,
    /// Largest coefficient of variation of cadence in a window, %.
    pub cadence_cv_pct: f64,
    /// Largest deviation of speed over cadence within a window, %.
    pub gear_ratio_pct: f64,
    /// Least covered share of a window on each stream, %.
    pub coverage_pct: f64,
    /// Equivalent moving mass of the flywheel for the energy closure, kg.
    pub equivalent_mass_kg: f64,
    /// Largest flywheel energy left over in one window, % of the work.
    pub window_closure_pct: f64,
    /// Flywheel energy left over in a cell from which an anomaly is noted, % of the work.
    pub cell_closure_pct: f64,
    /// Power below which a reference counts as reading zero, W.
    pub reference_zero_below_w: f64,
    /// Without a script: largest change of power from the first to the second half, %.
    pub plateau_change_pct: f64,
    /// Without a script: largest coefficient of variation of the reference's seconds, %.
    pub plateau_cv_pct: f64,
    /// Without a script: lowest mean power of a plateau, W.
    pub plateau_min_w: f64,
}

impl Default for GateSettings {
    fn default() -> Self {
        Self {
            window_s: 30,
            shortest_s: 15,
            settle_s: 10,
            cadence_cv_pct: 3.0,
            gear_ratio_pct: 1.0,
            coverage_pct: 95.0,
            equivalent_mass_kg: 20.0,
            window_closure_pct: 1.0,
            cell_closure_pct: 0.2,
            reference_zero_below_w: 5.0,
            plateau_change_pct: 5.0,
            plateau_cv_pct: 10.0,
            plateau_min_w: 30.0,
        }
    }
}

/// How streams are aligned.
#[derive(Clone, Debug, PartialEq)]
pub struct AlignSettings {
    /// Lags searched first, s: streams on one clock are no further apart.
    pub near_s: f64,
    /// Lags searched where nothing fits nearby, s: other recorders start minutes apart.
    pub far_s: f64,
    /// Length of a segment that gives one lag, s.
    pub segment_s: f64,
    /// Correlation of power below which streams do not belong together.
    pub min_correlation: f64,
    /// Largest standard uncertainty of a lag that is of use, s.
    pub max_u_s: f64,
}

impl Default for AlignSettings {
    fn default() -> Self {
        Self {
            near_s: 15.0,
            far_s: 1200.0,
            segment_s: 300.0,
            min_correlation: 0.5,
            max_u_s: 0.5,
        }
    }
}

/// When a value counts as a drop-out.
#[derive(Clone, Debug, PartialEq)]
pub struct DropOutSettings {
    /// Power of the other instrument from which it shows work, W.
    pub work_above_w: f64,
    /// Cadence from which somebody pedals, rpm.
    pub pedalling_above_rpm: f64,
    /// Live: seconds of zero or of an unchanged value before a flag is raised.
    pub flag_after_s: u32,
    /// Shortest run of one repeated value that can count as frozen, s.
    pub frozen_after_s: f64,
    /// Change of the reference during such a run that a live value would have shown, W.
    pub frozen_change_w: f64,
    /// The same, % of the reference.
    pub frozen_change_pct: f64,
}

impl Default for DropOutSettings {
    fn default() -> Self {
        Self {
            work_above_w: 20.0,
            pedalling_above_rpm: 30.0,
            flag_after_s: 3,
            frozen_after_s: 6.0,
            frozen_change_w: 15.0,
            frozen_change_pct: 10.0,
        }
    }
}
