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
    /// Pairs that can be told apart, `(better, worse)`.
    pub separated: Vec<(usize, usize)>,
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

/// Orders several results by the size of their error, as far as their uncertainties allow: two
/// are put in an order only if the interval of the difference of their sizes excludes zero, with
/// Holm's correction for the number of pairs.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with fewer than two results.
pub fn ranking(errors: &[(String, Estimate)], unit: &str) -> Outcome<Ranking> {
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
    let size = |i: usize| errors[i].1.value.abs();
    let mut pairs: Vec<(usize, usize, f64)> = Vec::new();
    for i in 0..errors.len() {
        for j in 0..errors.len() {
            if size(i) < size(j) {
                pairs.push((i, j, p_of_order(&errors[i].1, &errors[j].1)));
            }
        }
    }
    pairs.sort_by(|a, b| a.2.total_cmp(&b.2));
    let count = pairs.len();
    let separated: Vec<(usize, usize)> = pairs
        .iter()
        .enumerate()
        .take_while(|(k, pair)| pair.2 <= 0.05 / (count - k) as f64)
        .map(|(_, pair)| (pair.0, pair.1))
        .collect();
    let mut order: Vec<usize> = (0..errors.len()).collect();
    order.sort_by(|a, b| size(*a).total_cmp(&size(*b)));
    let mut tiers: Vec<Vec<usize>> = Vec::new();
    for i in order {
        match tiers.last_mut() {
            Some(tier) if !separated.contains(&(tier[0], i)) => tier.push(i),
            _ => tiers.push(vec![i]),
        }
    }
    let name = |tier: &[usize]| {
        tier.iter()
            .map(|i| errors[*i].0.as_str())
            .collect::<Vec<_>>()
            .join(", ")
    };
    let sentence = if tiers.len() == 1 {
        format!(
            "The uncertainties do not allow an order: {}.",
            name(&tiers[0])
        )
    } else {
        let list: Vec<String> = tiers.iter().map(|tier| name(tier)).collect();
        format!(
            "In order of the size of their error, those that cannot be told apart together: {}.",
            list.join(" – then ")
        )
    };
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
        result: Ranking { tiers, separated },
        sentence,
        plots,
    })
}

/// Two-sided chance of so large a difference of the two sizes without one. Errors of opposite
/// sign are compared by their sizes: the uncertainty is the same either way.
fn p_of_order(better: &Estimate, worse: &Estimate) -> f64 {
    let u = better.u.hypot(worse.u);
    if !exceeds(u, 0.0) {
        return 0.0;
    }
    // Welch and Satterthwaite.
    let dof = u.powi(4) / (better.u.powi(4) / better.dof + worse.u.powi(4) / worse.dof);
    let t = (worse.value.abs() - better.value.abs()) / u;
    2.0 * crate::stats::normal::student_t_probability(-t, dof.max(1.0))
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

    #[test]
    fn too_few_repeats() {
        assert!(before_after(&[1.0], &[2.0, 3.0], None, "%").is_err());
        assert!(before_after(&[1.0, 1.0], &[1.0, 1.0], None, "%").is_err());
    }
}
