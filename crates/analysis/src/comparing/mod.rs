//! Two to twelve judged sessions compared: repeats, before and after, several units, different
//! devices.
//!
//! The cells of the sessions are put together by condition; every change from the first session
//! has its 95 % interval, twice: with nothing taken as common to the two sessions, and with what is
//! provably common cancelled (`change`). Spread comes from variance components (`spread`), an
//! order is given as far as the combined uncertainty allows (`order`), and the curves are laid
//! over each other by the steps of the script or by the clock (`overlay`). Nothing is judged
//! anew: verdicts are those of the sessions.

mod along;
mod calibrated;
mod change;
mod common;
mod conditions;
mod kind;
mod mean;
mod order;
mod overlay;
mod plots;
mod remarks;
#[cfg(test)]
mod samples;
mod sides;
mod spread;

pub use along::{Along, LaidStep};
pub use change::{Bounds, Change, Shown};
pub use common::Common;
pub use conditions::{Compared, Condition, Counts, SAME_CADENCE_RPM, SAME_LEVEL_W, SAME_SPEED_KMH};
pub use kind::{Kind, Recognised};
pub use mean::Shift;
pub use overlay::Overlay;
pub use sides::{Calibration, Instrument, Sameness, Script, Side};
pub use spread::Spread;

use crate::examinations::comparison::{BeforeAfter, Ranking, before_after};
use crate::findings::Treatment;
use crate::outcome::{Estimate, NotTested, Outcome, Plot};
use mean::MeanError;

/// Fewest and most sessions of a comparison.
pub const SESSIONS: [usize; 2] = [2, 12];
/// Name of the comparison where it is refused.
const NAME: &str = "comparison of sessions";

/// Several sessions compared. Whatever is listed by session stands in the order they were given.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// The treatment that is compared: the deciding one of the first session.
    pub treatment: Treatment,
    /// What the sessions are to each other.
    pub kind: Recognised,
    /// For each session what of its uncertainty is common with the first; empty for the first.
    pub common: Vec<Vec<Common>>,
    /// The conditions by level, with the cell of each session.
    pub conditions: Vec<Condition>,
    /// For each session its mean change from the first; `None` for the first and where they share
    /// no condition.
    pub shifts: Vec<Option<Shift>>,
    /// For each session its mean error over the conditions that all rode; `None` without any.
    pub means: Option<Means>,
    /// Spread between repeats or units, or why there is none.
    pub spread: Result<Spread, NotTested>,
    /// Repeats before against repeats after, where there are two states with repeats of each.
    pub states: Outcome<BeforeAfter>,
    /// An order by the size of the errors, or why there is none.
    pub order: Outcome<Ranking>,
    /// What was found, in sentences.
    pub sentences: Vec<String>,
    /// What the intervals rest on, in sentences.
    pub basis: Vec<String>,
    /// What a reader has to know before trusting it, in sentences.
    pub cautions: Vec<String>,
    /// Plots of the conditions.
    pub plots: Vec<Plot>,
    /// The curves laid over each other by the steps of the script, or why not.
    pub by_step: Result<Overlay, NotTested>,
    /// The curves laid over each other by the clock, or why not.
    pub by_clock: Result<Overlay, NotTested>,
}

/// The mean error of each session.
#[derive(Clone, Debug, PartialEq)]
pub struct Means {
    /// Over how many conditions.
    pub conditions: usize,
    /// One for each session, %.
    pub errors_pct: Vec<Estimate>,
}

impl Comparison {
    /// The overlay of one kind.
    ///
    /// # Errors
    /// Why there is none.
    pub fn overlay(&self, along: Along) -> Result<&Overlay, &NotTested> {
        match along {
            Along::Step => self.by_step.as_ref(),
            Along::Clock => self.by_clock.as_ref(),
        }
    }
}

