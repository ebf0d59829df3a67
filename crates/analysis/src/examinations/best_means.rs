//! Best mean power per duration, both instruments over the same moments.

use super::bins::{Bin, Paired};
use super::integral::Integral;
use super::prepared::Prepared;
use super::words;
use crate::outcome::{Estimate, Ink, Outcome, Tested, not_tested};
use crate::stats::intervals::interval_95;
use crate::stats::normal::normal_quantile;
use crate::stats::order::exceeds;
use units::Timestamp;

/// Name of the examination.
pub const NAME: &str = "best mean power";

/// Durations compared, s.
pub const DURATIONS_S: [f64; 9] = [1.0, 3.0, 5.0, 10.0, 30.0, 60.0, 300.0, 600.0, 1200.0];

/// Best mean power per duration.
#[derive(Clone, Debug, PartialEq)]
pub struct BestMeans {
    /// One entry per duration that fits.
    pub durations: Vec<BestMean>,
}

/// Best mean power over one duration.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BestMean {
    /// Duration, s.
    pub seconds: f64,
    /// Beginning of the reference's best moments.
    pub from: Timestamp,
    /// Reference's best, W.
    pub reference_w: f64,
    /// Device over the same moments, W.
    pub under_test_w: f64,
    /// Device over reference at the same moments.
    pub ratio: Estimate,
    /// The device's own best, wherever it was, W.
    pub own_best_w: f64,
}

/// Fewest seconds that both must cover.
const LEAST_SECONDS: usize = 10;
/// Share of a window that must be covered.
const LEAST_COVERED: f64 = 0.95;

/// Compares best mean power per duration: the device over the moments where the reference was
/// best, and its own best beside it. Peaks of different moments are not one effort. A window with a
/// drop-out or an invalid span in it cannot be compared; the best of the others takes its place.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) where nothing fits.
pub fn best_means(given: &Prepared<'_>) -> Outcome<BestMeans> {
    let paired = Paired::new(given, NAME)?;
    let Some([from_s, to_s]) = paired.common_extent() else {
        return not_tested(NAME, "the two recordings do not overlap");
    };
    let bins = paired.bins(from_s, to_s, 1.0);
    if bins.len() < LEAST_SECONDS {
        return not_tested(
            NAME,
            format!(
                "only {} s are covered by both instruments; ride for a minute or more",
                bins.len()
            ),
        );
    }
    let noise = PairedNoise::of(&bins);
    let sums = Seconds::new(&paired, [from_s, to_s]);
    let durations: Vec<BestMean> = DURATIONS_S
        .iter()
        .filter_map(|seconds| best(&sums, *seconds, &noise))
        .collect();
    if durations.is_empty() {
        return not_tested(NAME, "no stretch is covered by both instruments; ride on");
    }
    let parts: Vec<String> = durations
        .iter()
        .map(|best| {
            format!(
                "{:.0} s {:.0} W ({} %)",
                best.seconds,
                best.reference_w,
                words::signed(100.0 * (best.ratio.value - 1.0), 1)
            )
        })
        .collect();
    let sentence = format!(
        "Best means of the reference and the device's difference over the same moments: {}.",
        parts.join(", ")
    );
    let plots = vec![words::plot(
        "best-means",
        "Best mean power: device against reference over the same moments",
        ["duration, s (logarithmic)", "device over reference"],
        vec![
            words::level(Ink::Reference, "equal", 1.0),
            words::intervals(
                Ink::UnderTest,
                "same moments",
                durations
                    .iter()
                    .map(|best| {
                        let [low, high] = interval_95(best.ratio);
                        [best.seconds, low, best.ratio.value, high]
                    })
                    .collect(),
            ),
        ],
        "moments chosen by the reference".into(),
    )];
    Ok(given.as_indicated(Tested {
        result: BestMeans { durations },
        sentence,
        plots,
    }))
}

/// Scatter of the one-second difference as a share of the reference, and its correlation.
struct PairedNoise {
    share: f64,
    phi: f64,
    n: f64,
}

