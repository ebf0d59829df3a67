//! The fine search: the fractional shift that makes the variance of the difference least.

use super::grid::{INTERPOLATION_U_S, MIN_POINTS, STEP_S, TimeGrid};
use super::spline::{Coefficients, Uniform, slopes, weights};
use crate::outcome::Estimate;
use crate::stats::autocorrelation::{dot, long_run_variance};
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
    /// Where on the grid the lag was found: the mean place of the changes that told it.
    pub(crate) place: f64,
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
    coefficients: &Coefficients,
    stream: &Uniform,
    segment: Range<usize>,
    coarse_steps: i64,
) -> Option<SegmentLag> {
    let mut forms = Forms::new(coefficients, stream, segment, coarse_steps);
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
    let (u_steps, place) = forms.uncertainty(lag_steps)?;
    let (lag_s, u_s) = (
        lag_steps * STEP_S,
        (u_steps * STEP_S).hypot(INTERPOLATION_U_S),
    );
    (u_s.is_finite() && u_s <= USELESS_U_S).then_some(SegmentLag { lag_s, u_s, place })
}

/// Variances of stream and shifted reference, and their covariance.
struct Moments {
    stream: f64,
    reference: f64,
    both: f64,
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
    coefficients: &'a Coefficients,
    stream: &'a Uniform,
    segment: Range<usize>,
    first: i64,
    forms: Vec<Option<Form>>,
    /// Whether every point of the segment has a value at every shift within reach.
    unbroken: Unbroken,
    /// Σ stream(j) · coefficient(j − s), for s from `first − 1` on; in unbroken segments only.
    crosses: Vec<Option<f64>>,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Unbroken {
    Yes,
    No,
}

impl<'a> Forms<'a> {
    fn new(
        coefficients: &'a Coefficients,
        stream: &'a Uniform,
        segment: Range<usize>,
        coarse_steps: i64,
    ) -> Self {
        let first = coarse_steps - REACH;
        let last = coarse_steps + REACH;
        let lowest = segment.start as i64 - last - 2;
        let highest = segment.end as i64 - first + 1;
        let whole = usize::try_from(lowest).is_ok_and(|lowest| {
            coefficients.all_valid(lowest..usize::try_from(highest).unwrap_or(usize::MAX))
        }) && stream.valid[segment.clone()].iter().all(|valid| *valid);
        Self {
            coefficients,
            stream,
            segment,
            first,
            forms: vec![None; (2 * REACH + 1) as usize],
            unbroken: if whole { Unbroken::Yes } else { Unbroken::No },
            crosses: vec![None; (2 * REACH + 5) as usize],
        }
    }

    /// Variance of stream − gain · reference shifted by `lag` steps, with the best gain at that lag.
    ///
    /// The gain is free in the search only: left at one, a device that is a percent off would
    /// have its lag pulled by whatever level a segment happens to begin and end at.
    fn variance(&mut self, lag: f64) -> Option<f64> {
        let moments = self.moments(lag)?;
        if moments.reference <= 0.0 {
            return Some(moments.stream);
        }
        let explained = moments.both.max(0.0).powi(2) / moments.reference;
        Some((moments.stream - explained).max(0.0))
    }

