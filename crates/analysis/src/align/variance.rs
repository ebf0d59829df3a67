//! The fine search: the fractional shift that makes the variance of the difference least.

use super::spline::{Uniform, slopes, weights};
use super::{INTERPOLATION_U_S, MIN_POINTS, STEP_S, TimeGrid};
use crate::outcome::Estimate;
use crate::stats::autocorrelation::long_run_variance;
use std::ops::Range;
use units::Series;

/// How far from the coarse lag a segment may find its own, steps.
const REACH: i64 = 6;
/// Lags over which the autocorrelation of the residuals is followed, steps: 8 s.
const MEMORY: usize = 16;
/// Largest standard uncertainty of one segment that is of use, s.
const USELESS_U_S: f64 = 2.0;

/// The lag of one segment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct SegmentLag {
    pub(crate) lag_s: f64,
    pub(crate) u_s: f64,
}

/// The lag of `stream` against `reference`, whole recordings at once, searched within ±`reach_s`;
/// for callers with two bare series. `None` if there is no clear minimum.
pub fn lag_of_series(reference: &Series, stream: &Series, reach_s: f64) -> Option<Estimate> {
    let first = reference
        .times()
        .first()?
        .min(stream.times().first()?)
        .as_secs_f64();
    let last = reference
        .times()
        .last()?
        .max(stream.times().last()?)
        .as_secs_f64();
    let grid = TimeGrid {
        from_s: first,
        points: ((last - first) / STEP_S) as usize + 1,
    };
    let reference = Uniform::resample(reference, grid).smoothed();
    let stream = Uniform::resample(stream, grid).smoothed();
    let settings = crate::settings::AlignSettings {
        near_s: reach_s,
        far_s: reach_s,
        ..Default::default()
    };
    let coarse = super::coarse::search(&reference, &stream, &settings);
    let found = segment_lag(
        &reference.coefficients(),
        &stream,
        0..grid.points,
        coarse.lag_steps,
    )?;
    Some(Estimate {
        value: found.lag_s,
        u: found.u_s,
        dof: f64::MAX,
    })
}

/// The lag of one segment around a coarse lag. `None` without enough common points, without a
/// minimum inside the reach, or where the minimum says next to nothing.
pub(crate) fn segment_lag(
    coefficients: &Uniform,
    stream: &Uniform,
    segment: Range<usize>,
    coarse_steps: i64,
) -> Option<SegmentLag> {
    let mut forms = Forms {
        coefficients,
        stream,
        segment,
        first: coarse_steps - REACH,
        forms: vec![None; (2 * REACH + 1) as usize],
    };
    // Down the slope from the coarse lag in quarter steps, then halving the interval.
    let mut at = coarse_steps as f64;
    let mut value = forms.variance(at)?;
    loop {
        let neighbours = [at - 0.25, at + 0.25].map(|d| forms.variance(d).map(|v| (d, v)));
        let best = neighbours
            .into_iter()
            .flatten()
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        if best.1 >= value {
            break;
        }
        (at, value) = best;
        if (at - coarse_steps as f64).abs() > (REACH - 1) as f64 {
            return None;
        }
    }
    let lag_steps = forms.refine(at - 0.25, at + 0.25)?;
    let u_steps = forms.uncertainty(lag_steps)?;
    let (lag_s, u_s) = (
        lag_steps * STEP_S,
        (u_steps * STEP_S).hypot(INTERPOLATION_U_S),
    );
    (u_s.is_finite() && u_s <= USELESS_U_S).then_some(SegmentLag { lag_s, u_s })
}

/// Sums of products at one whole step of shift, from which the variance at any fraction follows.
#[derive(Clone, Copy, Debug)]
struct Form {
    n: f64,
    stream: f64,
    stream_squared: f64,
    coefficient: [f64; 4],
    cross: [f64; 4],
    gram: [[f64; 4]; 4],
}

struct Forms<'a> {
    coefficients: &'a Uniform,
    stream: &'a Uniform,
    segment: Range<usize>,
    first: i64,
    forms: Vec<Option<Form>>,
}

