//! Delay and smoothing of what the device reports, against what the reference reports.

use super::bins::{Bin, Paired};
use super::integral::{secs, usual_interval_s};
use super::prepared::Prepared;
use super::transitions::{Piece, transitions};
use super::{not_tested, words};
use crate::outcome::{Estimate, Ink, Outcome, Tested};
use crate::stats::descriptive::lag1;
use crate::stats::intervals::interval_95;
use crate::stats::least_squares::least_squares;
use crate::stats::order::exceeds;
use crate::stats::search::pattern_search;
use units::{Series, Timestamp};

/// Name of the examination.
pub const NAME: &str = "reporting lag and smoothing";

/// Delay and smoothing from reference to device.
///
/// Both are relative: the reference has a delay of its own that two radios cannot reveal.
#[derive(Clone, Debug, PartialEq)]
pub struct Smoothing {
    /// Which kernel describes the device better.
    pub kernel: Kernel,
    /// Pure delay before the kernel begins, s.
    pub lag_s: Estimate,
    /// Length of the averaging window, s. For a first-order kernel it is twice the time constant:
    /// the box with the same mean delay and the same reduction of white noise.
    pub window_s: Estimate,
    /// 95 % interval of the window; its lower end is not below zero.
    pub window_interval_s: [f64; 2],
    /// Mean delay of the whole, pure delay plus half the window, s.
    pub mean_delay_s: Estimate,
    /// Whether smoothing is claimed: the interval of the window excludes zero.
    pub claimed: bool,
    /// Share of packets that repeat the value before: device and reference.
    pub repeated: [f64; 2],
    /// Variance of second-to-second changes while steady, device over reference.
    pub variance_ratio: Option<f64>,
    /// Samples used.
    pub samples: usize,
    /// Changes of load that the samples lie around.
    pub transitions: usize,
}

/// Shapes of smoothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kernel {
    /// Mean over a window (finite impulse response).
    Box,
    /// First-order lag.
    FirstOrder,
}

/// Fewest changes of load that show a delay.
const LEAST_TRANSITIONS: usize = 4;
/// What is looked at around a change, s before and after.
const AROUND_S: [f64; 2] = [-4.0, 16.0];
/// What a kernel may reach back to, s.
const REACH_S: f64 = 13.0;
/// Delays and windows that are looked for, s. A reference may itself be later than the device.
const LAG_S: [f64; 2] = [-3.0, 8.0];
const WINDOW_S: [f64; 2] = [0.0, 12.0];
/// Where the search for lag and window begins, s; the better end counts.
const STARTS: [[f64; 2]; 2] = [[0.5, 2.0], [2.0, 6.0]];
/// Samples used at most.
const MOST_SAMPLES: usize = 320;

/// One value of the device beside the piece of the reference it belongs to.
struct Sample {
    piece: usize,
    at_s: f64,
    value: f64,
}

/// Fits delay and smoothing from reference to device around quick changes of power.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn smoothing(given: &Prepared<'_>) -> Outcome<Smoothing> {
    let paired = Paired::new(given, NAME)?;
    let under_test = given.under_test(NAME)?;
    let reference = given.reference(NAME)?;
    // On its own arrival times the device is as late as it really was.
    let removed = under_test.facts.removed_shift_s;
    let places = transitions(paired.reference);
    let mut pieces = Vec::new();
    let mut samples = Vec::new();
    for at_s in places {
        let (from_s, to_s) = (at_s + AROUND_S[0], at_s + AROUND_S[1]);
        if !paired.is_free(from_s - 2.0, to_s) {
            continue;
        }
        let Some(piece) = Piece::new(paired.reference, from_s - REACH_S, to_s + 4.0) else {
            continue;
        };
        let series = &under_test.stream.power_w;
        let moved = |s: f64| Timestamp::from_secs_f64(s - removed);
        for index in series.range(moved(from_s), moved(to_s)) {
            samples.push(Sample {
                piece: pieces.len(),
                at_s: secs(series.times()[index]) + removed,
                value: series.values()[index],
            });
        }
        pieces.push(piece);
    }
    if pieces.len() < LEAST_TRANSITIONS || samples.len() < 40 {
        return not_tested(
            NAME,
            format!(
                "{} quick changes of power with both instruments; ride at least six steps of \
                 50 W or more, or some short hard efforts",
                pieces.len()
            ),
        );
    }
    thin(&mut samples);
    let scene = Scene {
        pieces: &pieces,
        samples: &samples,
        y: samples.iter().map(|sample| sample.value).collect(),
    };
    let boxed = STARTS
        .iter()
        .filter_map(|start| fit(Kernel::Box, &scene, *start, [1.0, 2.0]))
        .min_by(|a, b| a.rss.total_cmp(&b.rss));
    let first_order = boxed.as_ref().and_then(|boxed| {
        fit(
            Kernel::FirstOrder,
            &scene,
            [boxed.lag_s, boxed.window_s],
            [0.5, 1.0],
        )
    });
    let (kernel, fit) = match (boxed, first_order) {
        (Some(a), Some(b)) if b.rss < a.rss => (Kernel::FirstOrder, b),
        (Some(a), _) => (Kernel::Box, a),
        (None, _) => {
            return not_tested(NAME, "the device does not follow the reference at all");
        }
    };
    let interval_s = |series: &Series| usual_interval_s(series).unwrap_or(1.0);
    let (device_w, reference_w) = (&under_test.stream.power_w, &reference.stream.power_w);
    let seen = Seen {
        intervals_s: [interval_s(device_w), interval_s(reference_w)],
        repeated: [share_repeated(device_w), share_repeated(reference_w)],
        variance_ratio: variance_ratio(given, &paired),
        samples: samples.len(),
        transitions: pieces.len(),
    };
    Ok(report(kernel, &fit, &seen))
}

