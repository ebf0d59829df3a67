//! The moment of a jump, point by point: where the lag before it stops fitting and the one behind it
//! begins to.
//!
//! Away from the jump it is plain which lag holds: there the levels of both recordings are compared.
//! Every place near it is then judged by how likely it makes all the points; what is not much less
//! likely than the best is where the jump may be.

use super::fits::{BLOCK, MISSING, TIMING_S, WORST};
use crate::align::placing::sides::Sides;
use crate::stats::order::quantile;
use std::ops::Range;

/// A moment of a jump is ruled out where it is less likely by this, in units of log-likelihood. The
/// likelihood ratio of a wrong moment to the true one, followed to one side, is a martingale of mean
/// one, so that chance lifts it to eˢ anywhere with a probability of at most e⁻ˢ (Ville's
/// inequality): the true moment is ruled out in fewer than two rides in a thousand, both sides
/// together, as far as the misfits scatter as they are taken to.
const SURE: f64 = 7.0;
/// How far from its block the moment of a jump is looked for, points: 1 min, for the slow part of
/// either side of a jump holds something of the other.
const AROUND: usize = 120;
/// How far to either side of that the levels are compared, points: 3 min.
const LEVELS: usize = 360;

/// The point from which the lag after a jump fits better than that before it, and the points between
/// which it surely lies.
#[derive(Clone, Copy, Debug)]
pub(super) struct Switch {
    pub(super) likely: usize,
    pub(super) earliest: usize,
    pub(super) latest: usize,
}

/// The switch near a jump between these blocks, from the first lag to the second, s. `inflation` is by
/// how much the misfits of neighbouring points say the same.
pub(super) fn switch(
    sides: &Sides,
    jump: &Range<usize>,
    lags_s: [f64; 2],
    inflation: f64,
) -> Switch {
    let points = sides.stream.uniform.values.len();
    let from = (jump.start * BLOCK).saturating_sub(AROUND);
    let to = ((jump.end + 1) * BLOCK + AROUND).min(points);
    let pair = |point: usize, lag_s: f64| {
        let reference = sides.reference_at(sides.stream.moment_s(point) - lag_s)?;
        Some((sides.stream_at(point)?.value, reference))
    };
    // Away from the jump it is plain which lag holds: there the levels are compared.
    let near: Vec<Left> = (from.saturating_sub(LEVELS)..from)
        .filter_map(|point| pair(point, lags_s[0]))
        .chain((to..(to + LEVELS).min(points)).filter_map(|point| pair(point, lags_s[1])))
        .map(|(stream, reference)| (stream, reference.value, reference.slope))
        .collect();
    let Some(level) = Level::of(&near) else {
        return Switch {
            likely: (from + to) / 2,
            earliest: from,
            latest: to,
        };
    };
    let of = |lag_s: f64| -> Vec<(Option<Left>, f64)> {
        (from..to)
            .map(|point| {
                let left = pair(point, lag_s)
                    .map(|(stream, reference)| (stream, reference.value, reference.slope));
                let missing = sides.stream.uniform.valid[point] && left.is_none();
                (left, if missing { MISSING } else { 0.0 })
            })
            .collect()
    };
    let gained = level.gained(&near, &of(lags_s[0]), &of(lags_s[1]));
    let best = gained.iter().copied().fold(f64::MIN, f64::max);
    let enough = best - 2.0 * inflation * SURE;
    let first = |good: f64| gained.iter().position(|gained| *gained >= good);
    let last = gained.iter().rposition(|gained| *gained >= enough);
    Switch {
        likely: from + first(best).unwrap_or(0),
        earliest: from + first(enough).unwrap_or(0),
        latest: from + last.unwrap_or(0),
    }
}

/// Stream, reference and slope of the reference at one point.
type Left = (f64, f64, f64);

/// How the stream follows the reference, level for level.
struct Level {
    gain: f64,
    offset: f64,
    variance: f64,
}

