//! The exact place: one lag for every stretch and one drift of the clock for all, by least squares
//! over the whole recording at once.
//!
//! Every point says by how much it would have to be moved: its residual against the reference, in
//! units of the slope there. Points are weighed by what is known of their scatter, which is that of
//! the instruments and, where the effort changes steeply, that of timing: a sprint would otherwise
//! outweigh an hour. The curvature is the product of the slopes of both streams, to which the noise
//! of neither contributes.
//!
//! The uncertainty is the sandwich form: sums of the scores over half a minute at a time, scattered as
//! they are, over the squared curvature. It therefore covers whatever the model leaves out and that
//! lasts for less than half a minute: autocorrelated noise, smoothing, cut time stamps.
//! Where few clusters decide, the residual of each is put back to what it would be without its own
//! pull on the lag and on the drift (the form HC3 of MacKinnon and White, 1985), and Student's factor
//! is applied to both.
//!
//! Gain and offset are free for every five minutes, so that neither can pull the lag.

use super::sides::Sides;
use super::track::Stretch;
use crate::align::{INTERPOLATION_U_S, STEP_S};
use crate::findings::{LagQuantity, LagSegment};
use crate::stats::normal::student_t_quantile;
use crate::stats::order::quantile;
use units::Timestamp;

/// Points whose scores are summed: 30 s.
const CLUSTER: usize = 60;
/// Clusters that share gain and offset: 5 min.
const CLUSTERS: usize = 10;
/// Fewest points of a share of gain and offset: 1 min.
const FEWEST: usize = 120;
/// Two quartz clocks drift apart by less than this, mostly; ppm (standard deviation; common
/// practice: ± 20 to 50 ppm for one crystal, more in the cold or heat). A long recording decides the
/// drift by itself; a short one leans on this.
const DRIFT_PRIOR_PPM: f64 = 100.0;
/// Smoothing that is tried, times over: against an instrument that smooths, more of it is better.
const SMOOTHINGS: [usize; 3] = [1, 4, 16];
/// Rounds of improvement; the first already comes within milliseconds.
const ROUNDS: usize = 8;

/// The place of every stretch.
#[derive(Clone, Debug)]
pub(super) struct Joint {
    pub(super) stretches: Vec<Placed>,
    /// Drift, seconds per second, with its standard uncertainty and degrees of freedom.
    pub(super) drift: f64,
    pub(super) drift_u: f64,
    pub(super) dof: f64,
    pub(super) segments: Vec<LagSegment>,
}

/// One stretch.
#[derive(Clone, Copy, Debug)]
pub(super) struct Placed {
    /// Moment on the recorder's clock at which the lag holds: the middle of what told it, s.
    pub(super) middle_s: f64,
    pub(super) lag_s: f64,
    /// Standard uncertainty at that moment, s.
    pub(super) u_s: f64,
}

impl Joint {
    fn lag_s(&self, stretch: usize, moment_s: f64) -> f64 {
        let placed = &self.stretches[stretch];
        placed.lag_s + self.drift * (moment_s - placed.middle_s)
    }

    /// Mean square uncertainty of the stretches, to choose between ways.
    fn badness(&self) -> f64 {
        self.stretches
            .iter()
            .map(|placed| placed.u_s * placed.u_s)
            .sum()
    }
}

/// The best fit of one or two quantities to the stretches. `None` where a stretch has no changes
/// that tell its lag.
pub(super) fn fit(sides: &[(LagQuantity, &Sides)], stretches: &[Stretch]) -> Option<Joint> {
    SMOOTHINGS
        .iter()
        .filter_map(|times| {
            let smoothed: Vec<(LagQuantity, Sides)> = sides
                .iter()
                .map(|(quantity, sides)| (*quantity, sides.smoothed(*times)))
                .collect();
            fit_smoothed(&smoothed, stretches)
        })
        .min_by(|a, b| a.badness().total_cmp(&b.badness()))
}

