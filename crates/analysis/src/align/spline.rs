//! A stream on a uniform grid, and the cubic B-spline through it.
//!
//! Samples come when an instrument likes; a cubic spline through each unbroken run of samples is
//! read at the points of the grid. Nothing is interpolated across a gap.

use super::{STEP_S, TimeGrid};
use units::Series;

/// Pole of the recursive filter that turns samples into coefficients of the cubic B-spline: √3 − 2
/// (Unser, Aldroubi and Eden 1993).
const POLE: f64 = -0.267_949_192_431_122_7;

/// Values at the points of a grid; points in gaps are marked as missing.
#[derive(Clone, Debug)]
pub(crate) struct Uniform {
    /// Values; zero where missing.
    pub(crate) values: Vec<f64>,
    /// Which points have a value.
    pub(crate) valid: Vec<bool>,
}

impl Uniform {
    /// Reads a series at the points of the grid.
    pub(crate) fn resample(series: &Series, grid: TimeGrid) -> Self {
        let mut uniform = Self {
            values: vec![0.0; grid.points],
            valid: vec![false; grid.points],
        };
        for run in series.runs() {
            let (times, values) = knots(series, run);
            uniform.fill(&times, &values, grid);
        }
        uniform
    }

    pub(crate) fn valid_points(&self) -> usize {
        self.valid.iter().filter(|valid| **valid).count()
    }

    /// Smoothed by the binomial filter 1-4-6-4-1, on both streams alike: it takes out what lies
    /// above the grid's own frequencies, so that interpolating between grid points does not
    /// quieten the noise and pull the minimum towards half a step.
    pub(crate) fn smoothed(&self) -> Self {
        let n = self.values.len();
        let mut smooth = Self {
            values: vec![0.0; n],
            valid: vec![false; n],
        };
        for i in 2..n.saturating_sub(2) {
            if self.valid[i - 2..=i + 2].iter().all(|valid| *valid) {
                let v = &self.values[i - 2..=i + 2];
                smooth.values[i] = (v[0] + v[4] + 4.0 * (v[1] + v[3]) + 6.0 * v[2]) / 16.0;
                smooth.valid[i] = true;
            }
        }
        smooth
    }

    /// Coefficients of the cubic B-spline through the values, run by run.
    pub(crate) fn coefficients(&self) -> Self {
        let mut result = self.clone();
        let n = self.values.len();
        let mut start = 0;
        while start < n {
            if !self.valid[start] {
                start += 1;
                continue;
            }
            let mut end = start;
            while end < n && self.valid[end] {
                end += 1;
            }
            prefilter(&mut result.values[start..end]);
            start = end;
        }
        result
    }

    /// Natural cubic spline through one run of samples, read at the points inside it.
    fn fill(&mut self, times: &[f64], values: &[f64], grid: TimeGrid) {
        let n = times.len();
        if n < 2 {
            return;
        }
        let curvature = natural_spline(times, values);
        let first = ((times[0] - grid.from_s) / STEP_S).ceil().max(0.0) as usize;
        let mut piece = 0;
        for point in first..grid.points {
            let t = grid.at_s(point);
            if t > times[n - 1] {
                break;
            }
            while piece + 2 < n && times[piece + 1] < t {
                piece += 1;
            }
            let h = times[piece + 1] - times[piece];
            let b = (t - times[piece]) / h;
            let a = 1.0 - b;
            let bend = (a * a * a - a) * curvature[piece] + (b * b * b - b) * curvature[piece + 1];
            self.values[point] = a * values[piece] + b * values[piece + 1] + bend * h * h / 6.0;
            self.valid[point] = true;
        }
    }
}

/// The samples of a run as knots. Samples much closer together than usual, as a burst of late
/// packets gives, are joined into their mean: a spline through them would swing.
fn knots(series: &Series, run: std::ops::Range<usize>) -> (Vec<f64>, Vec<f64>) {
    let span_s = (series.times()[run.end - 1] - series.times()[run.start]).as_secs_f64();
    let closest_s = 0.4 * span_s / (run.len().max(2) - 1) as f64;
    let (mut times, mut values) = (Vec::with_capacity(run.len()), Vec::with_capacity(run.len()));
    let mut joined = 1.0;
    for index in run {
        let (t, v) = (series.times()[index].as_secs_f64(), series.values()[index]);
        match (times.last_mut(), values.last_mut()) {
            (Some(last_t), Some(last_v)) if t - *last_t < closest_s => {
                *last_t += (t - *last_t) / (joined + 1.0);
                *last_v += (v - *last_v) / (joined + 1.0);
                joined += 1.0;
            }
            _ => {
                times.push(t);
                values.push(v);
                joined = 1.0;
            }
        }
    }
    (times, values)
}

