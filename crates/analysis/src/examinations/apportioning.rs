//! Apportioning: own noise and bias of each of three instruments that measured the same rider.

use super::given::Source;
use super::integral::{Integral, secs};
use super::prepared::Prepared;
use super::visits::is_comparison;
use super::{not_tested, words};
use crate::evidence::Role;
use crate::outcome::{Estimate, Ink, Outcome, Tested};
use crate::stats::hat::{three_cornered_hat_of, triple_collocation};
use crate::stats::normal::student_t_quantile;
use crate::stats::order::exceeds;
use crate::stats::two_samples::Summary;

/// Name of the examination.
pub const NAME: &str = "apportioning";

/// Own noise of three instruments.
#[derive(Clone, Debug, PartialEq)]
pub struct Apportioning {
    /// One entry per instrument.
    pub sources: Vec<SourceNoise>,
    /// Index into `sources` of the instrument whose bias stands apart from two that agree.
    pub alone_in_bias: Option<usize>,
    /// Index into `sources` of the instrument whose noise is shown to be above both others'.
    pub alone_in_noise: Option<usize>,
    /// Whether some variance came out negative: the errors are not independent.
    pub dependent: bool,
    /// Length of the means used, s.
    pub mean_s: f64,
    /// Means used.
    pub means: usize,
}

/// Own noise of one instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct SourceNoise {
    /// Name of the stream.
    pub source: String,
    /// Own noise of its means, W; zero where the variance came out negative.
    pub noise_w: f64,
    /// 95 % interval of the noise, W.
    pub noise_interval_w: [f64; 2],
    /// Own noise by triple collocation, which allows each instrument its own scale, W.
    pub collocation_w: Option<f64>,
    /// Mean deviation from the middle one of the three, %.
    pub bias_pct: Estimate,
}

/// Length of the means, s.
const MEAN_S: f64 = 10.0;
/// Fewest means and fewest blocks to leave out one at a time.
const LEAST_MEANS: usize = 24;
const LEAST_BLOCKS: usize = 4;

/// Means of the three over the same ten seconds, as departures from the mean of their block.
struct Block {
    departures: [Vec<f64>; 3],
    /// Mean of each over the block, W, referred to one side of the drivetrain.
    means: [f64; 3],
    /// The same ten-second means with the level left in.
    values: [Vec<f64>; 3],
}

/// Apportions noise and bias to three instruments.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to bring or ride.
pub fn apportioning(given: &Prepared<'_>) -> Outcome<Apportioning> {
    let sources: Option<Vec<Source<'_>>> = [
        Role::UnderTest,
        Role::PrimaryReference,
        Role::SecondReference,
    ]
    .into_iter()
    .map(|role| given.sources(role).next())
    .collect();
    let Some(sources) = sources else {
        return not_tested(
            NAME,
            "three power instruments at once are needed; bring a second reference",
        );
    };
    let blocks = blocks(given, &sources);
    let means: usize = blocks.iter().map(|block| block.departures[0].len()).sum();
    if blocks.len() < LEAST_BLOCKS || means < LEAST_MEANS {
        return not_tested(
            NAME,
            format!(
                "{means} means of {MEAN_S:.0} s in {} steady stretches with all three; ride at \
                 least {LEAST_BLOCKS} minutes of steady levels",
                blocks.len()
            ),
        );
    }
    let Some(variances) = variances(&blocks, None) else {
        return not_tested(NAME, "the three do not vary; check that they report");
    };
    let each: Vec<[f64; 3]> = (0..blocks.len())
        .filter_map(|out| self::variances(&blocks, Some(out)))
        .collect();
    let collocation = collocation(&blocks);
    let biases = biases(&blocks);
    let found: Vec<SourceNoise> = (0..3)
        .map(|i| {
            let leave_one_out: Vec<f64> = each.iter().map(|v| v[i]).collect();
            let reach = reach(&leave_one_out);
            SourceNoise {
                source: sources[i].stream.name.clone(),
                noise_w: variances[i].max(0.0).sqrt(),
                noise_interval_w: [
                    (variances[i] - reach).max(0.0).sqrt(),
                    (variances[i] + reach).max(0.0).sqrt(),
                ],
                collocation_w: collocation.map(|c| c[i].max(0.0).sqrt()),
                bias_pct: biases[i],
            }
        })
        .collect();
    let result = Apportioning {
        alone_in_bias: alone_in_bias(&blocks),
        alone_in_noise: alone_in_noise(&found),
        dependent: variances.iter().any(|variance| *variance < 0.0),
        sources: found,
        mean_s: MEAN_S,
        means,
    };
    let sentence = sentence(&result);
    let plots = vec![words::plot(
        "apportioning",
        "Own noise of each instrument",
        [
            "instrument, in the order of the list",
            "own noise of 10-s means, W",
        ],
        vec![words::intervals(
            Ink::SecondReference,
            "instruments",
            result
                .sources
                .iter()
                .enumerate()
                .map(|(i, s)| {
                    let [low, high] = s.noise_interval_w;
                    [(i + 1) as f64, low, s.noise_w, high]
                })
                .collect(),
        )],
        format!(
            "{means} means in {} stretches; errors taken as independent",
            blocks.len()
        ),
    )];
    Ok(Tested {
        result,
        sentence,
        plots,
    })
}

