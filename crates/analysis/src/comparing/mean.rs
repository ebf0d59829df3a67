//! The error of a session over several conditions as one number, with its uncertainty still term
//! by term, and its change between two sessions.
//!
//! All conditions weigh the same, so that sessions with the same conditions are compared like for
//! like whatever the seconds each was held for. Terms that are drawn anew in every condition average
//! out; the others are the same for all conditions of a session and do not: their mean is taken
//! with all correlations at one.

use super::change::{Change, of_terms};
use super::common::Common;
use super::conditions::{Condition, shared};
use crate::budget;
use crate::findings::{BudgetTerm, Cell};
use crate::outcome::Estimate;

/// The mean error of one session over conditions.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct MeanError {
    /// Mean of the errors, %.
    pub(super) value_pct: f64,
    /// Its uncertainty, term by term.
    pub(super) terms: Vec<BudgetTerm>,
}

impl MeanError {
    /// Over these cells; `None` without any.
    pub(super) fn of(cells: &[&Cell]) -> Option<Self> {
        if cells.is_empty() {
            return None;
        }
        let n = cells.len() as f64;
        let mut names: Vec<&str> = Vec::new();
        for term in cells.iter().flat_map(|cell| &cell.budget) {
            if !names.contains(&term.term.as_str()) {
                names.push(&term.term);
            }
        }
        let terms = names.into_iter().map(|name| {
            let of_all = || {
                let terms = cells.iter().flat_map(|cell| &cell.budget);
                terms.filter(move |term| term.term == name)
            };
            let (u_pct, dof) = if budget::is_own(name) {
                let combined = budget::combine(of_all().map(|t| (t.u_pct / n, t.dof)));
                (combined.u, combined.dof)
            } else {
                let sum: f64 = of_all().map(|term| term.u_pct).sum();
                (sum / n, of_all().map(|t| t.dof).fold(f64::MAX, f64::min))
            };
            BudgetTerm {
                term: name.to_owned(),
                u_pct,
                dof,
                source: format!("mean over {} conditions", cells.len()),
            }
        });
        Some(Self {
            value_pct: cells.iter().map(|cell| cell.bias_pct).sum::<f64>() / n,
            terms: terms.collect(),
        })
    }

    /// Value and combined uncertainty.
    pub(super) fn estimate(&self) -> Estimate {
        let combined = budget::combine_terms(&self.terms);
        Estimate {
            value: self.value_pct,
            u: combined.u,
            dof: combined.dof,
        }
    }
}

/// The mean change of one session from the first, over the conditions that both have.
#[derive(Clone, Debug, PartialEq)]
pub struct Shift {
    /// How many conditions.
    pub conditions: usize,
    /// The change.
    pub change: Change,
}

/// The shift of a session from the first; `None` where they share no condition.
pub(super) fn shift(conditions: &[Condition], session: usize, common: &[Common]) -> Option<Shift> {
    let both = shared(conditions, &[0, session]);
    let mean = |of: usize| {
        let cells = both.iter().filter_map(|c| Some(c.cells_of(&[of])?[0]));
        MeanError::of(&cells.collect::<Vec<_>>())
    };
    let (first, other) = (mean(0)?, mean(session)?);
    Some(Shift {
        conditions: both.len(),
        change: of_terms(
            [first.value_pct, other.value_pct],
            [&first.terms, &other.terms],
            common,
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::super::samples::{COMMON_PCT, OWN_PCT, cell};
    use super::*;

    /// By hand: three cells of own √(0.1² + 0.2²) average to a third of the variance; the common
    /// 0.6 and 0.5 stay.
    #[test]
    fn only_what_is_own_averages_out() {
        let cells = [cell(100.0, 1.0), cell(200.0, 1.2), cell(300.0, 1.7)];
        let mean = MeanError::of(&cells.iter().collect::<Vec<_>>()).unwrap();
        assert!((mean.value_pct - 1.3).abs() < 1e-12);
        let own = OWN_PCT.iter().map(|u| u * u).sum::<f64>() / 3.0;
        let common = COMMON_PCT.iter().map(|u| u * u).sum::<f64>();
        assert!((mean.estimate().u - (own + common).sqrt()).abs() < 1e-12);
        assert!(MeanError::of(&[]).is_none());
    }
}
