//! How well every point of a recording fits the reference at every lag that is tried.
//!
//! What varies slowly is taken off both, for it resembles itself at any lag. Gain and scatter are
//! taken from the lags that fit minute by minute; a misfit then counts in variances of that scatter,
//! and no point by more than a bound.

use crate::align::grid::STEP_S;
use crate::align::placing::sides::Sides;
use crate::stats::autocorrelation::long_run_variance;
use crate::stats::order::quantile;
use std::ops::Range;

/// Points of a block: 10 s.
pub(super) const BLOCK: usize = 20;
/// Spacing of the lags that are tried, s.
const LAG_STEP_S: f64 = 0.25;
/// How far around a rough lag is tried, steps of the lag: 4 s.
const REACH: i64 = 16;
/// Points on either side over which the slow part is taken: 30 s.
const SLOW: usize = 60;
/// A point counts as a misfit of at most this many variances: one drop-out decides nothing.
pub(super) const WORST: f64 = 9.0;
/// What a point costs for which the reference has no value at that lag.
pub(super) const MISSING: f64 = 1.5;
/// Two instruments see a change at moments that differ by about this, s.
pub(super) const TIMING_S: f64 = 0.15;
/// Lags over which residuals are correlated, points: 8 s.
const MEMORY: usize = 16;

/// A lag that is tried, and the rough lag around which it lies.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tried {
    pub(super) lag_s: f64,
    pub(super) group: usize,
}

/// The lags near the rough ones, in order; each once.
pub(super) fn lags(rough_s: &[f64]) -> Vec<Tried> {
    let mut steps: Vec<i64> = rough_s
        .iter()
        .flat_map(|rough| {
            let middle = (rough / LAG_STEP_S).round() as i64;
            middle - REACH..=middle + REACH
        })
        .collect();
    steps.sort_unstable();
    steps.dedup();
    let mut group = 0;
    let mut lags: Vec<Tried> = Vec::with_capacity(steps.len());
    for (place, step) in steps.iter().enumerate() {
        if place > 0 && step - steps[place - 1] > 1 {
            group += 1;
        }
        lags.push(Tried {
            lag_s: *step as f64 * LAG_STEP_S,
            group,
        });
    }
    lags
}

/// How well every point fits at every lag.
pub(super) struct Fits {
    pub(super) points: usize,
    /// By lag, then by point: misfit in variances, less than [`WORST`].
    pub(super) costs: Vec<Vec<f32>>,
    /// By how much the misfits of neighbouring points say the same.
    pub(super) inflation: f64,
    pub(super) groups: Vec<usize>,
}

impl Fits {
    pub(super) fn of(sides: &Sides, lags: &[Tried]) -> Option<Self> {
        let stream = quick(&sides.stream.uniform.values, &sides.stream.uniform.valid);
        let references: Vec<Vec<Option<(f64, f64)>>> = {
            let uniform = &sides.reference.uniform;
            let slow = slow(&uniform.values, &uniform.valid);
            lags.iter()
                .map(|lag| {
                    (0..stream.len())
                        .map(|point| {
                            let moment_s = sides.stream.moment_s(point) - lag.lag_s;
                            let sample = sides.reference_at(moment_s)?;
                            let place = (moment_s - sides.reference.from_s) / STEP_S;
                            let slow = slow.get(place.round() as usize)?;
                            Some((sample.value - slow, sample.slope))
                        })
                        .collect()
                })
                .collect()
        };
        let best = best_lags(&stream, &references);
        let (gain, variance, inflation) = scales(&stream, &references, &best)?;
        let costs = references
            .iter()
            .map(|reference| {
                stream
                    .iter()
                    .zip(reference)
                    .map(|(stream, reference)| match (stream, reference) {
                        (None, _) => 0.0,
                        (Some(_), None) => MISSING as f32,
                        (Some(stream), Some((value, slope))) => {
                            let scale = variance + (gain * slope * TIMING_S).powi(2);
                            ((stream - gain * value).powi(2) / scale).min(WORST) as f32
                        }
                    })
                    .collect()
            })
            .collect();
        Some(Self {
            points: stream.len(),
            costs,
            inflation,
            groups: lags.iter().map(|lag| lag.group).collect(),
        })
    }

