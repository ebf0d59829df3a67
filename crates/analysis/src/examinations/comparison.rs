//! Comparison of sessions: before and after, unit and unit, or a whole row of devices.

use super::{not_tested, words};
use crate::outcome::{Estimate, Ink, Outcome, Tested};
use crate::stats::intervals::{excludes, interval_95};
use crate::stats::order::exceeds;
use crate::stats::two_samples::{Summary, welch};

/// Name of the examination.
pub const NAME: &str = "comparison";

/// Two sets of results compared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BeforeAfter {
    /// Second minus first.
    pub difference: Estimate,
    /// 95 % interval of the difference.
    pub interval: [f64; 2],
    /// Chance of a difference this large without a change (Welch).
    pub p: f64,
    /// The margin within which the two count as equivalent, if one was set.
    pub margin: Option<f64>,
    /// Chance of data this close without equivalence (two one-sided tests).
    pub p_equivalence: Option<f64>,
    /// The conclusion.
    pub conclusion: Conclusion,
}

/// What a comparison shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Conclusion {
    /// A difference is shown.
    Different,
    /// Equivalence within the margin is shown.
    Equivalent,
    /// A difference is shown, but it is within the margin.
    DifferentWithinMargin,
    /// Neither is shown.
    NotDecided,
}

/// An order of several results as far as the uncertainty allows one.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranking {
    /// Groups from best to worst, each holding the indices that cannot be told apart from the
    /// best of the group.
    pub tiers: Vec<Vec<usize>>,
    /// Every pair, those that can be told apart first.
    pub pairs: Vec<RankedPair>,
}

/// Two results and whether the sizes of their errors can be told apart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RankedPair {
    /// Index of the one with the smaller error.
    pub better: usize,
    /// Index of the one with the larger error.
    pub worse: usize,
    /// How much larger it is.
    pub difference: Estimate,
    /// Its 95 % interval.
    pub interval: [f64; 2],
    /// Chance of so large a difference without one.
    pub p: f64,
    /// Whether they can be told apart, with Holm's correction for the number of pairs.
    pub apart: bool,
}

impl Ranking {
    /// Pairs that can be told apart, `(better, worse)`.
    pub fn separated(&self) -> impl Iterator<Item = (usize, usize)> {
        let apart = self.pairs.iter().filter(|pair| pair.apart);
        apart.map(|pair| (pair.better, pair.worse))
    }

    /// Whether every result of a group can be told apart from every result of another, so that the
    /// groups are an order and not only a list.
    pub fn is_an_order(&self) -> bool {
        let tier_of = |index: usize| self.tiers.iter().position(|tier| tier.contains(&index));
        self.pairs
            .iter()
            .all(|pair| pair.apart || tier_of(pair.better) == tier_of(pair.worse))
    }
}

/// Compares results before and after a change (firmware, calibration, remounting), second minus
/// first. Each result must be an independent repeat, not a second of one ride.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to repeat.
pub fn before_after(
    before: &[f64],
    after: &[f64],
    margin: Option<f64>,
    unit: &str,
) -> Outcome<BeforeAfter> {
    let (Some(first), Some(second)) = (Summary::of(before), Summary::of(after)) else {
        return not_tested(
            NAME,
            format!(
                "{} and {} repeats; ride at least two of each, better three",
                before.len(),
                after.len()
            ),
        );
    };
    let Some(found) = welch(first, second) else {
        return not_tested(
            NAME,
            "the repeats do not differ at all; check that they are real",
        );
    };
    let difference = Estimate {
        value: found.value,
        u: found.u,
        dof: found.dof,
    };
    let interval = found.interval(0.95);
    let margin = margin.filter(|margin| *margin > 0.0);
    let p_equivalence = margin.map(|margin| {
        let [low, high] = found.equivalence(-margin, margin);
        low.max(high)
    });
    let different = excludes(interval, 0.0);
    let equivalent = p_equivalence.is_some_and(|p| p < 0.05);
    let conclusion = match (different, equivalent) {
        (true, true) => Conclusion::DifferentWithinMargin,
        (true, false) => Conclusion::Different,
        (false, true) => Conclusion::Equivalent,
        (false, false) => Conclusion::NotDecided,
    };
    let amount = format!(
        "{} {unit} ({})",
        words::signed(found.value, 2),
        words::interval(interval, 2, unit)
    );
    let margin_words = margin.map_or(String::new(), |m| {
        format!(" of ±{} {unit}", words::plain(m, 2))
    });
    let sentence = match conclusion {
        Conclusion::Different => format!("A change is shown: {amount}."),
        Conclusion::Equivalent => {
            format!("The two are equivalent within the margin{margin_words}: {amount}.")
        }
        Conclusion::DifferentWithinMargin => {
            format!("A change is shown, but it is within the margin{margin_words}: {amount}.")
        }
        Conclusion::NotDecided => {
            format!("Neither a change nor equivalence is shown: {amount}; more repeats are needed.")
        }
    };
    let points = |x: f64, values: &[f64]| values.iter().map(|v| [x, *v]).collect();
    let plots = vec![words::plot(
        "before-after",
        "Results before and after",
        ["1 before, 2 after", unit],
        vec![
            words::points(Ink::Reference, "before", points(1.0, before)),
            words::points(Ink::UnderTest, "after", points(2.0, after)),
        ],
        format!("{} and {} repeats", before.len(), after.len()),
    )];
    let result = BeforeAfter {
        difference,
        interval,
        p: found.p(),
        margin,
        p_equivalence,
        conclusion,
    };
    Ok(Tested {
        result,
        sentence,
        plots,
    })
}

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

