//! Consistency: whether instruments agree within their own uncertainties.

use super::given::Source;
use super::integral::{Integral, secs};
use super::prepared::Prepared;
use super::visits::is_comparison;
use super::words;
use crate::evidence::Role;
use crate::outcome::{Estimate, Ink, Outcome, Tested, not_tested};
use crate::stats::limits::from_nested;
use crate::stats::two_samples::Summary;

/// Name of the examination.
pub const NAME: &str = "consistency";

/// Pairwise comparison of all power instruments.
#[derive(Clone, Debug, PartialEq)]
pub struct Consistency {
    /// One entry per pair.
    pub pairs: Vec<ConsistencyPair>,
    /// Whether two references disagree by more than their uncertainties: no verdict until the
    /// reason is found.
    pub references_disagree: bool,
}

/// One pair.
#[derive(Clone, Debug, PartialEq)]
pub struct ConsistencyPair {
    /// Name of the first stream.
    pub a: String,
    /// Name of the second stream.
    pub b: String,
    /// Second minus first over the first, %, both referred to the same side of the drivetrain.
    pub difference_pct: Estimate,
    /// Difference over the expanded uncertainty of the difference; absent where an instrument's
    /// uncertainty is not known. Consistent up to one.
    pub e_n: Option<f64>,
    /// Whether both are references.
    pub both_references: bool,
}

/// Fewest windows that two instruments must share.
const LEAST_WINDOWS: usize = 4;
/// Share of a window that each must cover.
const LEAST_COVERED: f64 = 0.9;

/// Compares all power instruments in pairs over the steady windows.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to bring.
pub fn consistency(given: &Prepared<'_>) -> Outcome<Consistency> {
    let sources: Vec<Source<'_>> = [
        Role::PrimaryReference,
        Role::SecondReference,
        Role::UnderTest,
    ]
    .into_iter()
    .flat_map(|role| given.sources(role).collect::<Vec<_>>())
    .collect();
    if sources.len() < 2 {
        return not_tested(
            NAME,
            "fewer than two power instruments were recorded; bring a second reference of another \
             principle",
        );
    }
    let integrals: Vec<&Integral> = sources
        .iter()
        .map(|source| given.power(source.index))
        .collect();
    let mut pairs = Vec::new();
    for i in 0..sources.len() {
        for j in i + 1..sources.len() {
            let two = [(&sources[i], integrals[i]), (&sources[j], integrals[j])];
            pairs.extend(compare(given, two));
        }
    }
    if pairs.is_empty() {
        return not_tested(
            NAME,
            format!(
                "no two instruments share {LEAST_WINDOWS} steady windows; ride at least two \
                 minutes of steady levels with all instruments linked"
            ),
        );
    }
    let references_disagree = pairs
        .iter()
        .any(|pair| pair.both_references && pair.e_n.is_some_and(|e_n| e_n > 1.0));
    let parts: Vec<String> = pairs
        .iter()
        .map(|pair| {
            let e_n = pair
                .e_n
                .map_or(String::new(), |e_n| format!(", E_n {e_n:.2}"));
            format!(
                "{} against {}: {} %{e_n}",
                pair.b,
                pair.a,
                words::signed(pair.difference_pct.value, 2)
            )
        })
        .collect();
    let sentence = format!(
        "{}{}.",
        if references_disagree {
            "The references disagree by more than their uncertainties, so nothing can be \
             judged against them until the reason is found. "
        } else {
            ""
        },
        parts.join("; ")
    );
    let plots = vec![words::plot(
        "consistency",
        "Differences of all pairs",
        ["pair, in the order of the list", "difference, %"],
        vec![
            words::level(Ink::Reference, "equal", 0.0),
            words::intervals(
                Ink::SecondReference,
                "pairs",
                pairs
                    .iter()
                    .enumerate()
                    .map(|(i, pair)| {
                        let d = pair.difference_pct;
                        [
                            (i + 1) as f64,
                            d.value - 2.0 * d.u,
                            d.value,
                            d.value + 2.0 * d.u,
                        ]
                    })
                    .collect(),
            ),
        ],
        "all referred to one side of the drivetrain; bars: scatter, k = 2".into(),
    )];
    Ok(Tested {
        result: Consistency {
            pairs,
            references_disagree,
        },
        sentence,
        plots,
    })
}