/// Compares sessions with the first of them; `asked` overrules the kind that they tell.
///
/// # Errors
/// [`NotTested`] with fewer than two sessions or more than twelve.
pub fn compare(sides: &[Side<'_>], asked: Option<Kind>) -> Result<Comparison, NotTested> {
    let [fewest, most] = SESSIONS;
    if !(fewest..=most).contains(&sides.len()) {
        return Err(NotTested {
            examination: NAME,
            reason: format!(
                "{} sessions were given; {fewest} to {most} can be compared",
                sides.len()
            ),
        });
    }
    let kind = kind::recognise(sides, asked);
    let shared: Vec<common::Shared> = sides
        .iter()
        .enumerate()
        .map(|(index, side)| match index {
            0 => common::Shared::default(),
            _ => common::shared_with(&sides[0], side),
        })
        .collect();
    let basis = remarks::common(&shared);
    let common: Vec<Vec<Common>> = shared.into_iter().map(|shared| shared.common).collect();
    let conditions = conditions::conditions(sides, &common);
    let shifts: Vec<Option<Shift>> = common
        .iter()
        .enumerate()
        .map(|(index, common)| match index {
            0 => None,
            _ => mean::shift(&conditions, index, common),
        })
        .collect();
    let means = spread::means(&conditions, sides.len());
    let of_sessions = means.as_ref().map(|(means, _)| means.as_slice());
    let spread = spread::spread(&conditions, sides.len(), &kind);
    let names: Vec<String> = (1..=sides.len()).map(|n| format!("session {n}")).collect();
    let order = order::order(of_sessions, &kind, &names);
    let states = states(of_sessions, &kind);
    let mut sentences = kind.sentences.clone();
    sentences.extend(remarks::changes(&conditions, &shifts));
    sentences.extend(states.as_ref().ok().map(|found| found.sentence.clone()));
    sentences.extend(spread.as_ref().ok().map(|found| found.sentence.clone()));
    sentences.push(match &order {
        Ok(found) => found.sentence.clone(),
        Err(not) => format!("No order is given: {}.", not.reason),
    });
    Ok(Comparison {
        treatment: sides[0].findings.overall.treatment,
        cautions: remarks::cautions(sides, &conditions),
        plots: plots::plots(&conditions, sides.len(), of_sessions),
        by_step: overlay::overlay(sides, Along::Step),
        by_clock: overlay::overlay(sides, Along::Clock),
        means: means.map(|(means, conditions)| Means {
            conditions,
            errors_pct: means.iter().map(MeanError::estimate).collect(),
        }),
        kind,
        common,
        conditions,
        shifts,
        spread,
        states,
        order,
        sentences,
        basis,
    })
}

/// Repeats of the first state against repeats of the other, each session one result: its mean over
/// the conditions that all rode.
fn states(means: Option<&[MeanError]>, kind: &Recognised) -> Outcome<BeforeAfter> {
    let refused = |reason: &str| {
        Err(NotTested {
            examination: NAME,
            reason: reason.into(),
        })
    };
    if kind.kind != Kind::BeforeAfter || kind.group_names.len() != 2 {
        return refused("there are not two states of one unit");
    }
    let Some(means) = means else {
        return refused("no condition was ridden in all of the sessions");
    };
    let of_group = |group: usize| -> Vec<f64> {
        let members = means.iter().zip(&kind.groups);
        members
            .filter(|(_, of)| **of == group)
            .map(|(mean, _)| mean.value_pct)
            .collect()
    };
    before_after(&of_group(0), &of_group(1), None, "%")
}

#[cfg(test)]
mod tests {
    use super::samples::{Sample, sides};
    use super::*;
    use proptest::prelude::*;

    fn of(samples: &[Sample]) -> Comparison {
        compare(&sides(samples), None).unwrap()
    }

    fn shifted(by: f64) -> Sample {
        Sample {
            cells: vec![(100.0, 1.0 + by), (200.0, 1.2 + by), (300.0, 1.4 + by)],
            ..Sample::default()
        }
    }

    #[test]
    fn a_session_with_itself_has_changed_by_exactly_nothing() {
        let found = of(&[Sample::default(), Sample::default()]);
        assert_eq!(found.kind.kind, Kind::Repeats);
        assert_eq!(found.conditions.len(), 3);
        for condition in &found.conditions {
            let change = condition.cells[1].as_ref().unwrap().change.unwrap();
            assert_eq!((change.value_pct, change.shown), (0.0, Shown::No));
        }
        assert_eq!(found.shifts[1].as_ref().unwrap().change.value_pct, 0.0);
        assert!(found.order.is_err());
        assert_eq!(found.spread.unwrap().s_pct, 0.0);
    }

    #[test]
    fn one_session_is_too_few_and_thirteen_are_too_many() {
        let many = vec![Sample::default(); 13];
        for count in [0, 1, 13] {
            let refused = compare(&sides(&many[..count]), None).unwrap_err();
            assert!(refused.reason.contains("2 to 12"), "{refused}");
        }
        let twelve = of(&many[..12]);
        assert_eq!(twelve.shifts.iter().flatten().count(), 11);
    }

    /// Three cells, own √0.05 each: the mean change has u = √(2·0.05/3) with what is common
    /// cancelled, and √(2·(0.05/3 + 0.61)) without.
    #[test]
    fn before_and_after_an_update_has_a_mean_change() {
        let after = Sample {
            firmware: Some("2.0"),
            ..shifted(0.8)
        };
        let found = of(&[Sample::default(), after.clone()]);
        assert_eq!(found.kind.kind, Kind::BeforeAfter);
        let shift = found.shifts[1].as_ref().unwrap();
        assert_eq!(shift.conditions, 3);
        assert!((shift.change.value_pct - 0.8).abs() < 1e-12);
        let u = |bounds: Bounds| bounds.u_pct;
        assert!(
            (u(shift.change.independent) - (2.0f64 * (0.05 / 3.0 + 0.61)).sqrt()).abs() < 1e-12
        );
        assert!((u(shift.change.cancelled.unwrap()) - (0.1f64 / 3.0).sqrt()).abs() < 1e-12);
        assert_eq!(shift.change.shown, Shown::IfCommonHeld);
        let words = found.sentences.join(" ");
        assert!(
            words.contains("assumption that what is common held"),
            "{words}"
        );
        assert!(found.spread.is_err() && found.states.is_err());
        assert!(
            found
                .basis
                .iter()
                .any(|s| s.contains("5.2, correlated inputs"))
        );
        // Two of each state are compared by Welch's test, without any assumption about terms.
        let again = |sample: &Sample, by: f64| Sample {
            cells: sample.cells.iter().map(|(w, pct)| (*w, pct + by)).collect(),
            ..sample.clone()
        };
        let before = Sample::default();
        let found = of(&[
            before.clone(),
            again(&before, 0.1),
            after.clone(),
            again(&after, 0.1),
        ]);
        let states = found.states.unwrap().result;
        assert!((states.difference.value - 0.8).abs() < 1e-12);
        // Variance 0.005 of each pair: u = √(0.005/2 + 0.005/2).
        assert!((states.difference.u - 0.005f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn other_rules_and_silent_identities_are_said() {
        let certified = Sample {
            certified: true,
            reference_serial: None,
            bike: None,
            ..Sample::default()
        };
        let found = of(&[Sample::default(), certified]);
        let cautions = found.cautions.join(" ");
        assert!(
            cautions.contains("knowledge of the reference"),
            "{cautions}"
        );
        assert!(cautions.contains("--settings"));
        let basis = found.basis.join(" ");
        assert!(basis.contains("not taken as common"), "{basis}");
        assert!(found.common[1].is_empty());
    }

    #[test]
    fn scripts_that_differ_leave_the_conditions() {
        let first = Sample {
            steps: vec![("hold", 100.0, 0, 60)],
            ..Sample::default()
        };
        let mut other = first.clone();
        other.steps = vec![("hold", 150.0, 0, 60)];
        other.script = Some("another");
        let found = of(&[first, other]);
        assert!(found.by_step.is_err() && found.by_clock.is_ok());
        assert!(found.overlay(Along::Step).is_err());
        assert_eq!(found.conditions.len(), 3);
    }

    fn ridden() -> impl Strategy<Value = Vec<(f64, f64)>> {
        prop::collection::vec((50.0..400.0f64, -8.0..8.0f64), 1..8)
    }

    /// Levels 50 W apart, so that what belongs together is clear.
    fn ridden_apart() -> impl Strategy<Value = Vec<(f64, f64)>> {
        prop::collection::vec(-8.0..8.0f64, 1..8).prop_map(|errors| {
            let levels = (1..).map(|level| 50.0 * f64::from(level));
            levels.zip(errors).collect()
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        /// Whatever was ridden: against itself nothing changed, nothing spreads, nothing is ranked.
        #[test]
        fn against_itself_nothing_is_found(cells in ridden(), count in 2..5usize) {
            let sample = Sample { cells, ..Sample::default() };
            let samples = vec![sample; count];
            let found = of(&samples);
            for compared in found.conditions.iter().flat_map(|c| c.cells.iter().flatten()) {
                if let Some(change) = compared.change {
                    prop_assert_eq!(change.value_pct, 0.0);
                    prop_assert_eq!(change.shown, Shown::No);
                }
            }
            for shift in found.shifts.iter().flatten() {
                prop_assert_eq!(shift.change.value_pct, 0.0);
                prop_assert_eq!(shift.change.shown, Shown::No);
            }
            prop_assert!(found.order.is_err());
            let as_devices = compare(&sides(&samples), Some(Kind::Devices)).unwrap();
            let order = as_devices.order.unwrap().result;
            prop_assert_eq!(order.tiers.len(), 1);
            prop_assert!(order.pairs.iter().all(|pair| !pair.apart));
        }

        /// The other way round a change has the other sign and the same intervals; the interval with
        /// what is common cancelled is never the wider one by its uncertainty.
        #[test]
        fn the_other_way_round_the_sign_turns(first in ridden_apart(), other in ridden_apart()) {
            let [first, other] = [first, other].map(|cells| Sample { cells, ..Sample::default() });
            let there = of(&[first.clone(), other.clone()]);
            let back = of(&[other, first]);
            let mean = |found: &Comparison| found.shifts[1].as_ref().map(|shift| shift.change);
            if let (Some(there), Some(back)) = (mean(&there), mean(&back)) {
                prop_assert!((there.value_pct + back.value_pct).abs() < 1e-9);
                let (a, b) = (there.independent, back.independent);
                prop_assert!((a.u_pct - b.u_pct).abs() < 1e-9);
                prop_assert!(there.cancelled.unwrap().u_pct <= a.u_pct);
                prop_assert!(a.interval.iter().all(|end| end.is_finite()));
            }
        }
    }
}