fn fit_smoothed(sides: &[(LagQuantity, Sides)], stretches: &[Stretch]) -> Option<Joint> {
    let mut joint = Joint {
        stretches: stretches
            .iter()
            .map(|stretch| Placed {
                middle_s: 0.0,
                lag_s: stretch.lag_s,
                u_s: f64::INFINITY,
            })
            .collect(),
        drift: 0.0,
        drift_u: f64::INFINITY,
        dof: 0.0,
        segments: Vec::new(),
    };
    for _ in 0..ROUNDS {
        let told: Vec<Told> = sides
            .iter()
            .flat_map(|(quantity, sides)| tell(*quantity, sides, stretches, &joint))
            .collect();
        let next = solve(&told, &joint)?;
        let moved = next
            .stretches
            .iter()
            .enumerate()
            .map(|(stretch, placed)| (placed.lag_s - joint.lag_s(stretch, placed.middle_s)).abs())
            .fold((next.drift - joint.drift).abs() * 1000.0, f64::max);
        joint = next;
        if moved < 1e-4 {
            break;
        }
    }
    Some(joint)
}

/// What half a minute says about the lag.
#[derive(Clone, Copy, Debug)]
struct Told {
    quantity: LagQuantity,
    stretch: usize,
    middle_s: f64,
    /// Σ w · residual · slope: by how much it wants to be moved, times `information`.
    score: f64,
    /// Σ w · slope · slope of the stream.
    information: f64,
}

/// One point beside the reference at the lag so far.
#[derive(Clone, Copy, Debug)]
struct Beside {
    point: usize,
    stream: f64,
    stream_slope: f64,
    reference: f64,
    slope: f64,
}

fn tell(quantity: LagQuantity, sides: &Sides, stretches: &[Stretch], joint: &Joint) -> Vec<Told> {
    let points = sides.stream.uniform.values.len();
    let mut shares: Vec<(usize, Vec<Beside>, f64)> = Vec::new();
    for stretch in 0..stretches.len() {
        let (from, to) = points_of(sides, stretches, stretch, points);
        let mut start = from;
        while start < to {
            // What is left over at the end is not worth gain and offset of its own.
            let length = CLUSTER * CLUSTERS;
            let end = if to - start < length * 3 / 2 {
                to
            } else {
                start + length
            };
            let beside: Vec<Beside> = (start..end)
                .filter_map(|point| {
                    let stream = sides.stream_at(point)?;
                    let moment_s = sides.stream.moment_s(point);
                    let sample = sides.reference_at(moment_s - joint.lag_s(stretch, moment_s))?;
                    Some(Beside {
                        point,
                        stream: stream.value,
                        stream_slope: stream.slope,
                        reference: sample.value,
                        slope: sample.slope,
                    })
                })
                .collect();
            if beside.len() >= FEWEST
                && let Some(gain) = gain(&beside)
            {
                shares.push((stretch, beside, gain));
            }
            start = end;
        }
    }
    let scatter = Scatter::of(&shares);
    shares
        .iter()
        .flat_map(|(stretch, beside, gain)| {
            clusters(quantity, sides, (*stretch, beside, *gain), &scatter)
        })
        .collect()
}

/// Points of a stretch, without those where a jump may lie.
fn points_of(
    sides: &Sides,
    stretches: &[Stretch],
    stretch: usize,
    points: usize,
) -> (usize, usize) {
    let point = |at: Timestamp| {
        let place = (at.as_secs_f64() - sides.stream.from_s) / STEP_S;
        (place.ceil().max(0.0) as usize).min(points)
    };
    let from = match stretch {
        0 => 0,
        _ => point(stretches[stretch].unsure.1),
    };
    let to = stretches
        .get(stretch + 1)
        .map_or(points, |next| point(next.unsure.0));
    (from, to.max(from))
}

/// The gain of the stream on the reference; `None` where there is no likeness.
fn gain(beside: &[Beside]) -> Option<f64> {
    let [a, b] = means(beside);
    let (mut aa, mut ab) = (0.0, 0.0);
    for pair in beside {
        aa += (pair.reference - a).powi(2);
        ab += (pair.reference - a) * (pair.stream - b);
    }
    let gain = ab / aa;
    (gain.is_finite() && gain > 0.0).then_some(gain)
}

fn means(beside: &[Beside]) -> [f64; 2] {
    let n = beside.len() as f64;
    [
        beside.iter().map(|pair| pair.reference).sum::<f64>() / n,
        beside.iter().map(|pair| pair.stream).sum::<f64>() / n,
    ]
}

/// Residuals of a share with the slopes that belong to them.
fn residuals(beside: &[Beside], gain: f64) -> impl Iterator<Item = (&Beside, f64)> {
    let [a, b] = means(beside);
    beside
        .iter()
        .map(move |pair| (pair, pair.stream - b - gain * (pair.reference - a)))
}

