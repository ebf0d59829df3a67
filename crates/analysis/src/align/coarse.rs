//! The coarse search: which whole steps of shift make two streams most alike.
//!
//! Near zero first, because instruments on one clock are never far apart and a script that repeats
//! itself looks alike at every repetition. Only if nothing fits nearby are far shifts tried, on
//! means of several seconds.

use super::grid::{MIN_POINTS, STEP_S};
use super::spline::Uniform;
use crate::settings::AlignSettings;
use crate::stats::autocorrelation::dot;

/// Grid points that are joined for the near search: 1 s.
const SECOND: usize = 2;
/// Grid points that are joined for the far search: 5 s.
const JOINED: usize = 10;
/// Joined points that have to overlap at a far shift: 5 min.
const FAR_POINTS: usize = 60;
/// Correlation that a far shift has to reach.
const FAR_CORRELATION: f64 = 0.7;

/// The best whole-step shift.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Coarse {
    /// Lag of the stream, steps.
    pub(crate) lag_steps: i64,
    /// Correlation at that lag, over what overlaps.
    pub(crate) correlation: f64,
}

pub(crate) fn search(reference: &Uniform, stream: &Uniform, settings: &AlignSettings) -> Coarse {
    let fine = Centred::pair(reference, stream, SECOND);
    let near_s = settings.near_s.ceil() as i64;
    let mut near = best(&fine, -near_s..=near_s, MIN_POINTS / SECOND);
    // At the edge of the search something is still rising; that is no maximum.
    if near.lag_steps.abs() == near_s * SECOND as i64 {
        near.correlation = 0.0;
    }
    if near.correlation >= settings.min_correlation / 2.0 || settings.far_s <= settings.near_s {
        return near;
    }
    let joined = Centred::pair(reference, stream, JOINED);
    let far_steps = (settings.far_s / STEP_S / JOINED as f64).ceil() as i64;
    // Among many shifts some fit by chance: a far one has to rest on a good part of the shorter
    // stream, and to fit well.
    let shorter = joined.0.points().min(joined.1.points());
    let rough = best(&joined, -far_steps..=far_steps, FAR_POINTS.max(shorter / 3));
    let around = rough.lag_steps / SECOND as i64;
    let reach = 2 * (JOINED / SECOND) as i64;
    let far = best(&fine, around - reach..=around + reach, MIN_POINTS / SECOND);
    if far.correlation >= FAR_CORRELATION {
        far
    } else {
        near
    }
}

/// Deviations from the mean, zero where missing, with running sums.
struct Centred {
    joined: usize,
    values: Vec<f64>,
    count: Vec<f64>,
    squares: Vec<f64>,
}

impl Centred {
    fn pair(a: &Uniform, b: &Uniform, joined: usize) -> (Self, Self) {
        (Self::of(a, joined), Self::of(b, joined))
    }

    fn of(uniform: &Uniform, joined: usize) -> Self {
        let points = uniform
            .values
            .chunks(joined)
            .zip(uniform.valid.chunks(joined));
        let means: Vec<Option<f64>> = points
            .map(|(values, valid)| {
                valid
                    .iter()
                    .all(|valid| *valid)
                    .then(|| values.iter().sum::<f64>() / values.len() as f64)
            })
            .collect();
        let n = means.iter().flatten().count();
        let mean = means.iter().flatten().sum::<f64>() / n.max(1) as f64;
        let (mut count, mut squares) = (vec![0.0], vec![0.0]);
        let (mut counted, mut squared) = (0.0, 0.0);
        let values = means
            .iter()
            .map(|value| {
                let centred = value.map_or(0.0, |value| value - mean);
                counted += f64::from(u8::from(value.is_some()));
                squared += centred * centred;
                count.push(counted);
                squares.push(squared);
                centred
            })
            .collect();
        Self {
            joined,
            values,
            count,
            squares,
        }
    }

    fn points(&self) -> usize {
        self.count.last().copied().unwrap_or(0.0) as usize
    }
}

/// The shift with the highest correlation. Missing points count as the mean, which is good enough
/// to find the place and lets one pass over the products do.
fn best(pair: &(Centred, Centred), lags: std::ops::RangeInclusive<i64>, fewest: usize) -> Coarse {
    let (a, b) = pair;
    let n = a.values.len() as i64;
    let mut best = Coarse {
        lag_steps: 0,
        correlation: 0.0,
    };
    for lag in lags {
        // b at j belongs to a at j − lag.
        let from = lag.max(0);
        let to = n.min(n + lag);
        if to <= from {
            continue;
        }
        let (bs, be) = (from as usize, to as usize);
        let (starts, ends) = ((from - lag) as usize, (to - lag) as usize);
        let overlap = (b.count[be] - b.count[bs]).min(a.count[ends] - a.count[starts]);
        if overlap < fewest as f64 {
            continue;
        }
        let energy = (b.squares[be] - b.squares[bs]) * (a.squares[ends] - a.squares[starts]);
        // Less than a tenth of a unit of variation is no variation.
        if energy.sqrt() <= 0.01 * overlap {
            continue;
        }
        let correlation = dot(&b.values[bs..be], &a.values[starts..ends]) / energy.sqrt();
        if correlation > best.correlation {
            best = Coarse {
                lag_steps: lag * a.joined as i64,
                correlation,
            };
        }
    }
    best
}