fn compare(
    given: &Prepared<'_>,
    [(a, a_power), (b, b_power)]: [(&Source<'_>, &Integral); 2],
) -> Option<ConsistencyPair> {
    // What sits before the drivetrain is multiplied by the efficiency if the other sits behind.
    let (a_side, b_side) = (
        given.efficiency_between(a.stream.place, b.stream.place),
        given.efficiency_between(b.stream.place, a.stream.place),
    );
    let differences: Vec<(Option<usize>, f64)> = given
        .windows
        .iter()
        .filter(|window| is_comparison(given.feeds_of(window)))
        .filter_map(|window| {
            let (from_s, to_s) = (secs(window.from), secs(window.to));
            let first = a_side.value * a_power.mean(from_s, to_s, LEAST_COVERED)?;
            let second = b_side.value * b_power.mean(from_s, to_s, LEAST_COVERED)?;
            (first > 5.0).then(|| (window.step, 100.0 * (second / first - 1.0)))
        })
        .collect();
    if differences.len() < LEAST_WINDOWS {
        return None;
    }
    let groups: Vec<Vec<f64>> = differences
        .chunk_by(|a, b| a.0.is_some() && a.0 == b.0)
        .map(|run| run.iter().map(|(_, d)| *d).collect())
        .collect();
    let all: Vec<f64> = differences.iter().map(|(_, d)| *d).collect();
    let summary = Summary::of(&all)?;
    let (u, dof) = from_nested(&groups).map_or(
        ((summary.variance / summary.n).sqrt(), summary.n - 1.0),
        |nested| (nested.limits.se_bias, nested.limits.dof),
    );
    let difference_pct = Estimate {
        value: summary.mean,
        u,
        dof,
    };
    let efficiency_pct = 200.0 * (a_side.u / a_side.value).hypot(b_side.u / b_side.value);
    let e_n = match (a.facts.expanded_pct, b.facts.expanded_pct) {
        (Some(first), Some(second)) => {
            let expanded = [first, second, efficiency_pct, 2.0 * u]
                .iter()
                .map(|x| x * x)
                .sum::<f64>()
                .sqrt();
            (expanded > 0.0).then(|| difference_pct.value.abs() / expanded)
        }
        _ => None,
    };
    let is_reference = |role: Role| matches!(role, Role::PrimaryReference | Role::SecondReference);
    Some(ConsistencyPair {
        a: a.stream.name.clone(),
        b: b.stream.name.clone(),
        difference_pct,
        e_n,
        both_references: is_reference(a.stream.role) && is_reference(b.stream.role),
    })
}

#[cfg(test)]
mod tests {
    use super::super::given::StreamFacts;
    use super::super::synthetic::{Noise, Session, TestWindow, push, stream};
    use super::*;
    use crate::evidence::{Feeds, Place};

    fn three(seed: u64, second_pct: f64) -> Session {
        let mut noise = Noise::new(seed);
        let mut session = Session::pair(
            600,
            |_| (200.0 + 3.0 * noise.normal(), 195.0 + 3.0 * noise.normal()),
            Session::usual_motion,
        );
        let mut noise = Noise::new(seed + 1000);
        let mut second = stream("second", Role::SecondReference, Place::Pedals);
        for t in 0..600 {
            let power = 200.0 * (1.0 + second_pct / 100.0) + 3.0 * noise.normal();
            push(&mut second, f64::from(t), power, 90.0, None);
        }
        session.evidence.streams.push(second);
        let known = StreamFacts {
            expanded_pct: Some(1.0),
            ..StreamFacts::default()
        };
        session.facts = vec![StreamFacts::default(), known, known];
        session.bench.efficiency = Estimate {
            value: 0.975,
            u: 0.006,
            dof: f64::MAX,
        };
        let step = session.step(Feeds::Steady, 0.0, 600.0, 200.0);
        for window in 0..18 {
            session.window(TestWindow {
                from_s: 30.0 * f64::from(window),
                step,
                level_w: 200.0,
                reference_w: 200.0,
                under_test_w: 195.0,
                cadence_rpm: 90.0,
                speed_kmh: 33.0,
                u_pct: 0.3,
            });
        }
        session
    }

    #[test]
    fn references_that_disagree_are_called_out() {
        let found = consistency(&three(1, 2.5).given()).unwrap().result;
        assert!(found.references_disagree);
        let pair = &found.pairs[0];
        assert!(pair.both_references && (pair.difference_pct.value - 2.5).abs() < 0.3);
        // E_n = 2.5/√(1² + 1²) = 1.77
        assert!((pair.e_n.unwrap() - 1.77).abs() < 0.25, "{pair:?}");
    }

    #[test]
    fn references_that_agree_are_not_accused_and_the_drivetrain_is_counted() {
        for seed in 2..20 {
            let found = consistency(&three(seed, 0.4).given()).unwrap().result;
            assert!(!found.references_disagree);
            let device = found.pairs.iter().find(|pair| pair.b == "device").unwrap();
            assert!(device.difference_pct.value.abs() < 0.4, "{device:?}");
            assert_eq!(device.e_n, None);
        }
    }

    #[test]
    fn one_instrument_has_nothing_to_agree_with() {
        assert!(consistency(&Session::empty().given()).is_err());
        let mut session = three(1, 0.0);
        session.windows.clear();
        assert!(consistency(&session.given()).is_err());
    }
}