/// What was seen of both streams beside the kernel; device first.
struct Seen {
    intervals_s: [f64; 2],
    repeated: [f64; 2],
    variance_ratio: Option<f64>,
    samples: usize,
    transitions: usize,
}

/// Keeps an even choice of samples.
fn thin(samples: &mut Vec<Sample>) {
    let every = samples.len().div_ceil(MOST_SAMPLES);
    let mut index = 0;
    samples.retain(|_| {
        index += 1;
        (index - 1) % every == 0
    });
}

/// A fitted kernel.
struct KernelFit {
    lag_s: f64,
    window_s: f64,
    rss: f64,
    /// Variances of lag and window and their covariance.
    covariance: [f64; 3],
    dof: f64,
}

/// The pieces of the reference and the samples of the device; samples of a piece lie together.
struct Scene<'a> {
    pieces: &'a [Piece],
    samples: &'a [Sample],
    /// Values of the samples.
    y: Vec<f64>,
}

impl Scene<'_> {
    /// What the reference would show through a kernel, at every sample.
    fn through(&self, kernel: Kernel, [lag_s, window_s]: [f64; 2], scratch: &mut Scratch) {
        let Scratch { seen, curve } = scratch;
        seen.clear();
        match kernel {
            Kernel::Box => {
                let boxed = |s: &Sample| self.pieces[s.piece].boxed(s.at_s, lag_s, window_s);
                seen.extend(self.samples.iter().map(boxed));
            }
            Kernel::FirstOrder => {
                for run in self.samples.chunk_by(|a, b| a.piece == b.piece) {
                    let piece = &self.pieces[run[0].piece];
                    piece.lagged(0.5 * window_s, curve);
                    seen.extend(run.iter().map(|s| piece.on_grid(curve, s.at_s - lag_s)));
                }
            }
        }
    }
}

/// Room that is used again for every kernel tried.
#[derive(Default)]
struct Scratch {
    seen: Vec<f64>,
    curve: Vec<f64>,
}

/// The kernel with the smallest residuals, looked for from a start with a first step.
fn fit(kernel: Kernel, scene: &Scene<'_>, start: [f64; 2], step: [f64; 2]) -> Option<KernelFit> {
    let mut scratch = Scratch::default();
    let y = &scene.y;
    let rss = |p: [f64; 2]| {
        // Bias and scale of the device are not the question here; they are left free.
        scene.through(kernel, p, &mut scratch);
        line_rss(&scratch.seen, y)
    };
    let (best, value) = pattern_search(start, step, [LAG_S, WINDOW_S], 0.04, rss);
    if !value.is_finite() {
        return None;
    }
    let model = |lag: f64, window: f64| {
        let mut scratch = Scratch::default();
        scene.through(kernel, [lag, window], &mut scratch);
        scratch.seen
    };
    let h = 0.15;
    let centre = model(best[0], best[1]);
    let slope = |high: Vec<f64>, low: Vec<f64>, width: f64| -> Vec<f64> {
        high.iter()
            .zip(&low)
            .map(|(a, b)| (a - b) / width)
            .collect()
    };
    let by_lag = slope(
        model(best[0] + h, best[1]),
        model(best[0] - h, best[1]),
        2.0 * h,
    );
    let low_window = (best[1] - h).max(0.0);
    let by_window = slope(
        model(best[0], best[1] + h),
        model(best[0], low_window),
        best[1] + h - low_window,
    );
    let ones = vec![1.0; y.len()];
    let joint = least_squares(&[ones, centre, by_lag, by_window], y, None)?;
    // Amplitude multiplies the derivatives; the fit sees them without it.
    let amplitude = joint.coefficients[1];
    if !exceeds(amplitude.abs(), 0.05) {
        return None;
    }
    let phi = lag1(&joint.residuals).unwrap_or(0.0).clamp(0.0, 0.95);
    let inflate = (1.0 + phi) / (1.0 - phi);
    let variance = joint.variance() * inflate / (amplitude * amplitude);
    Some(KernelFit {
        lag_s: best[0],
        window_s: best[1],
        rss: value,
        covariance: [
            variance * joint.inverse[2][2],
            variance * joint.inverse[3][3],
            variance * joint.inverse[2][3],
        ],
        dof: (joint.dof as f64 / inflate).max(2.0),
    })
}