    /// Variances and covariance at a lag.
    fn moments(&mut self, lag: f64) -> Option<Moments> {
        let whole = lag.floor();
        let form = self.form(whole as i64)?;
        // a(t − d) lies between grid points j − whole − 1 and j − whole.
        let w = weights(1.0 - (lag - whole));
        let (mut mean, mut cross, mut square) = (0.0, 0.0, 0.0);
        for i in 0..4 {
            mean += w[i] * form.coefficient[i];
            cross += w[i] * form.cross[i];
            for k in 0..4 {
                square += w[i] * w[k] * form.gram[i][k];
            }
        }
        let (mean, stream) = (mean / form.n, form.stream / form.n);
        Some(Moments {
            stream: form.stream_squared / form.n - stream * stream,
            reference: square / form.n - mean * mean,
            both: cross / form.n - mean * stream,
        })
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

    /// Standard uncertainty of the minimum, steps, and the place it belongs to: the long-run
    /// variance of residual × slope over the squared curvature of the objective (the sandwich form
    /// of least squares). The curvature is the mean product of the slopes of both streams, to which
    /// the noise of neither contributes.
    fn uncertainty(&mut self, lag: f64) -> Option<(f64, f64)> {
        let moments = self.moments(lag)?;
        let gain = moments.both / moments.reference;
        if !(gain.is_finite() && gain > 0.0) {
            return None;
        }
        let whole = lag.floor();
        let (w, d) = (weights(1.0 - (lag - whole)), slopes(1.0 - (lag - whole)));
        let (values, valid) = (&self.stream.values, &self.stream.valid);
        let mut pairs = Vec::with_capacity(self.segment.len());
        self.each(whole as i64, |j, b, c| {
            let value: f64 = (0..4).map(|i| w[i] * c[i]).sum();
            let slope: f64 = (0..4).map(|i| d[i] * c[i]).sum();
            let known = j > 0 && j + 1 < valid.len() && valid[j - 1] && valid[j + 1];
            let of_stream = if known {
                0.5 * (values[j + 1] - values[j - 1])
            } else {
                0.0
            };
            pairs.push((
                b - gain * value,
                gain * slope,
                gain * slope * of_stream,
                j as f64,
            ));
        });
        let n = pairs.len() as f64;
        if pairs.len() < MIN_POINTS {
            return None;
        }
        let residual_mean = pairs.iter().map(|pair| pair.0).sum::<f64>() / n;
        let slope_mean = pairs.iter().map(|pair| pair.1).sum::<f64>() / n;
        let curvature = pairs.iter().map(|pair| pair.2).sum::<f64>() / n;
        let place = pairs.iter().map(|pair| pair.2 * pair.3).sum::<f64>() / n;
        let scores: Vec<f64> = pairs
            .iter()
            .map(|pair| (pair.0 - residual_mean) * (pair.1 - slope_mean))
            .collect();
        (curvature > 0.0).then(|| {
            let variance = long_run_variance(&scores, MEMORY).max(0.0);
            let inside = (self.segment.start as f64, self.segment.end as f64);
            let place = (place / curvature).clamp(inside.0, inside.1);
            ((variance / n).sqrt() / curvature, place)
        })
    }

    fn form(&mut self, whole: i64) -> Option<Form> {
        let place = usize::try_from(whole - self.first).ok()?;
        if place >= self.forms.len() {
            return None;
        }
        if self.forms[place].is_none() {
            self.forms[place] = Some(match self.unbroken {
                Unbroken::Yes => self.form_of_sums(whole),
                Unbroken::No => self.gather(whole),
            });
        }
        self.forms[place].filter(|form| form.n >= MIN_POINTS as f64)
    }

    /// The form of an unbroken segment: sums of coefficients and their products come from running
    /// sums, and neighbouring shifts share their cross products.
    fn form_of_sums(&mut self, whole: i64) -> Form {
        let segment = self.segment.clone();
        let b = &self.stream.values[segment.clone()];
        let offset = self.coefficients.offset;
        let mut form = Form {
            n: b.len() as f64,
            stream: b.iter().map(|b| b - offset).sum(),
            stream_squared: b.iter().map(|b| (b - offset) * (b - offset)).sum(),
            coefficient: [0.0; 4],
            cross: [0.0; 4],
            gram: [[0.0; 4]; 4],
        };
        for i in 0..4 {
            // Coefficient i of the four lies at j − shift.
            let shift = whole + 2 - i as i64;
            let from = (segment.start as i64 - shift) as usize;
            let range = from..from + segment.len();
            form.coefficient[i] = self.coefficients.sum(range.clone());
            form.cross[i] = self.cross(shift, range.clone());
            for k in i..4 {
                let product = self.coefficients.product_sum(k - i, range.clone());
                form.gram[i][k] = product;
                form.gram[k][i] = product;
            }
        }
        form
    }

    fn cross(&mut self, shift: i64, range: Range<usize>) -> f64 {
        let place = (shift - self.first + 1) as usize;
        if let Some(Some(known)) = self.crosses.get(place) {
            return *known;
        }
        let offset = self.coefficients.offset;
        let c = &self.coefficients.centred[range.clone()];
        let b = &self.stream.values[self.segment.clone()];
        // Σ (b − offset) · c without another copy of b.
        let sum = dot(b, c) - offset * self.coefficients.sum(range);
        if let Some(place) = self.crosses.get_mut(place) {
            *place = Some(sum);
        }
        sum
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
        let offset = self.coefficients.offset;
        self.each(whole, |_, b, c| {
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
    fn each(&self, whole: i64, mut take: impl FnMut(usize, f64, [f64; 4])) {
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
                    j_stream,
                    self.stream.values[j_stream],
                    [c[base], c[base + 1], c[base + 2], c[base + 3]],
                );
            }
        }
    }
}
