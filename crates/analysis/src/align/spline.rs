//! A stream on a uniform grid, and the cubic B-spline through it.
//!
//! Samples come when an instrument likes. A grid point takes the mean of the straight lines
//! between them over a second around it, by a running integral: one pass, no delay, deaf to what
//! lies above the grid's own frequencies, and unmoved by bursts of late packets. Nothing is
//! interpolated across a gap. Between grid points the cubic spline takes over.

use super::grid::{STEP_S, TimeGrid};
use units::{Series, Timestamp};

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
        let mut integrals = Vec::new();
        for run in series.runs() {
            uniform.fill(series, run, grid, &mut integrals);
        }
        uniform
    }

    pub(crate) fn valid_points(&self) -> usize {
        self.valid.iter().filter(|valid| **valid).count()
    }

    /// Smoothed by the binomial filter 1-4-6-4-1, on both streams alike: it takes out what lies
    /// near the grid's highest frequency, so that interpolating between grid points does not
    /// quieten the noise and pull the minimum towards half a step.
    pub(crate) fn smoothed(&self) -> Self {
        let n = self.values.len();
        let mut smooth = Self {
            values: vec![0.0; n],
            valid: vec![false; n],
        };
        let mut streak = 0;
        for last in 0..n {
            streak = if self.valid[last] { streak + 1 } else { 0 };
            if streak >= 5 {
                let v = &self.values[last - 4..=last];
                smooth.values[last - 2] = (v[0] + v[4] + 4.0 * (v[1] + v[3]) + 6.0 * v[2]) / 16.0;
                smooth.valid[last - 2] = true;
            }
        }
        smooth
    }

    /// Coefficients of the cubic B-spline through the values, run by run.
    pub(crate) fn coefficients(&self) -> Coefficients {
        let mut values = self.values.clone();
        let n = values.len();
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
            prefilter(&mut values[start..end]);
            start = end;
        }
        Coefficients::new(values, self.valid.clone())
    }

    /// Fills the points of one unbroken run of samples: the integral of the straight lines
    /// between samples is taken at every grid point, and its difference over two steps is a mean.
    fn fill(
        &mut self,
        series: &Series,
        run: std::ops::Range<usize>,
        grid: TimeGrid,
        integrals: &mut Vec<f64>,
    ) {
        let start_ns = Timestamp::from_secs_f64(grid.from_s).as_nanos();
        let steps = |at: Timestamp| (at.as_nanos() - start_ns) as f64 * (1e-9 / STEP_S);
        let (times, values) = (&series.times()[run.clone()], &series.values()[run]);
        let mut begin = steps(times[0]);
        let first = begin.ceil().max(0.0);
        let mut next = first;
        let mut integral = 0.0;
        integrals.clear();
        for (&at, pair) in times[1..].iter().zip(values.windows(2)) {
            let end = steps(at);
            let length = end - begin;
            while next <= end {
                let part = next - begin;
                let middle = pair[0] + 0.5 * (pair[1] - pair[0]) * part / length;
                integrals.push(integral + middle * part);
                next += 1.0;
            }
            integral += 0.5 * (pair[0] + pair[1]) * length;
            begin = end;
        }
        for (offset, three) in integrals.windows(3).enumerate() {
            let point = first as usize + offset + 1;
            if point >= self.values.len() {
                break;
            }
            self.values[point] = 0.5 * (three[2] - three[0]);
            self.valid[point] = true;
        }
    }
}

/// Coefficients of the spline, with running sums for the search.
#[derive(Clone, Debug)]
pub(crate) struct Coefficients {
    /// Coefficients; zero where missing.
    pub(crate) values: Vec<f64>,
    /// Which points have a coefficient.
    pub(crate) valid: Vec<bool>,
    /// A common offset that keeps the sums small; no variance depends on it.
    pub(crate) offset: f64,
    /// Coefficients less the offset; zero where missing.
    pub(crate) centred: Vec<f64>,
    counts: Vec<u32>,
    sums: Vec<f64>,
    /// Running sums of c(t) · c(t + lag) for lags 0 to 3.
    products: [Vec<f64>; 4],
}

impl Coefficients {
    fn new(values: Vec<f64>, valid: Vec<bool>) -> Self {
        let n = valid.iter().filter(|valid| **valid).count();
        let offset = values.iter().sum::<f64>() / n.max(1) as f64;
        let centred: Vec<f64> = values
            .iter()
            .zip(&valid)
            .map(|(value, valid)| if *valid { value - offset } else { 0.0 })
            .collect();
        let mut counts = vec![0u32];
        for (place, valid) in valid.iter().enumerate() {
            counts.push(counts[place] + u32::from(*valid));
        }
        let running = |terms: &mut dyn Iterator<Item = f64>| {
            let mut sum = 0.0;
            let mut sums = Vec::with_capacity(centred.len() + 1);
            sums.push(0.0);
            for term in terms {
                sum += term;
                sums.push(sum);
            }
            sums
        };
        let products = [0, 1, 2, 3].map(|lag| {
            let late = centred.get(lag..).unwrap_or_default();
            running(&mut centred.iter().zip(late).map(|(a, b)| a * b))
        });
        let sums = running(&mut centred.iter().copied());
        Self {
            values,
            valid,
            offset,
            centred,
            counts,
            sums,
            products,
        }
    }

    /// Whether every point of a range exists and has a coefficient.
    pub(crate) fn all_valid(&self, range: std::ops::Range<usize>) -> bool {
        range.end <= self.valid.len()
            && range.start <= range.end
            && (self.counts[range.end] - self.counts[range.start]) as usize == range.len()
    }

    /// Sum of the centred coefficients of a range inside the grid.
    pub(crate) fn sum(&self, range: std::ops::Range<usize>) -> f64 {
        self.sums[range.end] - self.sums[range.start]
    }

    /// Σ c(t) · c(t + lag) of the centred coefficients over a range; the partner of its last point
    /// has to lie inside the grid too.
    pub(crate) fn product_sum(&self, lag: usize, range: std::ops::Range<usize>) -> f64 {
        self.products[lag][range.end] - self.products[lag][range.start]
    }
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
            // The mean of a second needs half a second on either side.
            let inside = (0.5..=8.5).contains(&t) || (20.5..=28.5).contains(&t);
            assert_eq!(*valid, inside, "{t}");
            if inside {
                assert!((uniform.values[point] - 100.0 - t).abs() < 1e-9);
            }
        }
    }
}