/// Second derivatives of the natural cubic spline at its knots.
fn natural_spline(times: &[f64], values: &[f64]) -> Vec<f64> {
    let n = times.len();
    let mut second = vec![0.0; n];
    let mut upper = vec![0.0; n];
    for i in 1..n - 1 {
        let (before, after) = (times[i] - times[i - 1], times[i + 1] - times[i]);
        let share = before / (before + after);
        let pivot = share * second[i - 1] + 2.0;
        let bend = (values[i + 1] - values[i]) / after - (values[i] - values[i - 1]) / before;
        second[i] = (share - 1.0) / pivot;
        upper[i] = (6.0 * bend / (before + after) - share * upper[i - 1]) / pivot;
    }
    second[n - 1] = 0.0;
    for i in (1..n - 1).rev() {
        second[i] = second[i] * second[i + 1] + upper[i];
    }
    if n > 0 {
        second[0] = 0.0;
    }
    second
}

/// Turns samples into B-spline coefficients in place, mirrored at both ends.
fn prefilter(values: &mut [f64]) {
    let n = values.len();
    if n < 2 {
        return;
    }
    let gain = (1.0 - POLE) * (1.0 - 1.0 / POLE);
    let horizon = n.min(30);
    let mut power = 1.0;
    let mut start = 0.0;
    for value in &values[..horizon] {
        start += power * value;
        power *= POLE;
    }
    values[0] = gain * start;
    for i in 1..n {
        values[i] = gain * values[i] + POLE * values[i - 1];
    }
    values[n - 1] = POLE / (POLE * POLE - 1.0) * (POLE * values[n - 2] + values[n - 1]);
    for i in (0..n - 1).rev() {
        values[i] = POLE * (values[i + 1] - values[i]);
    }
}

/// Weights of the four coefficients around a point a fraction `g` after the second of them.
pub(crate) fn weights(g: f64) -> [f64; 4] {
    let r = 1.0 - g;
    [
        r * r * r / 6.0,
        2.0 / 3.0 - 0.5 * g * g * (2.0 - g),
        2.0 / 3.0 - 0.5 * r * r * (2.0 - r),
        g * g * g / 6.0,
    ]
}

/// Derivatives of [`weights`] by `g`.
pub(crate) fn slopes(g: f64) -> [f64; 4] {
    let r = 1.0 - g;
    [
        -0.5 * r * r,
        0.5 * g * (3.0 * g - 4.0),
        0.5 * r * (4.0 - 3.0 * r),
        0.5 * g * g,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A spline goes through its points, and between the points of a slow sine it is close to it.
    #[test]
    fn the_spline_goes_through_its_points() {
        let wave = |t: f64| (0.7 * t).sin();
        let uniform = Uniform {
            values: (0..80).map(|i| wave(i as f64)).collect(),
            valid: vec![true; 80],
        };
        let c = uniform.coefficients().values;
        for i in 10..70 {
            for g in [0.0, 0.3, 0.5, 0.9] {
                let w = weights(g);
                let d = slopes(g);
                let at = |w: [f64; 4]| (0..4).map(|m| w[m] * c[i + m - 1]).sum::<f64>();
                let t = i as f64 + g;
                assert!((at(w) - wave(t)).abs() < 2e-3, "{t}");
                assert!((at(d) - 0.7 * (0.7 * t).cos()).abs() < 2e-2, "{t}");
            }
            assert!(
                (c[i - 1] / 6.0 + c[i] * 2.0 / 3.0 + c[i + 1] / 6.0 - wave(i as f64)).abs() < 1e-12
            );
        }
    }

    #[test]
    fn nothing_is_interpolated_across_a_gap() {
        let pairs = (0..10)
            .chain(20..30)
            .map(|i| (f64::from(i), 100.0 + f64::from(i)));
        let series = Series::from_pairs(pairs, Series::DEFAULT_HOLD).unwrap();
        let uniform = Uniform::resample(
            &series,
            TimeGrid {
                from_s: 0.0,
                points: 100,
            },
        );
        for (point, valid) in uniform.valid.iter().enumerate() {
            let t = point as f64 * STEP_S;
            let inside = t <= 9.0 || (20.0..=29.0).contains(&t);
            assert_eq!(*valid, inside, "{t}");
            if inside {
                assert!((uniform.values[point] - 100.0 - t).abs() < 1e-9);
            }
        }
    }
}
