//! The uncertainty budget of one cell or window, term by term, and its combination after the GUM:
//! root sum of squares, effective degrees of freedom by Welch and Satterthwaite (GUM G.4.1).
//!
//! All terms are standard uncertainties in percent of the reference. The terms are taken as
//! uncorrelated; nothing in here corrects anything.

use crate::evidence::{Place, Stream};
use crate::findings::{BudgetTerm, Treatment};
use crate::settings::{Drivetrain, Settings};
use units::RevPerMin;

/// Name of the term that falls with riding.
pub(crate) const SCATTER: &str = "scatter of the mean (type A)";
/// Name of the term for how well the slope of the reference is known.
pub(crate) const SLOPE: &str = "reference slope";
/// Name of the term for the assumed loss between crank and hub.
pub(crate) const DRIVETRAIN: &str = "drivetrain";
/// Name of the term that is each visit's own.
pub(crate) const REPEAT: &str = "repeat to repeat";
/// Names of further terms that a cell does not share with the others.
const CLOSURE: &str = "flywheel energy not closed";
const RESOLUTION: &str = "resolution";
/// Cadence that turns torque into power where none was measured, rpm.
const USUAL_CADENCE_RPM: f64 = 90.0;
/// Standard uncertainty of a value in whole watts: 1/√12.
const WHOLE_WATT_U_W: f64 = 0.288_675_134_594_812_9;
/// Scatter of the device's seconds from which rounding to whole watts averages out, W.
const DITHERING_FROM_W: f64 = 0.5;

/// A combined standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Combined {
    /// Standard uncertainty, in the unit of the terms.
    pub u: f64,
    /// Effective degrees of freedom; `f64::MAX` for infinite.
    pub dof: f64,
}

/// Combines uncorrelated terms given as (standard uncertainty, degrees of freedom).
pub fn combine(terms: impl Iterator<Item = (f64, f64)> + Clone) -> Combined {
    let squares: f64 = terms.clone().map(|(u, _)| u * u).sum();
    let fourth: f64 = terms
        .filter(|&(_, dof)| dof < f64::MAX)
        .map(|(u, dof)| u.powi(4) / dof.max(1.0))
        .sum();
    let dof = if fourth > 0.0 {
        (squares * squares / fourth).min(f64::MAX)
    } else {
        f64::MAX
    };
    Combined {
        u: squares.sqrt(),
        dof,
    }
}

/// Combines the terms of a budget.
pub fn combine_terms(terms: &[BudgetTerm]) -> Combined {
    combine(terms.iter().map(|term| (term.u_pct, term.dof)))
}

/// Whether a term is a cell's own: drawn anew for each, where the others are the same for all cells
/// of a session.
pub(crate) fn is_own(term: &str) -> bool {
    [SCATTER, REPEAT, CLOSURE, RESOLUTION].contains(&term)
}

/// What about the two instruments enters the budget.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Instruments {
    /// Where the device measures.
    pub under_test: Place,
    /// Where the reference measures.
    pub reference: Place,
    /// Change of the reference's zero from before to after, N·m, if both were read.
    pub zero_change_nm: Option<f64>,
}

impl Instruments {
    /// From the two streams.
    pub fn of(under_test: &Stream, reference: &Stream) -> Self {
        let zeros = &reference.zero_offsets;
        let zero_change_nm = match (zeros.first(), zeros.last()) {
            (Some(first), Some(last)) if zeros.len() > 1 => {
                Some(last.torque_nm - first.torque_nm).filter(|change| change.is_finite())
            }
            _ => None,
        };
        Self {
            under_test: under_test.place,
            reference: reference.place,
            zero_change_nm,
        }
    }

    /// The treatments that make sense, the deciding one first: referred to the hub if the
    /// drivetrain lies between reference and device, else as indicated only.
    pub fn treatments(&self) -> &'static [Treatment] {
        if self.under_test.is_behind_drivetrain() && !self.reference.is_behind_drivetrain() {
            &[Treatment::HubReferred, Treatment::AsIndicated]
        } else {
            &[Treatment::AsIndicated]
        }
    }
}

impl Drivetrain {
    /// Loss between crank and hub at a crank power, W: the larger of the two models.
    pub fn loss_w(&self, crank_w: f64) -> f64 {
        let ordinary = (1.0 - self.efficiency) * crank_w;
        if crank_w > 0.0 {
            ordinary.max(self.low_power_loss_w(crank_w))
        } else {
            0.0
        }
    }

    /// Share of a crank power that reaches the hub.
    pub fn share_at_hub(&self, crank_w: f64) -> f64 {
        if crank_w <= 0.0 {
            return self.efficiency;
        }
        (1.0 - self.loss_w(crank_w) / crank_w).max(0.1)
    }

    /// Standard uncertainty of that share, % of the power at the hub.
    pub fn u_pct(&self, crank_w: f64) -> f64 {
        let share = self.share_at_hub(crank_w);
        let proportional = self.efficiency_half_width.u();
        let constant = if self.is_low_power(crank_w) {
            self.constant_half_width_w.u() / crank_w
        } else {
            0.0
        };
        100.0 * proportional.hypot(constant) / share
    }