impl Forms<'_> {
    /// Variance of stream − reference shifted by `lag` steps.
    fn variance(&mut self, lag: f64) -> Option<f64> {
        let whole = lag.floor();
        let form = self.form(whole as i64)?;
        // a(t − d) lies between grid points j − whole − 1 and j − whole.
        let w = weights(1.0 - (lag - whole));
        let mut mean = form.stream;
        let mut square = form.stream_squared;
        for i in 0..4 {
            mean -= w[i] * form.coefficient[i];
            square -= 2.0 * w[i] * form.cross[i];
            for k in 0..4 {
                square += w[i] * w[k] * form.gram[i][k];
            }
        }
        let mean = mean / form.n;
        Some((square / form.n - mean * mean).max(0.0))
    }

    fn refine(&mut self, mut low: f64, mut high: f64) -> Option<f64> {
        // Golden section; 24 steps shrink half a step below a microsecond.
        const GOLDEN: f64 = 0.618_033_988_749_894_9;
        let (mut a, mut b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
        let (mut at_a, mut at_b) = (self.variance(a)?, self.variance(b)?);
        for _ in 0..28 {
            if at_a <= at_b {
                (high, b, at_b) = (b, a, at_a);
                a = high - GOLDEN * (high - low);
                at_a = self.variance(a)?;
            } else {
                (low, a, at_a) = (a, b, at_b);
                b = low + GOLDEN * (high - low);
                at_b = self.variance(b)?;
            }
        }
        Some(0.5 * (low + high))
    }

    /// Standard uncertainty of the minimum, steps: the long-run variance of residual × slope over
    /// the squared sum of squared slopes (the sandwich form of least squares).
    fn uncertainty(&self, lag: f64) -> Option<f64> {
        let whole = lag.floor();
        let (w, d) = (weights(1.0 - (lag - whole)), slopes(1.0 - (lag - whole)));
        let mut pairs = Vec::with_capacity(self.segment.len());
        self.each(whole as i64, |b, c| {
            let value: f64 = (0..4).map(|i| w[i] * c[i]).sum();
            let slope: f64 = (0..4).map(|i| d[i] * c[i]).sum();
            pairs.push((b - value, slope));
        });
        let n = pairs.len() as f64;
        if pairs.len() < MIN_POINTS {
            return None;
        }
        let residual_mean = pairs.iter().map(|pair| pair.0).sum::<f64>() / n;
        let slope_mean = pairs.iter().map(|pair| pair.1).sum::<f64>() / n;
        let steepness = pairs
            .iter()
            .map(|pair| (pair.1 - slope_mean).powi(2))
            .sum::<f64>()
            / n;
        let scores: Vec<f64> = pairs
            .iter()
            .map(|pair| (pair.0 - residual_mean) * (pair.1 - slope_mean))
            .collect();
        (steepness > 0.0).then(|| {
            let variance = long_run_variance(&scores, MEMORY).max(0.0);
            (variance / n).sqrt() / steepness
        })
    }

    fn form(&mut self, whole: i64) -> Option<Form> {
        let place = usize::try_from(whole - self.first).ok()?;
        if place >= self.forms.len() {
            return None;
        }
        if self.forms[place].is_none() {
            self.forms[place] = Some(self.gather(whole));
        }
        self.forms[place].filter(|form| form.n >= MIN_POINTS as f64)
    }

    fn gather(&self, whole: i64) -> Form {
        let mut form = Form {
            n: 0.0,
            stream: 0.0,
            stream_squared: 0.0,
            coefficient: [0.0; 4],
            cross: [0.0; 4],
            gram: [[0.0; 4]; 4],
        };
        // A common offset keeps the sums small; the variance does not depend on it.
        let offset = self.stream.values[self.segment.clone()]
            .iter()
            .zip(&self.stream.valid[self.segment.clone()])
            .find_map(|(value, valid)| valid.then_some(*value))
            .unwrap_or(0.0);
        self.each(whole, |b, c| {
            let b = b - offset;
            let c = [c[0] - offset, c[1] - offset, c[2] - offset, c[3] - offset];
            form.n += 1.0;
            form.stream += b;
            form.stream_squared += b * b;
            for i in 0..4 {
                form.coefficient[i] += c[i];
                form.cross[i] += b * c[i];
                for k in i..4 {
                    form.gram[i][k] += c[i] * c[k];
                }
            }
        });
        for i in 0..4 {
            for k in 0..i {
                form.gram[i][k] = form.gram[k][i];
            }
        }
        form
    }

    /// Every point of the segment where both have a value at this shift.
    fn each(&self, whole: i64, mut take: impl FnMut(f64, [f64; 4])) {
        let n = self.coefficients.values.len() as i64;
        // Coefficients from j − whole − 2 to j − whole + 1 have to exist.
        let first = (self.segment.start as i64).max(whole + 2);
        let last = (self.segment.end as i64).min(n + whole - 1);
        let (c, known) = (&self.coefficients.values, &self.coefficients.valid);
        for j in first..last {
            let j_stream = j as usize;
            let base = (j - whole - 2) as usize;
            if self.stream.valid[j_stream] && known[base..base + 4].iter().all(|valid| *valid) {
                take(
                    self.stream.values[j_stream],
                    [c[base], c[base + 1], c[base + 2], c[base + 3]],
                );
            }
        }
    }
}