/// Residual sum of squares of a straight line of `y` on `x`.
fn line_rss(x: &[f64], y: &[f64]) -> f64 {
    let n = x.len() as f64;
    let (mean_x, mean_y) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let (mut sxx, mut sxy, mut syy) = (0.0, 0.0, 0.0);
    for (x, y) in x.iter().zip(y) {
        sxx += (x - mean_x).powi(2);
        sxy += (x - mean_x) * (y - mean_y);
        syy += (y - mean_y).powi(2);
    }
    if sxx > 0.0 {
        syy - sxy * sxy / sxx
    } else {
        syy
    }
}

/// Share of values that repeat the value before.
fn share_repeated(series: &Series) -> f64 {
    let pairs = series.len().saturating_sub(1);
    if pairs == 0 {
        return 0.0;
    }
    let same = series.values().windows(2).filter(|w| w[0] == w[1]).count();
    same as f64 / pairs as f64
}

/// Variance of the change from second to second while steady, device over reference.
fn variance_ratio(given: &Prepared<'_>, paired: &Paired) -> Option<f64> {
    let (mut device, mut reference, mut n) = (0.0, 0.0, 0);
    for window in given.windows.iter().take(40) {
        let bins = paired.bins(secs(window.from), secs(window.to), 1.0);
        for pair in bins.windows(2) {
            let change = |f: fn(&Bin) -> f64| (f(&pair[1]) - f(&pair[0])).powi(2);
            device += change(|bin| bin.under_test_w);
            reference += change(|bin| bin.reference_w);
            n += 1;
        }
    }
    (n >= 30 && reference > 0.0).then(|| device / reference)
}