impl PairedNoise {
    fn of(bins: &[Bin]) -> Self {
        let relative: Vec<f64> = bins
            .iter()
            .filter(|bin| bin.reference_w > 50.0)
            .map(|bin| bin.under_test_w / bin.reference_w - 1.0)
            .collect();
        let n = relative.len() as f64;
        if n < 3.0 {
            return Self {
                share: 0.0,
                phi: 0.0,
                n,
            };
        }
        let mean = relative.iter().sum::<f64>() / n;
        let total: f64 = relative.iter().map(|r| (r - mean).powi(2)).sum();
        let neighbours: f64 = relative
            .windows(2)
            .map(|w| (w[0] - mean) * (w[1] - mean))
            .sum();
        let phi = if total > 0.0 {
            (neighbours / total).clamp(0.0, 0.95)
        } else {
            0.0
        };
        Self {
            share: (total / (n - 1.0)).sqrt(),
            phi,
            n,
        }
    }

    /// Standard uncertainty of a mean ratio over so many seconds: an autoregression of first
    /// order, exact for a finite number.
    fn over(&self, seconds: f64) -> f64 {
        let n = seconds.max(1.0);
        let phi = self.phi;
        let sum: f64 = (1..(n as usize).min(400))
            .map(|k| (1.0 - k as f64 / n) * phi.powi(k as i32))
            .sum();
        self.share * ((1.0 + 2.0 * sum) / n).sqrt()
    }
}

/// Integral and covered time of both streams at every whole second of the common span: a window
/// of whole seconds is then a difference of two entries.
struct Seconds {
    from_s: f64,
    reference: Vec<[f64; 2]>,
    under_test: Vec<[f64; 2]>,
    /// How many of the seconds before this one may not be used.
    barred: Vec<u32>,
}

impl Seconds {
    fn new(paired: &Paired<'_>, [from_s, to_s]: [f64; 2]) -> Self {
        let count = (to_s - from_s).clamp(0.0, 1e6) as usize;
        let sums = |integral: &Integral| {
            (0..=count)
                .map(|i| integral.up_to(from_s + i as f64))
                .collect()
        };
        let mut barred = Vec::with_capacity(count + 1);
        let mut before = 0;
        barred.push(before);
        for i in 0..count {
            let begin = from_s + i as f64;
            before += u32::from(!paired.is_free(begin, begin + 1.0));
            barred.push(before);
        }
        Self {
            from_s,
            reference: sums(paired.reference),
            under_test: sums(paired.under_test),
            barred,
        }
    }

    /// Mean over a window that begins at a second, if enough of it is covered.
    fn mean(sums: &[[f64; 2]], start: usize, seconds: usize) -> Option<f64> {
        let (a, b) = (sums.get(start)?, sums.get(start + seconds)?);
        let covered = b[1] - a[1];
        (covered >= LEAST_COVERED * seconds as f64 - 1e-9).then(|| (b[0] - a[0]) / covered)
    }

    /// Both means over a window, if both are covered and nothing in it is barred.
    fn pair(&self, start: usize, seconds: usize) -> Option<(f64, f64)> {
        if self.barred.get(start + seconds)? > self.barred.get(start)? {
            return None;
        }
        Some((
            Self::mean(&self.reference, start, seconds)?,
            Self::mean(&self.under_test, start, seconds)?,
        ))
    }

    fn starts(&self, seconds: usize) -> std::ops::Range<usize> {
        0..self.reference.len().saturating_sub(seconds)
    }
}

fn best(sums: &Seconds, seconds: f64, noise: &PairedNoise) -> Option<BestMean> {
    let length = seconds as usize;
    // The first of equals, so that nothing depends on the order of a search.
    let (start, (reference_w, under_test_w)) = sums
        .starts(length)
        .filter_map(|start| Some((start, sums.pair(start, length)?)))
        .reduce(|best, next| if next.1.0 > best.1.0 { next } else { best })?;
    let own_best_w = sums
        .starts(length)
        .filter_map(|start| Seconds::mean(&sums.under_test, start, length))
        .max_by(f64::total_cmp)?;
    if !exceeds(reference_w, 0.0) {
        return None;
    }
    Some(BestMean {
        seconds,
        from: Timestamp::from_secs_f64(sums.from_s + start as f64),
        reference_w,
        under_test_w,
        ratio: Estimate {
            value: under_test_w / reference_w,
            u: noise.over(seconds) * chosen(sums, length, reference_w, noise),
            dof: (noise.n - 1.0).max(1.0),
        },
        own_best_w,
    })
}

