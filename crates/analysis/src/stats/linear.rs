//! A straight line by least squares, with standard deviations; weighted or not.

/// A fitted line y = intercept + slope · x.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Value at x = 0.
    pub intercept: f64,
    /// Change of y per x.
    pub slope: f64,
    /// Standard deviation of the intercept from the residuals.
    pub intercept_sd: f64,
    /// Standard deviation of the slope from the residuals.
    pub slope_sd: f64,
    /// Standard deviation of the residuals, with n − 2.
    pub residual_sd: f64,
    /// Residual sum of squares.
    pub rss: f64,
    /// Share of the variation that the line explains.
    pub r_squared: f64,
    /// Degrees of freedom, n − 2.
    pub dof: f64,
}

/// Ordinary least squares; `None` for fewer than three points or if x does not vary.
pub fn fit_line(x: &[f64], y: &[f64]) -> Option<Line> {
    fit_line_weighted(x, y, &vec![1.0; x.len()])
}

/// Weighted least squares with weights 1/u². The standard deviations come from the residuals, so
/// that weights need only be right relative to each other.
pub fn fit_line_weighted(x: &[f64], y: &[f64], weights: &[f64]) -> Option<Line> {
    let n = x.len();
    if n < 3 || y.len() != n || weights.len() != n {
        return None;
    }
    let total: f64 = weights.iter().sum();
    let mean = |values: &[f64]| {
        let rough = values.iter().zip(weights).map(|(v, w)| v * w).sum::<f64>() / total;
        rough
            + values
                .iter()
                .zip(weights)
                .map(|(v, w)| (v - rough) * w)
                .sum::<f64>()
                / total
    };
    let (x_mean, y_mean) = (mean(x), mean(y));
    let sum = |term: &dyn Fn(f64, f64) -> f64| -> f64 {
        (0..n)
            .map(|i| weights[i] * term(x[i] - x_mean, y[i] - y_mean))
            .sum()
    };
    let sxx = sum(&|dx, _| dx * dx);
    if sxx.is_nan() || sxx <= 0.0 || !total.is_finite() {
        return None;
    }
    let slope = sum(&|dx, dy| dx * dy) / sxx;
    let syy = sum(&|_, dy| dy * dy);
    let rss = sum(&|dx, dy| (dy - slope * dx).powi(2));
    let dof = (n - 2) as f64;
    let variance = rss / dof;
    Some(Line {
        intercept: y_mean - slope * x_mean,
        slope,
        intercept_sd: (variance * (1.0 / total + x_mean * x_mean / sxx)).sqrt(),
        slope_sd: (variance / sxx).sqrt(),
        residual_sd: variance.sqrt(),
        rss,
        r_squared: if syy > 0.0 { 1.0 - rss / syy } else { 1.0 },
        dof,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_needs_three_points_and_some_width() {
        assert_eq!(fit_line(&[1.0, 2.0], &[1.0, 2.0]), None);
        assert_eq!(fit_line(&[1.0, 1.0, 1.0], &[1.0, 2.0, 3.0]), None);
    }
}