fn report(kernel: Kernel, fit: &KernelFit, seen: &Seen) -> Tested<Smoothing> {
    let [device_s, reference_interval_s] = seen.intervals_s;
    let grain_s = device_s.max(reference_interval_s);
    // Values held from report to report blur every moment by a part of the interval.
    let grain = grain_s * grain_s / 12.0;
    let [lag_variance, window_variance, covariance] = fit.covariance;
    let estimate = |value: f64, variance: f64| Estimate {
        value,
        u: (variance.max(0.0) + grain).sqrt(),
        dof: fit.dof,
    };
    // A held reference is late by half its interval on average; reports are compared at the
    // moments they came.
    let pure_s = fit.lag_s + 0.5 * reference_interval_s;
    let lag_s = estimate(pure_s, lag_variance);
    let window_s = estimate(fit.window_s, window_variance);
    let mean_delay_s = estimate(
        pure_s + 0.5 * fit.window_s,
        lag_variance + 0.25 * window_variance + covariance,
    );
    let [low, high] = interval_95(window_s);
    let window_interval_s = [low.max(0.0), high.max(0.0)];
    // A window no longer than one report of the slower instrument is no smoothing.
    let claimed = low > grain_s;
    let sentence = if claimed {
        format!(
            "The device averages over about {} s ({}) and reports {} s after the reference.",
            words::plain(fit.window_s, 1),
            words::interval_of_size(window_interval_s, 1, "s"),
            words::plain(mean_delay_s.value, 1),
        )
    } else {
        format!(
            "No smoothing beyond that of the reference is shown ({}); the device reports {} s \
             after the reference.",
            words::interval_of_size(window_interval_s, 1, "s"),
            words::plain(mean_delay_s.value, 1),
        )
    };
    let kernel_line = match kernel {
        Kernel::Box => vec![
            [pure_s, 0.0],
            [pure_s, 1.0 / fit.window_s.max(0.1)],
            [pure_s + fit.window_s, 1.0 / fit.window_s.max(0.1)],
            [pure_s + fit.window_s, 0.0],
        ],
        Kernel::FirstOrder => {
            let tau = (0.5 * fit.window_s).max(0.05);
            (0..=40)
                .map(|i| f64::from(i) * 0.1 * tau)
                .map(|age| [pure_s + age, (-age / tau).exp() / tau])
                .collect()
        }
    };
    let plots = vec![words::plot(
        "smoothing-kernel",
        "Weight of the past in what the device reports",
        ["age of the reference's power, s", "weight, 1/s"],
        vec![words::line(Ink::Fit, "fitted kernel", kernel_line)],
        format!(
            "{} samples around {} changes of power; relative to the reference",
            seen.samples, seen.transitions
        ),
    )];
    let result = Smoothing {
        kernel,
        lag_s,
        window_s,
        window_interval_s,
        mean_delay_s,
        claimed,
        repeated: seen.repeated,
        variance_ratio: seen.variance_ratio,
        samples: seen.samples,
        transitions: seen.transitions,
    };
    Tested {
        result,
        sentence,
        plots,
    }
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session, at};
    use super::*;
    use crate::evidence::{Place, Role};

    /// Twenty blocks of 30 s, 150 and 250 W; the reference reports the truth once a second at a
    /// phase of its own, the device at `rate_hz` the mean over `window` seconds, `lag` late.
    fn blocks(seed: u64, lag: f64, window: f64, rate_hz: f64) -> Session {
        let mut noise = Noise::new(seed);
        let edge = |block: i64| 30.0 * block as f64 + 0.37 * (block % 3) as f64;
        let level = |t: f64| {
            let mut block = (t / 30.0).floor() as i64;
            if t < edge(block) {
                block -= 1;
            }
            if block.rem_euclid(2) == 0 {
                150.0
            } else {
                250.0
            }
        };
        let truth_mean = |from: f64, to: f64| {
            let steps = 40;
            (0..steps)
                .map(|i| level(from + (to - from) * (f64::from(i) + 0.5) / f64::from(steps)))
                .sum::<f64>()
                / f64::from(steps)
        };
        let mut session = Session::empty();
        let mut device = super::super::synthetic::stream("device", Role::UnderTest, Place::Hub);
        let mut reference =
            super::super::synthetic::stream("reference", Role::PrimaryReference, Place::Crank);
        for second in 0..600 {
            let t = f64::from(second) + 0.21;
            let value = truth_mean(t - 1.0, t) + 3.0 * noise.normal();
            reference.power_w.push(at(t), value).unwrap();
        }
        for sample in 0..(600.0 * rate_hz) as i32 {
            let t = f64::from(sample) / rate_hz + 0.68;
            let w = window.max(0.01);
            let value = truth_mean(t - lag - w, t - lag) + 3.0 * noise.normal();
            device.power_w.push(at(t), value.round()).unwrap();
        }
        session.evidence.streams = vec![device, reference];
        session.evidence.end = at(600.0);
        session
    }

    /// The reference averages over one second itself; what is found is relative to it.
    #[test]
    fn a_window_of_five_seconds_is_found() {
        let mut covered = 0;
        for seed in 0..12 {
            let found = smoothing(&blocks(seed, 1.0, 5.0, 4.0).given())
                .unwrap()
                .result;
            assert!(found.claimed, "{found:?}");
            assert!((found.window_s.value - 5.0).abs() < 0.8, "{found:?}");
            assert!((found.mean_delay_s.value - 3.0).abs() < 0.5, "{found:?}");
            let [low, high] = found.window_interval_s;
            covered += usize::from(low <= 5.0 && 5.0 <= high);
        }
        assert!(covered >= 11, "{covered} of 12");
    }

    #[test]
    fn no_window_is_not_claimed() {
        for (seed, rate_hz) in [(1, 1.0), (2, 4.0), (3, 1.0), (4, 4.0)] {
            let found = smoothing(&blocks(seed, 0.5, 1.0, rate_hz).given())
                .unwrap()
                .result;
            assert!(!found.claimed, "{found:?}");
        }
    }

    #[test]
    fn a_lag_removed_before_is_added_again() {
        let mut session = blocks(9, 2.0, 3.0, 4.0);
        let before = smoothing(&session.given()).unwrap().result;
        session.facts = vec![super::super::given::StreamFacts {
            removed_lag_s: 2.5,
            removed_shift_s: 2.5,
            ..Default::default()
        }];
        let device = &mut session.evidence.streams[0];
        device.power_w = device
            .power_w
            .map_time(|t| t - units::Span::from_millis(2500))
            .unwrap();
        let after = smoothing(&session.given()).unwrap().result;
        assert!(
            (before.lag_s.value - after.lag_s.value).abs() < 0.1,
            "{before:?} {after:?}"
        );
    }

    #[test]
    fn steady_riding_shows_no_delay() {
        assert!(smoothing(&Session::empty().given()).is_err());
        let steady = Session::pair(600, |_| (200.0, 200.0), Session::usual_motion);
        assert!(
            smoothing(&steady.given())
                .unwrap_err()
                .reason
                .contains("changes of power")
        );
        let ignored = Session::pair(
            600,
            |t| {
                (
                    if (t / 30.0) as i64 % 2 == 0 {
                        150.0
                    } else {
                        250.0
                    },
                    200.0,
                )
            },
            Session::usual_motion,
        );
        assert!(smoothing(&ignored.given()).is_err());
    }
}