/// By how much the uncertainty grows because the moments were chosen for a high reference: among
/// several windows that are as good as the best within the noise, the one is taken in which the
/// reference's own noise helped most. A clear best effort has no rivals, and nothing grows.
fn chosen(sums: &Seconds, length: usize, best_w: f64, noise: &PairedNoise) -> f64 {
    let near_w = best_w * (1.0 - 2.0 * noise.over(length as f64));
    let near = sums
        .starts(length)
        .filter_map(|start| sums.pair(start, length))
        .filter(|(reference_w, _)| *reference_w >= near_w)
        .count();
    // Windows that overlap are hardly rivals of each other.
    let rivals = near as f64 / length as f64;
    if rivals <= 1.0 {
        return 1.0;
    }
    // Expected largest of so many normal deviates (Blom 1958).
    let largest = normal_quantile((rivals - 0.375) / (rivals + 0.25));
    1.0f64.hypot(largest.max(0.0))
}

#[cfg(test)]
mod tests {
    use super::super::given::{DropOut, DropOutKind};
    use super::super::synthetic::{Noise, Session};
    use super::*;

    #[test]
    fn the_same_moments_are_compared() {
        let mut noise = Noise::new(3);
        let session = Session::pair(
            1300,
            |t| {
                let truth = if (600.0..610.0).contains(&t) {
                    700.0
                } else {
                    200.0
                };
                // A second effort that only the device shows.
                let extra = if (900.0..905.0).contains(&t) {
                    900.0
                } else {
                    0.0
                };
                (
                    truth + 3.0 * noise.normal(),
                    0.97 * truth + extra + 3.0 * noise.normal(),
                )
            },
            Session::usual_motion,
        );
        let found = best_means(&session.given()).unwrap().result;
        assert_eq!(found.durations.len(), 9);
        let ten = found.durations[3];
        assert_eq!(ten.from, Timestamp::from_secs(600));
        assert!((ten.ratio.value - 0.97).abs() < 0.01, "{ten:?}");
        assert!(ten.own_best_w >= ten.under_test_w);
        assert!(found.durations[0].own_best_w > 1000.0);
    }

    /// A drop-out in the best effort gives way to the second best instead of hiding the duration;
    /// one that only touches a window takes nothing from it.
    #[test]
    fn a_drop_out_gives_way_to_the_next_best() {
        let mut session = Session::pair(
            100,
            |t| {
                let w = match t as i64 {
                    20..30 => 500.0,
                    60..70 => 400.0,
                    _ => 100.0,
                };
                (w, w)
            },
            Session::usual_motion,
        );
        let mut dropout = |from: i64, to: i64| {
            session.dropouts = vec![DropOut {
                kind: DropOutKind::ZeroUnderLoad,
                from: Timestamp::from_secs(from),
                to: Timestamp::from_secs(to),
                lost_kj: 0.0,
            }];
            let found = best_means(&session.given()).unwrap().result;
            found.durations[3]
        };
        let (within, beside) = (dropout(24, 25), dropout(30, 33));
        assert_eq!(within.seconds, 10.0);
        assert_eq!(within.from, Timestamp::from_secs(60));
        assert_eq!(within.reference_w, 400.0);
        assert_eq!(beside.from, Timestamp::from_secs(20));
    }

    /// Sequence of 1…10 W held a second each: the best three seconds are 9, 10 and 10 W.
    #[test]
    fn by_hand() {
        let session = Session::pair(11, |t| (t, t), Session::usual_motion);
        let found = best_means(&session.given()).unwrap().result;
        assert_eq!(found.durations[0].reference_w, 10.0);
        assert!((found.durations[1].reference_w - 29.0 / 3.0).abs() < 1e-12);
    }

    #[test]
    fn nothing_overlaps() {
        assert!(best_means(&Session::empty().given()).is_err());
        let zero = Session::pair(100, |_| (0.0, 0.0), Session::usual_motion);
        assert!(best_means(&zero.given()).is_err());
    }
}