impl Level {
    fn of(near: &[Left]) -> Option<Self> {
        let n = near.len() as f64;
        let (b, a) = (
            near.iter().map(|left| left.0).sum::<f64>() / n,
            near.iter().map(|left| left.1).sum::<f64>() / n,
        );
        let (mut aa, mut ab) = (0.0, 0.0);
        for left in near {
            aa += (left.1 - a).powi(2);
            ab += (left.0 - b) * (left.1 - a);
        }
        let gain = ab / aa;
        let mut level = Self {
            gain,
            offset: b - gain * a,
            variance: 0.0,
        };
        let sizes: Vec<f64> = near
            .iter()
            .map(|left| (left.0 - level.gain * left.1 - level.offset).abs())
            .collect();
        level.variance = (1.4826 * quantile(&sizes, 0.5)?).max(0.05).powi(2);
        gain.is_finite().then_some(level)
    }

    /// Variance of a residual where the reference changes so steeply.
    fn scale(&self, slope: f64) -> f64 {
        self.variance + (self.gain * slope * TIMING_S).powi(2)
    }

    fn cost(&self, left: &Left, scale: f64) -> f64 {
        ((left.0 - self.gain * left.1 - self.offset).powi(2) / scale).min(WORST)
    }

    /// By how much each place of the jump among some points is more likely than before the first, in
    /// halves of log-likelihood. Gain and offset are fitted anew for each: what is ridden near the
    /// jump may lie outside the levels on either side, where they are not known well enough to
    /// judge it (a profile likelihood). Each point comes with what it costs besides.
    fn gained(
        &self,
        near: &[Left],
        before: &[(Option<Left>, f64)],
        behind: &[(Option<Left>, f64)],
    ) -> Vec<f64> {
        let near: Vec<(Option<Left>, f64)> = near.iter().map(|left| (Some(*left), 0.0)).collect();
        let mut sums = Sums::default();
        for (left, _) in near.iter().chain(behind) {
            sums.add(self, left.as_ref(), 1.0);
        }
        let mut costs = Vec::with_capacity(before.len() + 1);
        for place in 0..=before.len() {
            if place > 0 {
                sums.add(self, before[place - 1].0.as_ref(), 1.0);
                sums.add(self, behind[place - 1].0.as_ref(), -1.0);
            }
            let level = sums.level(self);
            let points = near.iter().chain(&before[..place]).chain(&behind[place..]);
            let cost: f64 = points
                .map(|(left, besides)| match left {
                    Some(left) => besides + level.cost(left, self.scale(left.2)),
                    None => *besides,
                })
                .sum();
            costs.push(cost);
        }
        costs.iter().map(|cost| costs[0] - cost).collect()
    }
}

/// Weighted sums from which gain and offset follow.
#[derive(Default)]
struct Sums {
    n: f64,
    a: f64,
    b: f64,
    aa: f64,
    ab: f64,
}

impl Sums {
    /// Adds a point or takes it away; one that hardly fits weighs less (Huber's bound).
    fn add(&mut self, level: &Level, left: Option<&Left>, sign: f64) {
        let Some(left) = left else { return };
        let scale = level.scale(left.2);
        let size = (left.0 - level.gain * left.1 - level.offset).abs() / scale.sqrt();
        let weight = sign * (WORST.sqrt() / size.max(1e-9)).min(1.0) / scale;
        self.n += weight;
        self.a += weight * left.1;
        self.b += weight * left.0;
        self.aa += weight * left.1 * left.1;
        self.ab += weight * left.1 * left.0;
    }

    /// The level of these points, or the one so far where they do not tell any.
    fn level(&self, so_far: &Level) -> Level {
        let (a, b) = (self.a / self.n, self.b / self.n);
        let gain = (self.ab - self.n * a * b) / (self.aa - self.n * a * a);
        let told = gain.is_finite();
        Level {
            gain: if told { gain } else { so_far.gain },
            offset: if told { b - gain * a } else { so_far.offset },
            variance: so_far.variance,
        }
    }
}