/// Most pairs that a sentence names.
const MOST_NAMED: usize = 6;

/// The order in a sentence: who can be told apart from whom, and who cannot.
fn order_words(errors: &[(String, Estimate)], ranking: &Ranking, unit: &str) -> String {
    let name = |i: usize| errors[i].0.as_str();
    let named = |tier: &[usize]| {
        let names: Vec<&str> = tier.iter().map(|i| name(*i)).collect();
        names.join(", ")
    };
    if ranking.tiers.len() == 1 {
        return format!(
            "The uncertainties do not allow an order: {}.",
            named(&ranking.tiers[0])
        );
    }
    if ranking.is_an_order() {
        let list: Vec<String> = ranking.tiers.iter().map(|tier| named(tier)).collect();
        return format!(
            "In order of the size of their error, those that cannot be told apart together: {}.",
            list.join(" – then ")
        );
    }
    let list = |wanted: bool| {
        let some = ranking
            .pairs
            .iter()
            .filter(move |pair| pair.apart == wanted);
        let count = some.clone().count();
        let mut list: Vec<String> = some
            .take(MOST_NAMED)
            .map(|pair| match wanted {
                true => format!("{} before {}", name(pair.better), name(pair.worse)),
                false => format!(
                    "{} and {} ({})",
                    name(pair.better),
                    name(pair.worse),
                    words::interval(pair.interval, 2, unit)
                ),
            })
            .collect();
        if count > MOST_NAMED {
            list.push(format!("and {} pairs more", count - MOST_NAMED));
        }
        list.join("; ")
    };
    format!(
        "By the size of their error they can be told apart in part: {}. Not told apart: {}.",
        list(true),
        list(false)
    )
}

