//! The kernel whose pure delay and length describe the device best, and how well they are known.

use super::kernel::{Kernel, Scene, Scratch};
use crate::stats::descriptive::lag1;
use crate::stats::least_squares::least_squares;
use crate::stats::order::exceeds;
use crate::stats::search::pattern_search;

/// Delays and windows that are looked for, s. A reference may itself be later than the device.
const LAG_S: [f64; 2] = [-3.0, 8.0];
const WINDOW_S: [f64; 2] = [0.0, 12.0];

/// A fitted kernel.
pub(super) struct KernelFit {
    pub(super) lag_s: f64,
    pub(super) window_s: f64,
    pub(super) rss: f64,
    /// Variances of lag and window and their covariance.
    pub(super) covariance: [f64; 3],
    pub(super) dof: f64,
}

/// The kernel with the smallest residuals, looked for from a start with a first step.
pub(super) fn fit(
    kernel: Kernel,
    scene: &Scene<'_>,
    start: [f64; 2],
    step: [f64; 2],
) -> Option<KernelFit> {
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