fn blocks(given: &Prepared<'_>, sources: &[Source<'_>]) -> Vec<Block> {
    let integrals: Vec<&Integral> = sources
        .iter()
        .map(|source| given.power(source.index))
        .collect();
    let behind = sources
        .iter()
        .any(|source| source.stream.place.is_behind_drivetrain());
    let sides: Vec<f64> = sources
        .iter()
        .map(|source| {
            let before = !source.stream.place.is_behind_drivetrain();
            if behind && before {
                given.bench.efficiency.value
            } else {
                1.0
            }
        })
        .collect();
    given
        .windows
        .iter()
        .filter(|window| is_comparison(given.feeds_of(window)))
        .filter_map(|window| {
            let (from_s, to_s) = (secs(window.from), secs(window.to));
            let count = ((to_s - from_s) / MEAN_S + 1e-9).max(0.0) as usize;
            let mut values: [Vec<f64>; 3] = Default::default();
            for i in 0..count {
                let begin = from_s + i as f64 * MEAN_S;
                let mean =
                    |s: usize| Some(sides[s] * integrals[s].mean(begin, begin + MEAN_S, 0.9)?);
                if let (Some(a), Some(b), Some(c)) = (mean(0), mean(1), mean(2)) {
                    values[0].push(a);
                    values[1].push(b);
                    values[2].push(c);
                }
            }
            if values[0].len() < 2 {
                return None;
            }
            let n = values[0].len() as f64;
            let means: [f64; 3] = std::array::from_fn(|i| values[i].iter().sum::<f64>() / n);
            let departures =
                std::array::from_fn(|i| values[i].iter().map(|v| v - means[i]).collect());
            Some(Block {
                departures,
                means,
                values,
            })
        })
        .collect()
}

/// Variance of each instrument's own noise within blocks; the mean of every block cost one
/// degree of freedom.
fn variances(blocks: &[Block], left_out: Option<usize>) -> Option<[f64; 3]> {
    let kept = || {
        blocks
            .iter()
            .enumerate()
            .filter(|(i, _)| Some(*i) != left_out)
    };
    let join = |s: usize| -> Vec<f64> {
        kept()
            .flat_map(|(_, block)| block.departures[s].iter().copied())
            .collect()
    };
    let (a, b, c) = (join(0), join(1), join(2));
    let n = a.len() as f64;
    let freedom = n - kept().count() as f64;
    if !exceeds(freedom, 0.0) {
        return None;
    }
    let hat = three_cornered_hat_of(&a, &b, &c)?;
    if hat == [0.0; 3] {
        return None;
    }
    Some(hat.map(|variance| variance * (n - 1.0) / freedom))
}

