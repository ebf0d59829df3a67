//! The curves of a drift, fitted to means whose neighbours are correlated: none, a line, a
//! saturation.

use crate::stats::descriptive::lag1;
use crate::stats::least_squares::{LeastSquares, least_squares};
use crate::stats::search::golden_section;

/// Curves of a drift.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// No change.
    Constant,
    /// A straight line.
    Linear,
    /// Rises or falls towards a final value: 1 − exp(−t/τ).
    Saturating,
}

/// The three curves fitted to means whose neighbours are correlated.
pub(super) struct Fits {
    pub(super) autocorrelation: f64,
    constant: LeastSquares,
    pub(super) linear: LeastSquares,
    pub(super) saturating: Option<(f64, LeastSquares)>,
    pub(super) n: f64,
}

impl Fits {
    pub(super) fn new(t: &[f64], error: &[f64]) -> Option<Self> {
        let span = t[t.len() - 1] - t[0];
        let ones = vec![1.0; t.len()];
        // Once plainly, to see the colour of the residuals under the most flexible curve.
        let plain = best_tau(t, error, span, 0.0).and_then(|(tau, fit)| {
            let line = least_squares(&[ones.clone(), t.to_vec()], error, None)?;
            Some(if fit.rss < line.rss {
                (tau, fit)
            } else {
                (span, line)
            })
        });
        let residuals = plain?.1.residuals;
        let phi = lag_one(&residuals)?;
        let y = whiten(error, phi);
        let constant = least_squares(&[whiten(&ones, phi)], &y, None)?;
        let linear = least_squares(&[whiten(&ones, phi), whiten(t, phi)], &y, None)?;
        let saturating = best_tau(t, error, span, phi);
        Some(Self {
            autocorrelation: phi,
            constant,
            linear,
            saturating,
            n: t.len() as f64,
        })
    }

    /// Corrected Akaike criterion; the variance counts as a parameter (Hurvich and Tsai 1989).
    fn criterion(&self, fit: &LeastSquares, curve_parameters: f64) -> f64 {
        let k = curve_parameters + 1.0;
        self.n * (fit.rss / self.n).max(1e-12).ln()
            + 2.0 * k
            + 2.0 * k * (k + 1.0) / (self.n - k - 1.0)
    }

    pub(super) fn criteria(&self) -> Vec<(Shape, f64)> {
        let mut all = vec![
            (Shape::Constant, self.criterion(&self.constant, 1.0)),
            (Shape::Linear, self.criterion(&self.linear, 2.0)),
        ];
        if let Some((_, fit)) = &self.saturating {
            all.push((Shape::Saturating, self.criterion(fit, 3.0)));
        }
        all
    }
}

/// The time constant with the smallest residuals, and the fit with it.
fn best_tau(t: &[f64], error: &[f64], span: f64, phi: f64) -> Option<(f64, LeastSquares)> {
    let y = whiten(error, phi);
    let ones = whiten(&vec![1.0; t.len()], phi);
    let fit = |tau: f64| {
        let rise: Vec<f64> = t.iter().map(|t| 1.0 - (-t / tau).exp()).collect();
        least_squares(&[ones.clone(), whiten(&rise, phi)], &y, None)
    };
    let (low, high) = (1.0f64.ln(), (0.8 * span).max(2.0).ln());
    let rss = |log_tau: f64| fit(log_tau.exp()).map_or(f64::MAX, |fit| fit.rss);
    let steps = 8;
    let place = |i: usize| low + (high - low) * i as f64 / steps as f64;
    let best = (0..=steps).min_by(|a, b| rss(place(*a)).total_cmp(&rss(place(*b))))?;
    let tau = golden_section(
        place(best.saturating_sub(1)),
        place((best + 1).min(steps)),
        1e-3,
        rss,
    )
    .exp();
    Some((tau, fit(tau)?))
}

/// Lag-one autocorrelation, corrected for its bias in short series, not below zero.
fn lag_one(residuals: &[f64]) -> Option<f64> {
    let total: f64 = residuals.iter().map(|r| r * r).sum();
    let r = lag1(residuals).filter(|_| total > 1e-18)?;
    let n = residuals.len() as f64;
    Some((r + (1.0 + 4.0 * r) / n).clamp(0.0, 0.9))
}

/// Prais and Winsten's transformation: residuals of a first-order autoregression become white.
pub(super) fn whiten(values: &[f64], phi: f64) -> Vec<f64> {
    let first = values.first().map(|v| v * (1.0 - phi * phi).sqrt());
    first
        .into_iter()
        .chain(values.windows(2).map(|w| w[1] - phi * w[0]))
        .collect()
}

pub(super) fn curve_at(fits: &Fits, shape: Shape, t: f64) -> f64 {
    match (shape, &fits.saturating) {
        (Shape::Saturating, Some((tau, fit))) => {
            fit.coefficients[0] + fit.coefficients[1] * (1.0 - (-t / tau).exp())
        }
        (Shape::Linear, _) => fits.linear.coefficients[0] + fits.linear.coefficients[1] * t,
        _ => fits.constant.coefficients[0],
    }
}