    /// Whether the constant part of the loss rules.
    pub fn is_low_power(&self, crank_w: f64) -> bool {
        crank_w > 0.0 && self.low_power_loss_w(crank_w) > (1.0 - self.efficiency) * crank_w
    }

    fn low_power_loss_w(&self, crank_w: f64) -> f64 {
        self.constant_loss_w + self.proportional_loss * crank_w
    }
}

/// What a budget is drawn up for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Condition {
    /// Treatment.
    pub treatment: Treatment,
    /// Mean of the reference as indicated, W.
    pub indicated_reference_w: f64,
    /// Mean cadence, rpm.
    pub cadence_rpm: Option<f64>,
    /// Scatter of the mean, % of the reference, with degrees of freedom.
    pub type_a: (f64, f64),
    /// Number of independent seconds.
    pub n_eff: f64,
    /// Scatter of the device's seconds, W.
    pub under_test_sd_w: f64,
    /// Repeat-to-repeat scatter of this mean, %, with degrees of freedom; `None`: assumed.
    pub repeat: Option<(f64, f64)>,
    /// Flywheel energy left over, W.
    pub closure_w: Option<f64>,
}

/// The terms for one condition, in the order of the report.
pub fn terms(
    settings: &Settings,
    instruments: &Instruments,
    condition: &Condition,
) -> Vec<BudgetTerm> {
    let reference = &settings.reference;
    let indicated_w = condition.indicated_reference_w.max(1.0);
    let share = match condition.treatment {
        Treatment::AsIndicated => 1.0,
        Treatment::HubReferred => settings.drivetrain.share_at_hub(indicated_w),
    };
    let reference_w = indicated_w * share;
    let mut terms = Vec::with_capacity(10);
    let mut add = |term: &str, u_pct: f64, dof: f64, source: String| {
        terms.push(BudgetTerm {
            term: term.into(),
            u_pct,
            dof,
            source,
        });
    };

    add(
        SLOPE,
        reference.slope.u_pct(),
        reference.slope.dof(),
        reference.slope.source().into(),
    );

    let omega = RevPerMin(condition.cadence_rpm.unwrap_or(USUAL_CADENCE_RPM)).to_rad_per_second();
    let (zero_nm, zero_source) = match instruments.zero_change_nm {
        Some(change) => (
            change.abs() / 2.0,
            format!(
                "half of the change from before to after, {:.2} N·m",
                change.abs()
            ),
        ),
        None => (
            reference.zero_change_nm.u(),
            reference.zero_change_nm.source.clone(),
        ),
    };
    add(
        "reference zero",
        100.0 * zero_nm * omega.get().abs() / indicated_w,
        f64::MAX,
        zero_source,
    );

    add(
        "reference temperature",
        reference.temperature_pct.u(),
        f64::MAX,
        reference.temperature_pct.source.clone(),
    );
    if !instruments.reference.is_behind_drivetrain() {
        add(
            "uniform cadence within a turn",
            reference.uniform_cadence_pct.u(),
            f64::MAX,
            reference.uniform_cadence_pct.source.clone(),
        );
    }
    if instruments.reference == Place::OneSide {
        add(
            "left and right split",
            reference.one_side_pct.u(),
            f64::MAX,
            reference.one_side_pct.source.clone(),
        );
    }
    if condition.treatment == Treatment::HubReferred {
        let drivetrain = &settings.drivetrain;
        let mut source = drivetrain.efficiency_half_width.source.clone();
        if drivetrain.is_low_power(indicated_w) {
            source = format!("{source}; {}", drivetrain.constant_half_width_w.source);
        }
        add(DRIVETRAIN, drivetrain.u_pct(indicated_w), f64::MAX, source);
    }

    let (u_a, dof_a) = condition.type_a;
    add(
        SCATTER,
        u_a,
        dof_a,
        format!(
            "paired differences, {:.0} independent seconds",
            condition.n_eff
        ),
    );
    match condition.repeat {
        Some((u_pct, dof)) => add(
            REPEAT,
            u_pct,
            dof,
            "scatter between repeats, pooled over the cells with the assumed one".into(),
        ),
        None => add(
            REPEAT,
            reference.repeat_pct.u(),
            f64::MAX,
            reference.repeat_pct.source.clone(),
        ),
    }
    if let Some(closure_w) = condition.closure_w {
        add(
            CLOSURE,
            100.0 * closure_w.abs() / reference_w / 3f64.sqrt(),
            f64::MAX,
            format!(
                "{:.2} W left over, {} kg equivalent mass assumed",
                closure_w.abs(),
                settings.gate.equivalent_mass_kg
            ),
        );
    }
    let dithered = condition.under_test_sd_w > DITHERING_FROM_W;
    let resolution_w = if dithered {
        WHOLE_WATT_U_W / condition.n_eff.max(1.0).sqrt()
    } else {
        WHOLE_WATT_U_W
    };
    add(
        RESOLUTION,
        100.0 * resolution_w / reference_w,
        f64::MAX,
        if dithered {
            "whole watts, averaged out by the variation of the seconds".into()
        } else {
            "whole watts".into()
        },
    );
    terms
}