/// Triple collocation over all levels, own noise in each instrument's own watts.
fn collocation(blocks: &[Block]) -> Option<[f64; 3]> {
    let join = |s: usize| -> Vec<f64> {
        blocks
            .iter()
            .flat_map(|block| block.values[s].iter().copied())
            .collect()
    };
    Some(triple_collocation(&join(0), &join(1), &join(2))?.error_variance)
}

/// Half-width of the 95 % interval from leaving out one block at a time.
fn reach(each: &[f64]) -> f64 {
    let n = each.len() as f64;
    if n < 2.0 {
        return f64::MAX.sqrt();
    }
    let mean = each.iter().sum::<f64>() / n;
    let spread: f64 = each.iter().map(|x| (x - mean).powi(2)).sum();
    student_t_quantile(0.975, n - 1.0) * ((n - 1.0) / n * spread).sqrt()
}

/// Mean departure of each from the middle one of the three, %.
fn biases(blocks: &[Block]) -> [Estimate; 3] {
    std::array::from_fn(|i| {
        let departures: Vec<f64> = blocks
            .iter()
            .filter_map(|block| {
                let mut sorted = block.means;
                sorted.sort_by(f64::total_cmp);
                (sorted[1] > 5.0).then(|| 100.0 * (block.means[i] / sorted[1] - 1.0))
            })
            .collect();
        Summary::of(&departures).map_or(
            Estimate {
                value: 0.0,
                u: 0.0,
                dof: 1.0,
            },
            |s| Estimate {
                value: s.mean,
                u: (s.variance / s.n).sqrt(),
                dof: s.n - 1.0,
            },
        )
    })
}

/// The one whose mean differences to both others are shown and more than twice as large as the
/// difference of those two.
fn alone_in_bias(blocks: &[Block]) -> Option<usize> {
    let difference = |i: usize, j: usize| -> Option<(f64, bool)> {
        let d: Vec<f64> = blocks
            .iter()
            .filter(|block| block.means[j] > 5.0)
            .map(|block| block.means[i] / block.means[j] - 1.0)
            .collect();
        let s = Summary::of(&d)?;
        let reach = student_t_quantile(0.975, s.n - 1.0) * (s.variance / s.n).sqrt();
        Some((s.mean.abs(), s.mean.abs() > reach))
    };
    (0..3).find(|&i| {
        let (j, k) = ((i + 1) % 3, (i + 2) % 3);
        match (difference(i, j), difference(i, k), difference(j, k)) {
            (Some((ij, shown_ij)), Some((ik, shown_ik)), Some((jk, _))) => {
                shown_ij && shown_ik && ij.min(ik) > 2.0 * jk
            }
            _ => false,
        }
    })
}

/// The one whose noise interval lies above both others'.
fn alone_in_noise(found: &[SourceNoise]) -> Option<usize> {
    (0..found.len()).find(|&i| {
        let low = found[i].noise_interval_w[0];
        (0..found.len()).all(|j| j == i || found[j].noise_interval_w[1] < low)
    })
}

