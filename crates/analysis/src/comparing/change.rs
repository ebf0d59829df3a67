//! A change between two sessions with its 95 % interval, and what of the two uncertainties is
//! common and cancels.
//!
//! The error of each session is the sum of the terms of its budget, so that the variance of a
//! difference is Σ (u₁² + u₂² − 2·r·u₁·u₂) over the terms, r being the correlation of a term
//! between the sessions (JCGM 100:2008, 5.2.2: inputs of sensitivity +1 and −1). Such a correlation
//! is there, and must not be ignored, where both measurements used the same physical standard or
//! instrument (5.2.4). Two cases are kept apart and both are given:
//!
//! * **independent**: r = 0 for every term. As no correlation here can be negative, this interval
//!   is never too narrow, whatever is common.
//! * **common terms cancelled**: r = 1 for those terms whose cause is provably the same thing in
//!   both sessions: the slope of one and the same reference, the loss of one and the same
//!   drivetrain. What is left of such a term is |u₁ − u₂|. This rests on an assumption that the
//!   sessions cannot prove – that the thing stayed as it was in between – and it is said in words.
//!
//! A change is *shown* where both intervals leave out zero. Where only the second does, it is
//! *shown if what is common held*: a finding with its condition, not a plain one. Everything else
//! (zero, temperature, uniform cadence, the split of the sides, scatter, repeats) is drawn anew in
//! every session, or cannot be proved to be the same, and is never cancelled.

use super::common::Common;
use crate::budget::{self, Combined};
use crate::findings::{BudgetTerm, Cell};
use crate::outcome::Estimate;
use crate::stats::intervals::{excludes, interval_95};

/// A change from the first session to another, percent of the reference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    /// Other minus first, %.
    pub value_pct: f64,
    /// Its uncertainty with nothing taken as common.
    pub independent: Bounds,
    /// Its uncertainty with the common terms cancelled; `None` where nothing is provably common.
    pub cancelled: Option<Bounds>,
    /// Whether it is shown.
    pub shown: Shown,
}

/// An uncertainty as an interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// Standard uncertainty, %.
    pub u_pct: f64,
    /// Effective degrees of freedom; `f64::MAX` for infinite.
    pub dof: f64,
    /// 95 % interval of the change, %.
    pub interval: [f64; 2],
}

/// Whether a change is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shown {
    /// Zero lies outside both intervals.
    Yes,
    /// Zero lies outside the interval with common terms cancelled only.
    IfCommonHeld,
    /// It is not.
    No,
}

impl Shown {
    /// The word of the JSON document.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Yes => "shown",
            Self::IfCommonHeld => "shown-if-common-held",
            Self::No => "not-shown",
        }
    }

    /// The same for people.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Yes => "shown",
            Self::IfCommonHeld => "shown if what is common held",
            Self::No => "not shown",
        }
    }
}

/// The change from one cell to another.
pub(super) fn change(first: &Cell, other: &Cell, common: &[Common]) -> Change {
    let terms = |cell: &Cell| {
        if cell.budget.is_empty() {
            vec![whole(cell)]
        } else {
            cell.budget.clone()
        }
    };
    of_terms(
        [first.bias_pct, other.bias_pct],
        [&terms(first), &terms(other)],
        common,
    )
}

/// A budget of one term, for a cell that came without one.
fn whole(cell: &Cell) -> BudgetTerm {
    BudgetTerm {
        term: "combined".into(),
        u_pct: cell.u_pct,
        dof: cell.dof,
        source: String::new(),
    }
}

/// The change between two values, %, whose uncertainties are given term by term.
pub(super) fn of_terms(
    [first, other]: [f64; 2],
    [first_terms, other_terms]: [&[BudgetTerm]; 2],
    common: &[Common],
) -> Change {
    let value = other - first;
    let is_common = |term: &str| common.iter().any(|one| one.term == term);
    let bounds = |cancels: &dyn Fn(&str) -> bool| {
        let Combined { u, dof } = difference(first_terms, other_terms, cancels);
        Bounds {
            u_pct: u,
            dof,
            interval: interval_95(Estimate { value, u, dof }),
        }
    };
    let independent = bounds(&|_| false);
    let cancels = first_terms.iter().any(|term| is_common(&term.term));
    let cancelled = cancels.then(|| bounds(&is_common));
    let apart = |bounds: &Bounds| excludes(bounds.interval, 0.0);
    let shown = match (apart(&independent), cancelled.as_ref().map(apart)) {
        (true, None | Some(true)) => Shown::Yes,
        (_, Some(true)) => Shown::IfCommonHeld,
        _ => Shown::No,
    };
    Change {
        value_pct: value,
        independent,
        cancelled,
        shown,
    }
}

/// The uncertainty of a difference of two errors with these terms.
pub(super) fn difference(
    first: &[BudgetTerm],
    other: &[BudgetTerm],
    cancels: &dyn Fn(&str) -> bool,
) -> Combined {
    let mut parts: Vec<(f64, f64)> = Vec::with_capacity(first.len() + other.len());
    let mut taken: Vec<&str> = Vec::new();
    for term in first {
        let partner = other.iter().find(|it| it.term == term.term);
        match partner.filter(|_| cancels(&term.term)) {
            Some(partner) => {
                parts.push((
                    (term.u_pct - partner.u_pct).abs(),
                    term.dof.min(partner.dof),
                ));
                taken.push(&term.term);
            }
            None => parts.push((term.u_pct, term.dof)),
        }
    }
    let rest = other.iter().filter(|it| !taken.contains(&it.term.as_str()));
    parts.extend(rest.map(|it| (it.u_pct, it.dof)));
    budget::combine(parts.iter().copied())
}

