//! Which sessions can be put in an order by the size of their error, and which cannot.
//!
//! Compared are means over the conditions that all sessions rode. What two sessions may have in
//! common works both ways here: between errors of one sign it cancels, between errors of opposite
//! sign it adds, because a reference that reads too low makes one look better and the other worse.
//! An order is an adverse statement about the later one, so the larger uncertainty is taken each
//! time: for one sign none is taken as common, for opposite signs the slope of the reference and
//! the loss of the drivetrain are taken as common wherever they are not proved to be different.

use super::kind::{Kind, Recognised};
use super::mean::MeanError;
use crate::budget;
use crate::examinations::comparison::{self, Ranking, ranking_by};
use crate::outcome::{Estimate, NotTested, Outcome};

/// Puts the sessions in an order as far as the combined uncertainty allows.
///
/// # Errors
/// [`NotTested`] for repeats, and where no condition was ridden in all sessions.
pub(super) fn order(
    means: Option<&[MeanError]>,
    kind: &Recognised,
    names: &[String],
) -> Outcome<Ranking> {
    let refused = |reason: &str| {
        Err(NotTested {
            examination: comparison::NAME,
            reason: reason.into(),
        })
    };
    if kind.kind == Kind::Repeats {
        return refused("repeats of one unit have a spread and no order");
    }
    let Some(means) = means else {
        return refused(
            "no condition was ridden in all of the sessions; ride the same script in each",
        );
    };
    let errors: Vec<(String, Estimate)> = names
        .iter()
        .zip(means)
        .map(|(name, mean)| (name.clone(), mean.estimate()))
        .collect();
    ranking_by(&errors, "%", &|a, b| of_sizes(&means[a], &means[b]))
}

/// Uncertainty of the difference of the sizes of two errors, with its degrees of freedom.
fn of_sizes(a: &MeanError, b: &MeanError) -> (f64, f64) {
    let opposite = a.value_pct * b.value_pct < 0.0;
    let adds = |term: &str| opposite && [budget::SLOPE, budget::DRIVETRAIN].contains(&term);
    let mut parts = Vec::with_capacity(a.terms.len() + b.terms.len());
    for term in &a.terms {
        let partner = b.terms.iter().find(|it| it.term == term.term);
        match partner.filter(|_| adds(&term.term)) {
            Some(partner) => parts.push((term.u_pct + partner.u_pct, term.dof.min(partner.dof))),
            None => parts.push((term.u_pct, term.dof)),
        }
    }
    for term in &b.terms {
        let has_partner = a.terms.iter().any(|it| it.term == term.term);
        if !(has_partner && adds(&term.term)) {
            parts.push((term.u_pct, term.dof));
        }
    }
    let combined = budget::combine(parts.into_iter());
    (combined.u, combined.dof)
}

#[cfg(test)]
mod tests {
    use super::super::samples::{COMMON_PCT, OWN_PCT, cell};
    use super::*;

    fn mean(error: f64) -> MeanError {
        MeanError::of(&[&cell(200.0, error)]).unwrap()
    }

    fn kind(kind: Kind) -> Recognised {
        Recognised {
            kind,
            told: kind,
            sentences: Vec::new(),
            groups: vec![0, 1],
            group_names: Vec::new(),
        }
    }

    /// By hand: own √0.05, common 0.6 and 0.5. One sign: √(2·(0.05 + 0.36 + 0.25)); opposite signs:
    /// √(2·0.05 + 1.2² + 1.0²).
    #[test]
    fn what_is_common_adds_between_opposite_signs() {
        let own: f64 = OWN_PCT.iter().map(|u| u * u).sum();
        let common: f64 = COMMON_PCT.iter().map(|u| u * u).sum();
        let (u, _) = of_sizes(&mean(1.0), &mean(2.0));
        assert!((u - (2.0 * (own + common)).sqrt()).abs() < 1e-12);
        let (u, _) = of_sizes(&mean(1.0), &mean(-2.0));
        assert!((u - (2.0 * own + 4.0 * common).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn repeats_are_not_ranked_and_close_ones_are_not_either() {
        let names = ["session 1".to_owned(), "session 2".to_owned()];
        let means = [mean(0.5), mean(0.9)];
        let refused = order(Some(&means), &kind(Kind::Repeats), &names).unwrap_err();
        assert!(refused.reason.contains("no order"), "{refused}");
        assert!(order(None, &kind(Kind::Devices), &names).is_err());
        let close = order(Some(&means), &kind(Kind::Devices), &names).unwrap();
        assert!(close.sentence.contains("do not allow an order"));
        let far = [mean(0.5), mean(5.0)];
        let found = order(Some(&far), &kind(Kind::Devices), &names).unwrap();
        assert!(found.result.pairs[0].apart);
    }
}
