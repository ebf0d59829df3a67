//! What half a minute says about the lag.
//!
//! Every point says by how much it would have to be moved: its residual against the reference, in
//! units of the slope there. Points are weighed by what is known of their scatter, which is that of
//! the instruments and, where the effort changes steeply, that of timing: a sprint would otherwise
//! outweigh an hour. The curvature is the product of the slopes of both streams, to which the noise
//! of neither contributes.
//!
//! Gain and offset are free for every five minutes, so that neither can pull the lag.

use crate::align::grid::STEP_S;
use crate::align::placing::placed::Joint;
use crate::align::placing::sides::Sides;
use crate::align::placing::track::Stretch;
use crate::findings::LagQuantity;
use crate::stats::order::quantile;
use units::Timestamp;

/// Points whose scores are summed: 30 s.
const CLUSTER: usize = 60;
/// Clusters that share gain and offset: 5 min.
pub(super) const CLUSTERS: usize = 10;
/// Fewest points of a share of gain and offset: 1 min.
const FEWEST: usize = 120;

/// What half a minute says about the lag.
#[derive(Clone, Copy, Debug)]
pub(super) struct Told {
    pub(super) quantity: LagQuantity,
    pub(super) stretch: usize,
    pub(super) middle_s: f64,
    /// Σ w · residual · slope: by how much it wants to be moved, times `information`.
    pub(super) score: f64,
    /// Σ w · slope · slope of the stream.
    pub(super) information: f64,
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

pub(super) fn tell(
    quantity: LagQuantity,
    sides: &Sides,
    stretches: &[Stretch],
    joint: &Joint,
) -> Vec<Told> {
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
