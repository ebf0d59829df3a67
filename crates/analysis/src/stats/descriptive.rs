//! Mean, standard deviation and lag-1 autocorrelation, computed from centred values.
//!
//! Two passes: the second one corrects the mean by what rounding left over and sums squares of
//! small numbers, so that values with many constant leading digits keep their precision.

/// Mean and standard deviation of a sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Descriptive {
    /// Number of values.
    pub n: usize,
    /// Arithmetic mean.
    pub mean: f64,
    /// Standard deviation with n − 1; zero for a single value.
    pub sd: f64,
}

/// Mean and standard deviation; `None` of nothing.
pub fn describe(values: &[f64]) -> Option<Descriptive> {
    let mean = mean(values)?;
    let n = values.len();
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    let sd = if n > 1 {
        (squares / (n - 1) as f64).sqrt()
    } else {
        0.0
    };
    Some(Descriptive { n, mean, sd })
}

/// Arithmetic mean; `None` of nothing.
pub fn mean(values: &[f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let n = values.len() as f64;
    let rough = values.iter().sum::<f64>() / n;
    let left_over = values.iter().map(|value| value - rough).sum::<f64>() / n;
    Some(rough + left_over)
}

/// Standard deviation with n − 1; `None` for fewer than two values.
pub fn sd(values: &[f64]) -> Option<f64> {
    describe(values)
        .filter(|found| found.n > 1)
        .map(|found| found.sd)
}

/// Lag-1 autocorrelation Σ(xᵢ−m)(xᵢ₊₁−m) / Σ(xᵢ−m)²; `None` if the values do not vary.
pub fn lag1(values: &[f64]) -> Option<f64> {
    let mean = mean(values)?;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    let products: f64 = values
        .windows(2)
        .map(|pair| (pair[0] - mean) * (pair[1] - mean))
        .sum();
    (squares > 0.0).then(|| products / squares)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_and_one_value() {
        assert_eq!(describe(&[]), None);
        assert_eq!(
            describe(&[4.0]),
            Some(Descriptive {
                n: 1,
                mean: 4.0,
                sd: 0.0
            })
        );
        assert_eq!(sd(&[4.0]), None);
        assert_eq!(lag1(&[4.0, 4.0]), None);
    }
}