/// Variance of a residual: of the instruments, and of timing where the effort changes.
struct Scatter {
    still: f64,
    timing_s2: f64,
}

impl Scatter {
    fn of(shares: &[(usize, Vec<Beside>, f64)]) -> Self {
        let pairs: Vec<(f64, f64)> = shares
            .iter()
            .flat_map(|(_, beside, gain)| {
                residuals(beside, *gain)
                    .map(|(pair, left)| ((gain * pair.slope).abs(), left * left))
                    .collect::<Vec<_>>()
            })
            .collect();
        let slopes: Vec<f64> = pairs.iter().map(|(slope, _)| *slope).collect();
        let middle = quantile(&slopes, 0.5).unwrap_or(0.0);
        let steep = quantile(&slopes, 0.95).unwrap_or(0.0);
        let mean = |of: &mut dyn Iterator<Item = f64>| -> f64 {
            let (sum, count) =
                of.fold((0.0, 0.0), |(sum, count), value| (sum + value, count + 1.0));
            sum / f64::max(count, 1.0)
        };
        let gentle = mean(
            &mut pairs
                .iter()
                .filter(|pair| pair.0 <= middle)
                .map(|pair| pair.1),
        );
        let still = gentle.max(1e-3);
        let sharp = mean(
            &mut pairs
                .iter()
                .filter(|pair| pair.0 > steep)
                .map(|pair| pair.1),
        );
        let square = mean(
            &mut pairs
                .iter()
                .filter(|pair| pair.0 > steep)
                .map(|pair| pair.0 * pair.0),
        );
        let timing_s2 = ((sharp - still) / square.max(1e-9)).max(0.0);
        Self { still, timing_s2 }
    }

    fn variance(&self, slope: f64) -> f64 {
        self.still + self.timing_s2 * slope * slope
    }
}

fn clusters(
    quantity: LagQuantity,
    sides: &Sides,
    (stretch, beside, gain): (usize, &[Beside], f64),
    scatter: &Scatter,
) -> Vec<Told> {
    let n = beside.len() as f64;
    let slope_mean = beside.iter().map(|pair| pair.slope).sum::<f64>() / n;
    let mut told: Vec<(usize, Told, f64)> = Vec::new();
    for (pair, left) in residuals(beside, gain) {
        let slope = gain * (pair.slope - slope_mean);
        let variance = scatter.variance(gain * pair.slope);
        // One drop-out is not to outweigh a minute (Huber's bound).
        let weight = (3.0 * variance.sqrt() / left.abs().max(1e-9)).min(1.0) / variance;
        // The reference lies later than the stream where a rise is still to come.
        let score = -weight * left * slope;
        let information = weight * slope * pair.stream_slope;
        let moment_s = sides.stream.moment_s(pair.point);
        let cluster = pair.point / CLUSTER;
        if told.last().is_none_or(|last| last.0 != cluster) {
            let empty = Told {
                quantity,
                stretch,
                middle_s: 0.0,
                score: 0.0,
                information: 0.0,
            };
            told.push((cluster, empty, 0.0));
        }
        if let Some((_, last, count)) = told.last_mut() {
            last.score += score;
            last.information += information;
            last.middle_s += moment_s;
            *count += 1.0;
        }
    }
    told.into_iter()
        .map(|(_, told, count)| Told {
            middle_s: told.middle_s / count,
            ..told
        })
        .collect()
}