#[cfg(test)]
mod tests {
    use super::super::samples::{COMMON_PCT, OWN_PCT, cell};
    use super::*;
    use crate::examinations::synthetic::Noise;

    fn term(name: &str, u_pct: f64, dof: f64) -> BudgetTerm {
        BudgetTerm {
            term: name.into(),
            u_pct,
            dof,
            source: String::new(),
        }
    }

    fn slope() -> Vec<Common> {
        vec![Common {
            term: budget::SLOPE,
            because: String::new(),
        }]
    }

    fn close(found: f64, expected: f64) {
        assert!((found - expected).abs() < 1e-12, "{found} not {expected}");
    }

    /// By hand: slope 0.6 and 0.6, scatter 0.3 and 0.4. Independent √(2·0.36 + 0.25) = √0.97;
    /// with the slope cancelled 0.5.
    #[test]
    fn what_is_common_cancels_and_both_are_given() {
        let first = [
            term(budget::SLOPE, 0.6, f64::MAX),
            term(budget::SCATTER, 0.3, 9.0),
        ];
        let other = [
            term(budget::SLOPE, 0.6, f64::MAX),
            term(budget::SCATTER, 0.4, 16.0),
        ];
        let found = of_terms([0.5, 2.0], [&first, &other], &slope());
        close(found.value_pct, 1.5);
        close(found.independent.u_pct, 0.97f64.sqrt());
        let cancelled = found.cancelled.unwrap();
        close(cancelled.u_pct, 0.5);
        // Welch and Satterthwaite, GUM G.4.1: 0.5⁴/(0.3⁴/9 + 0.4⁴/16) = 0.0625/0.0025 = 25, and
        // t for 25 degrees of freedom is 2.0595 (GUM table G.2: 2.06).
        close(cancelled.dof, 25.0);
        assert!((cancelled.interval[1] - (1.5 + 2.0595 * 0.5)).abs() < 1e-4);
        // 1.5 against 1.96·0.985 = 1.93 is not shown with nothing in common, and is with.
        assert_eq!(found.shown, Shown::IfCommonHeld);
        let none = of_terms([0.5, 2.0], [&first, &other], &[]);
        assert_eq!((none.cancelled, none.shown), (None, Shown::No));
        let large = of_terms([0.5, 4.0], [&first, &other], &slope());
        assert_eq!(large.shown, Shown::Yes);
    }

    /// Where the term differs – a zero weighs more at low power – the rest of it stays: |0.7 − 0.6|.
    #[test]
    fn of_a_common_term_that_differs_the_difference_stays() {
        let [first, other] = [0.6, 0.7].map(|u| [term(budget::SLOPE, u, f64::MAX)]);
        let found = of_terms([0.0, 0.0], [&first, &other], &slope());
        close(found.cancelled.unwrap().u_pct, 0.1);
        close(found.independent.u_pct, 0.85f64.sqrt());
    }

    /// JCGM 100:2008, 5.2.2 for y = x₂ − x₁ with r = 1, against the sum over the terms.
    #[test]
    fn the_formula_is_that_of_correlated_inputs() {
        let (u1, u2, r): (f64, f64, f64) = (0.58, 0.33, 1.0);
        let by_the_guide = (u1 * u1 + u2 * u2 - 2.0 * r * u1 * u2).sqrt();
        let [first, other] = [u1, u2].map(|u| [term(budget::SLOPE, u, f64::MAX)]);
        let found = difference(&first, &other, &|_| true);
        close(found.u, by_the_guide);
    }

    /// 4 000 pairs of sessions that share the error of the reference and the drivetrain, drawn from
    /// the budget: the interval with these cancelled holds the true change in 95 of 100, and the
    /// independent one in more.
    #[test]
    fn the_intervals_hold_the_true_change() {
        let mut noise = Noise::new(7);
        let common = [budget::SLOPE, budget::DRIVETRAIN].map(|term| Common {
            term,
            because: String::new(),
        });
        let (mut cancelled, mut independent, pairs) = (0, 0, 4000);
        for _ in 0..pairs {
            let shared: f64 = COMMON_PCT.iter().map(|u| u * noise.normal()).sum();
            let mut session = |truth: f64| {
                let own: f64 = OWN_PCT.iter().map(|u| u * noise.normal()).sum();
                cell(200.0, truth + shared + own)
            };
            let found = change(&session(1.0), &session(1.7), &common);
            let holds = |bounds: Bounds| !excludes(bounds.interval, 0.7);
            cancelled += usize::from(holds(found.cancelled.unwrap()));
            independent += usize::from(holds(found.independent));
        }
        let share = |count: usize| count as f64 / f64::from(pairs);
        assert!((0.94..=0.96).contains(&share(cancelled)), "{cancelled}");
        assert!(share(independent) > 0.999, "{independent}");
    }

    #[test]
    fn a_cell_with_itself_has_not_changed() {
        let cell = cell(200.0, 1.3);
        let found = change(&cell, &cell, &slope());
        assert_eq!(found.value_pct, 0.0);
        assert_eq!(found.shown, Shown::No);
        assert!(found.independent.interval[0] < 0.0 && found.independent.interval[1] > 0.0);
    }
}
