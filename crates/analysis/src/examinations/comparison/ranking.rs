//! Which of several results can be told apart by the size of their errors.

use super::NAME;
use super::order::{RankedPair, Ranking, order_words};
use crate::examinations::words;
use crate::outcome::{Estimate, Ink, Outcome, Tested, not_tested};
use crate::stats::intervals::interval_95;
use crate::stats::order::exceeds;

/// Orders several results by the size of their error, as far as their uncertainties allow, which
/// are taken as independent: two are put in an order only if the interval of the difference of
/// their sizes excludes zero, with Holm's correction for the number of pairs.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with fewer than two results.
pub fn ranking(errors: &[(String, Estimate)], unit: &str) -> Outcome<Ranking> {
    ranking_by(errors, unit, &|a, b| {
        let (a, b) = (errors[a].1, errors[b].1);
        let u = a.u.hypot(b.u);
        // Welch and Satterthwaite.
        let fourth = a.u.powi(4) / a.dof + b.u.powi(4) / b.dof;
        let dof = if fourth > 0.0 {
            u.powi(4) / fourth
        } else {
            f64::MAX
        };
        (u, dof.min(f64::MAX))
    })
}

/// The same with the uncertainty of the difference of two sizes, and its degrees of freedom, given
/// by `of_pair`.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with fewer than two results.
pub fn ranking_by(
    errors: &[(String, Estimate)],
    unit: &str,
    of_pair: &dyn Fn(usize, usize) -> (f64, f64),
) -> Outcome<Ranking> {
    if errors.len() < 2
        || errors
            .iter()
            .any(|(_, e)| !(e.value.is_finite() && e.u >= 0.0))
    {
        return not_tested(
            NAME,
            "fewer than two results with uncertainty; compare two or more",
        );
    }
    let pairs = pairs(errors, of_pair);
    let size = |i: usize| errors[i].1.value.abs();
    let mut order: Vec<usize> = (0..errors.len()).collect();
    order.sort_by(|a, b| size(*a).total_cmp(&size(*b)));
    let apart = |a: usize, b: usize| {
        let found = pairs
            .iter()
            .find(|pair| (pair.better, pair.worse) == (a, b));
        found.is_some_and(|pair| pair.apart)
    };
    let mut tiers: Vec<Vec<usize>> = Vec::new();
    for i in order {
        match tiers.last_mut() {
            Some(tier) if !apart(tier[0], i) => tier.push(i),
            _ => tiers.push(vec![i]),
        }
    }
    let ranking = Ranking { tiers, pairs };
    let sentence = order_words(errors, &ranking, unit);
    let plots = vec![words::plot(
        "comparison",
        "Errors of all results",
        ["result, in the order of the list", unit],
        vec![
            words::level(Ink::Reference, "no error", 0.0),
            words::intervals(
                Ink::UnderTest,
                "results",
                errors
                    .iter()
                    .enumerate()
                    .map(|(i, (_, e))| {
                        let [low, high] = interval_95(*e);
                        [(i + 1) as f64, low, e.value, high]
                    })
                    .collect(),
            ),
        ],
        format!("{} results, 95 % intervals", errors.len()),
    )];
    Ok(Tested {
        result: ranking,
        sentence,
        plots,
    })
}

/// Every pair, tested two-sided: errors of opposite sign are compared by their sizes.
fn pairs(
    errors: &[(String, Estimate)],
    of_pair: &dyn Fn(usize, usize) -> (f64, f64),
) -> Vec<RankedPair> {
    let size = |i: usize| errors[i].1.value.abs();
    let mut pairs = Vec::new();
    for i in 0..errors.len() {
        for j in i + 1..errors.len() {
            let (better, worse) = if size(j) < size(i) { (j, i) } else { (i, j) };
            let (u, dof) = of_pair(better, worse);
            let difference = Estimate {
                value: size(worse) - size(better),
                u,
                dof: dof.max(1.0),
            };
            pairs.push(RankedPair {
                better,
                worse,
                difference,
                interval: interval_95(difference),
                p: p_of_order(difference),
                apart: false,
            });
        }
    }
    pairs.sort_by(|a, b| a.p.total_cmp(&b.p));
    let count = pairs.len();
    // Holm: the first that fails ends it.
    for (k, pair) in pairs.iter_mut().enumerate() {
        pair.apart = pair.difference.value > 0.0 && pair.p <= 0.05 / (count - k) as f64;
        if !pair.apart {
            break;
        }
    }
    pairs
}

/// Two-sided chance of so large a difference of two sizes without one.
fn p_of_order(difference: Estimate) -> f64 {
    if !exceeds(difference.u, 0.0) {
        return if difference.value > 0.0 { 0.0 } else { 1.0 };
    }
    let t = difference.value / difference.u;
    2.0 * crate::stats::normal::student_t_probability(-t, difference.dof)
}