/// Two-sided chance of so large a difference of two sizes without one.
fn p_of_order(difference: Estimate) -> f64 {
    if !exceeds(difference.u, 0.0) {
        return if difference.value > 0.0 { 0.0 } else { 1.0 };
    }
    let t = difference.value / difference.u;
    2.0 * crate::stats::normal::student_t_probability(-t, difference.dof)
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::Noise;
    use super::*;

    /// The example data of statsmodels' own test of equivalence (`test_tost.py`, BSD-3, values
    /// generated by R): independent groups, first variable, margin 0.6.
    #[test]
    fn clinic() {
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../../shared/checks/statsmodels_clinic.csv"
        );
        let Ok(text) = std::fs::read_to_string(path) else {
            println!("SKIPPED clinic: the shared check data are not here");
            return;
        };
        let mut groups: [[Vec<f64>; 2]; 2] = Default::default();
        for line in text.lines().filter(|line| !line.starts_with(['#', 'i'])) {
            let cells: Vec<f64> = line
                .split(',')
                .map(|cell| cell.trim().parse().unwrap())
                .collect();
            let group = usize::from(cells[1] == 2.0);
            groups[group][0].push(cells[2]);
            groups[group][1].push(cells[3]);
        }
        let [one, two] = groups;
        for (variable, p, dof) in [
            (0, 0.04853083976236974, 26.7484787582315),
            (1, 0.4317936812594803, 24.1100015),
        ] {
            let found = before_after(&two[variable], &one[variable], Some(0.6), "")
                .unwrap()
                .result;
            assert!((found.p_equivalence.unwrap() - p).abs() < 1e-9, "{found:?}");
            assert!((found.difference.dof - dof).abs() < 1e-7);
        }
        let log = |values: &[f64]| values.iter().map(|v| v.ln()).collect::<Vec<f64>>();
        let found = before_after(&log(&two[0]), &log(&one[0]), Some(1.25f64.ln()), "");
        let found = found.unwrap().result;
        assert!((found.p_equivalence.unwrap() - 0.01047085593138891).abs() < 1e-9);
        assert!((found.difference.dof - 27.6117704).abs() < 1e-6);
        assert_eq!(found.conclusion, Conclusion::Equivalent);
    }

    #[test]
    fn a_change_is_shown_where_there_is_one() {
        let (mut shown, mut false_claims, mut covered) = (0, 0, 0);
        for seed in 0..200 {
            let mut noise = Noise::new(seed);
            let mut repeats =
                |mean: f64| -> Vec<f64> { (0..5).map(|_| mean + 0.4 * noise.normal()).collect() };
            let found = before_after(&repeats(1.0), &repeats(3.0), None, "%")
                .unwrap()
                .result;
            shown += usize::from(found.conclusion == Conclusion::Different);
            covered += usize::from(!excludes(found.interval, 2.0));
            let found = before_after(&repeats(1.0), &repeats(1.0), None, "%")
                .unwrap()
                .result;
            false_claims += usize::from(found.conclusion == Conclusion::Different);
        }
        assert!(
            shown >= 195 && false_claims <= 18 && covered >= 182,
            "{shown} {false_claims} {covered}"
        );
    }

    #[test]
    fn what_cannot_be_separated_is_not_ranked() {
        let e = |value: f64, u: f64| Estimate {
            value,
            u,
            dof: 30.0,
        };
        let named = |values: &[(f64, f64)]| -> Vec<(String, Estimate)> {
            values
                .iter()
                .enumerate()
                .map(|(i, (v, u))| (format!("unit {i}"), e(*v, *u)))
                .collect()
        };
        let close = ranking(&named(&[(0.4, 0.5), (-0.6, 0.5), (0.9, 0.5)]), "%").unwrap();
        assert_eq!(close.result.tiers.len(), 1);
        assert!(close.sentence.contains("do not allow an order"));
        let clear = ranking(&named(&[(-3.0, 0.3), (0.2, 0.3), (0.3, 0.3)]), "%")
            .unwrap()
            .result;
        assert_eq!(clear.tiers, vec![vec![1, 2], vec![0]]);
        assert!(ranking(&named(&[(1.0, 0.1)]), "%").is_err());
    }

    /// 0.2, 0.8 and 1.5 with u 0.3 each: only the outer two can be told apart (1.3/0.42 = 3.06;
    /// Holm asks for p ≤ 0.05/3), so that there is no order, and the sentence must not make one.
    #[test]
    fn those_in_between_are_in_no_order() {
        let e = |value: f64| Estimate {
            value,
            u: 0.3,
            dof: f64::MAX,
        };
        let errors = [("a", 0.2), ("b", 0.8), ("c", 1.5)].map(|(n, v)| (n.to_owned(), e(v)));
        let found = ranking(&errors, "%").unwrap();
        assert_eq!(found.result.separated().collect::<Vec<_>>(), [(0, 2)]);
        assert!(!found.result.is_an_order());
        assert!(found.sentence.contains("a before c"), "{}", found.sentence);
        assert!(found.sentence.contains("a and b ("), "{}", found.sentence);
        assert!(found.sentence.contains("b and c ("), "{}", found.sentence);
    }

    #[test]
    fn too_few_repeats() {
        assert!(before_after(&[1.0], &[2.0, 3.0], None, "%").is_err());
        assert!(before_after(&[1.0, 1.0], &[1.0, 1.0], None, "%").is_err());
    }
}