fn sentence(found: &Apportioning) -> String {
    let parts: Vec<String> = found
        .sources
        .iter()
        .map(|s| {
            format!(
                "{} {} W (95\u{a0}% interval {} to {} W), {} % from the middle one",
                s.source,
                words::plain(s.noise_w, 1),
                words::plain(s.noise_interval_w[0], 1),
                words::plain(s.noise_interval_w[1], 1),
                words::signed(s.bias_pct.value, 2)
            )
        })
        .collect();
    let name = |i: usize| found.sources[i].source.as_str();
    let alone = match (found.alone_in_bias, found.alone_in_noise) {
        (Some(i), _) => format!(" {} stands alone; the other two agree.", name(i)),
        (None, Some(i)) => format!(" {} is the noisiest by more than the uncertainty.", name(i)),
        (None, None) => " None stands alone.".to_owned(),
    };
    let caution = if found.dependent {
        " A variance came out negative: the errors are not independent, or the ride was too short."
    } else {
        ""
    };
    format!(
        "Own noise of 10-s means: {}.{alone}{caution}",
        parts.join("; ")
    )
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session, TestWindow, push, stream};
    use super::*;
    use crate::evidence::{Feeds, Place};

    /// Three crank instruments with own white noise per second and a common rider.
    fn three(seed: u64, noise_w: [f64; 3], device_pct: f64) -> Session {
        let mut noise = Noise::new(seed);
        let mut session = Session::empty();
        let mut streams = [
            stream("device", Role::UnderTest, Place::Crank),
            stream("first", Role::PrimaryReference, Place::Crank),
            stream("second", Role::SecondReference, Place::Pedals),
        ];
        for second in 0..1800 {
            let t = f64::from(second);
            let level = 150.0 + 50.0 * f64::from(second / 300 % 3);
            let rider = level + 12.0 * noise.normal();
            for (i, stream) in streams.iter_mut().enumerate() {
                let gain = if i == 0 {
                    1.0 + device_pct / 100.0
                } else {
                    1.0
                };
                push(
                    stream,
                    t,
                    gain * rider + noise_w[i] * noise.normal(),
                    90.0,
                    None,
                );
            }
        }
        session.evidence.streams = streams.into();
        for window in 0..60 {
            let t = 30.0 * f64::from(window);
            let level_w = 150.0 + 50.0 * f64::from(window / 10 % 3);
            let step = if window % 10 == 0 {
                session.step(Feeds::Steady, t, t + 300.0, level_w)
            } else {
                session.evidence.steps.len() - 1
            };
            session.window(TestWindow {
                from_s: t,
                step,
                level_w,
                reference_w: level_w,
                under_test_w: level_w,
                cadence_rpm: 90.0,
                speed_kmh: 33.0,
                u_pct: 0.3,
            });
        }
        session
    }

    #[test]
    fn own_noise_is_found_within_its_interval() {
        let mut covered = [0; 3];
        for seed in 0..60 {
            let session = three(seed, [9.0, 5.0, 3.0], 0.0);
            let found = apportioning(&session.given()).unwrap().result;
            for (i, per_second) in [9.0, 5.0, 3.0].into_iter().enumerate() {
                let truth = per_second / MEAN_S.sqrt();
                let [low, high] = found.sources[i].noise_interval_w;
                covered[i] += usize::from(low <= truth && truth <= high);
            }
        }
        assert!(covered.iter().all(|c| *c >= 53), "{covered:?} of 60");
        let clear = apportioning(&three(1, [20.0, 4.0, 4.0], 0.0).given())
            .unwrap()
            .result;
        assert_eq!(clear.alone_in_noise, Some(0));
    }

    #[test]
    fn the_one_that_stands_alone() {
        let mut false_claims = 0;
        for seed in 100..140 {
            let session = three(seed, [5.0, 5.0, 5.0], 3.0);
            let found = apportioning(&session.given()).unwrap().result;
            assert_eq!(found.alone_in_bias, Some(0), "{found:?}");
            let equal = apportioning(&three(seed, [5.0; 3], 0.0).given())
                .unwrap()
                .result;
            assert_eq!(equal.alone_in_noise, None);
            false_claims += usize::from(equal.alone_in_bias.is_some());
        }
        assert!(false_claims <= 4, "{false_claims} of 40");
    }

    #[test]
    fn two_are_not_enough() {
        let mut session = three(1, [5.0; 3], 0.0);
        session.evidence.streams.truncate(2);
        assert!(
            apportioning(&session.given())
                .unwrap_err()
                .reason
                .contains("second reference")
        );
        let constant = three(1, [0.0; 3], 0.0);
        assert!(apportioning(&constant.given()).is_err());
        assert!(apportioning(&Session::empty().given()).is_err());
    }
}