    pub(super) fn block(&self, lag: usize, points: Range<usize>) -> f64 {
        let sum: f32 = self.costs[lag][points].iter().sum();
        f64::from(sum) / (2.0 * self.inflation)
    }

    pub(super) fn blocks(&self) -> usize {
        self.points.div_ceil(BLOCK)
    }

    pub(super) fn points_of(&self, block: usize) -> Range<usize> {
        block * BLOCK..((block + 1) * BLOCK).min(self.points)
    }
}

/// Mean over a minute around every point.
fn slow(values: &[f64], valid: &[bool]) -> Vec<f64> {
    let (mut sums, mut counts) = (vec![0.0], vec![0.0]);
    for (value, valid) in values.iter().zip(valid) {
        sums.push(sums[sums.len() - 1] + if *valid { *value } else { 0.0 });
        counts.push(counts[counts.len() - 1] + f64::from(u8::from(*valid)));
    }
    (0..values.len())
        .map(|point| {
            let (from, to) = (
                point.saturating_sub(SLOW),
                (point + SLOW + 1).min(values.len()),
            );
            (sums[to] - sums[from]) / f64::max(counts[to] - counts[from], 1.0)
        })
        .collect()
}

/// What varies quickly; `None` where missing.
fn quick(values: &[f64], valid: &[bool]) -> Vec<Option<f64>> {
    slow(values, valid)
        .iter()
        .zip(values.iter().zip(valid))
        .map(|(slow, (value, valid))| valid.then_some(value - slow))
        .collect()
}

/// The lag that fits each stretch of a minute best on its own, for a first idea of the scatter.
fn best_lags(stream: &[Option<f64>], references: &[Vec<Option<(f64, f64)>>]) -> Vec<usize> {
    const MINUTE: usize = 6 * BLOCK;
    let mut best = Vec::with_capacity(stream.len());
    for from in (0..stream.len()).step_by(MINUTE) {
        let points = from..(from + MINUTE).min(stream.len());
        let correlation = |reference: &Vec<Option<(f64, f64)>>| -> f64 {
            let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
            for point in points.clone() {
                if let (Some(b), Some((a, _))) = (stream[point], reference[point]) {
                    ab += a * b;
                    aa += a * a;
                    bb += b * b;
                }
            }
            let energy = f64::sqrt(aa * bb);
            if energy > 0.0 { ab / energy } else { -1.0 }
        };
        let of: Vec<f64> = references.iter().map(correlation).collect();
        let lag = (0..of.len())
            .max_by(|a, b| of[*a].total_cmp(&of[*b]))
            .unwrap_or(0);
        best.extend(std::iter::repeat_n(lag, points.len()));
    }
    best
}

/// Gain, variance of what is left over, and how much longer than a point it lasts.
fn scales(
    stream: &[Option<f64>],
    references: &[Vec<Option<(f64, f64)>>],
    best: &[usize],
) -> Option<(f64, f64, f64)> {
    let pairs: Vec<(f64, f64)> = stream
        .iter()
        .zip(best)
        .enumerate()
        .filter_map(|(point, (stream, lag))| Some(((*stream)?, references[*lag][point]?.0)))
        .collect();
    let squares: f64 = pairs.iter().map(|(_, a)| a * a).sum();
    if pairs.is_empty() || squares <= 0.0 {
        return None;
    }
    let gain = pairs.iter().map(|(b, a)| a * b).sum::<f64>() / squares;
    let left: Vec<f64> = pairs.iter().map(|(b, a)| b - gain * a).collect();
    let sizes: Vec<f64> = left.iter().map(|left| left.abs()).collect();
    // From the median size, which no sprint moves; 1.4826 makes it a standard deviation.
    let sd = (1.4826 * quantile(&sizes, 0.5)?).max(0.05);
    let bounded: Vec<f64> = left
        .iter()
        .map(|left| left.clamp(-3.0 * sd, 3.0 * sd))
        .collect();
    let variance = bounded.iter().map(|left| left * left).sum::<f64>() / bounded.len() as f64;
    let inflation = long_run_variance(&bounded, MEMORY) / variance.max(1e-9);
    Some((gain, sd * sd, inflation.clamp(2.0, 16.0)))
}