/// One step of least squares from what the clusters say.
fn solve(told: &[Told], joint: &Joint) -> Option<Joint> {
    let mut stretches = Vec::with_capacity(joint.stretches.len());
    let (mut sxx, mut sxy) = (0.0, 0.0);
    for stretch in 0..joint.stretches.len() {
        let of = || told.iter().filter(|told| told.stretch == stretch);
        let information: f64 = of().map(|told| told.information).sum();
        if information <= 0.0 || of().count() < 2 {
            return None;
        }
        let middle_s = of()
            .map(|told| told.information * told.middle_s)
            .sum::<f64>()
            / information;
        // Noise may make the information of single clusters negative; the middle stays inside.
        let (first, last) = (of().next()?.middle_s, of().next_back()?.middle_s);
        let middle_s = middle_s.clamp(first.min(last), last.max(first));
        let shift_s = of().map(|told| told.score).sum::<f64>() / information;
        for told in of() {
            let from_s = told.middle_s - middle_s;
            sxx += told.information * from_s * from_s;
            sxy += from_s * (told.score - told.information * shift_s);
        }
        stretches.push((middle_s, shift_s, information));
    }
    let steeper = if sxx > 0.0 { sxy / sxx } else { 0.0 };
    let left = |told: &Told| {
        let (middle_s, shift_s, information) = stretches[told.stretch];
        let wanted = shift_s + steeper * (told.middle_s - middle_s);
        // A cluster that decides by itself leaves nothing over: its leverage is put back.
        // It has one on the lag of its stretch, and far from the middle another on the drift.
        let far = (told.middle_s - middle_s).powi(2) / sxx;
        let on_drift = if sxx > 0.0 { far } else { 0.0 };
        let leverage = (told.information * (1.0 / information + on_drift)).clamp(0.0, 0.8);
        (told.score - told.information * wanted) / (1.0 - leverage)
    };
    let drift = joint.drift + steeper;
    let slope_variance = if sxx > 0.0 {
        told.iter()
            .map(|told| {
                let from_s = told.middle_s - stretches[told.stretch].0;
                (from_s * left(told)).powi(2)
            })
            .sum::<f64>()
            / (sxx * sxx)
            * few(&mut told.iter().map(|told| {
                let from_s = told.middle_s - stretches[told.stretch].0;
                told.information * from_s * from_s
            }))
            .1
            .powi(2)
    } else {
        f64::INFINITY
    };
    let prior = (DRIFT_PRIOR_PPM * 1e-6).powi(2);
    let trust = if slope_variance.is_finite() {
        prior / (prior + slope_variance)
    } else {
        0.0
    };
    let mut least_dof = f64::MAX;
    let placed: Vec<Placed> = (0..stretches.len())
        .map(|stretch| {
            let (middle_s, shift_s, information) = stretches[stretch];
            let of = || told.iter().filter(|told| told.stretch == stretch);
            let variance = of().map(|told| left(told).powi(2)).sum::<f64>() / information.powi(2);
            let (dof, few) = few(&mut of().map(|told| told.information));
            least_dof = least_dof.min(dof);
            Placed {
                middle_s,
                lag_s: joint.lag_s(stretch, middle_s) + shift_s,
                u_s: (few * variance.sqrt()).hypot(INTERPOLATION_U_S),
            }
        })
        .collect();
    Some(Joint {
        segments: segments(told, joint),
        stretches: placed,
        drift: trust * drift,
        drift_u: if slope_variance.is_finite() {
            (trust * slope_variance).sqrt()
        } else {
            DRIFT_PRIOR_PPM * 1e-6
        },
        dof: least_dof,
    })
}

/// Degrees of freedom of a sum to which the clusters contribute so much each, and Student's factor,
/// so that twice u still covers 95 % where a few of them decide.
fn few(information: &mut dyn Iterator<Item = f64>) -> (f64, f64) {
    let (mut sum, mut squares) = (0.0, 0.0);
    for part in information {
        sum += part;
        squares += part * part;
    }
    let dof = (sum * sum / squares - 1.0).max(1.0);
    (dof, student_t_quantile(0.975, dof) / 1.96)
}

/// The lags of five minutes each, by themselves.
fn segments(told: &[Told], joint: &Joint) -> Vec<LagSegment> {
    let mut segments = Vec::new();
    let same = |a: &Told, b: &Told| a.stretch == b.stretch && a.quantity == b.quantity;
    for run in told.chunk_by(same) {
        for chunk in run.chunks(CLUSTERS) {
            let information: f64 = chunk.iter().map(|told| told.information).sum();
            if information <= 0.0 {
                continue;
            }
            let stretch = chunk[0].stretch;
            let middle_s = chunk.iter().map(|told| told.middle_s).sum::<f64>() / chunk.len() as f64;
            let shift_s = chunk.iter().map(|told| told.score).sum::<f64>() / information;
            let variance = chunk
                .iter()
                .map(|told| (told.score - told.information * shift_s).powi(2))
                .sum::<f64>()
                / information.powi(2);
            segments.push(LagSegment {
                middle_s,
                lag_s: joint.lag_s(stretch, middle_s) + shift_s,
                u_s: variance.sqrt().hypot(INTERPOLATION_U_S),
                quantity: chunk[0].quantity,
            });
        }
    }
    segments
}
