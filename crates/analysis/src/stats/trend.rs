//! Trend without assumptions about the distribution: Mann–Kendall test and Theil–Sen slope.

use super::normal::{normal_probability, normal_quantile};
use super::order::exceeds;
use super::order::{median, quantile_of_sorted};

/// Mann–Kendall test, corrected for ties.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MannKendall {
    /// Rising pairs minus falling pairs.
    pub s: i64,
    /// Variance of S without trend.
    pub variance: f64,
    /// S with continuity correction over its standard deviation.
    pub z: f64,
    /// Two-sided p value.
    pub p: f64,
    /// Kendall's τ: S over the number of pairs.
    pub tau: f64,
}

/// Tests values in order of time for a trend. `None` with fewer than three values or when all
/// are equal.
pub fn mann_kendall(values: &[f64]) -> Option<MannKendall> {
    let n = values.len();
    if n < 3 || values.iter().any(|x| !x.is_finite()) {
        return None;
    }
    let mut s = 0i64;
    for (i, a) in values.iter().enumerate() {
        for b in &values[i + 1..] {
            s += i64::from(b > a) - i64::from(b < a);
        }
    }
    let pairs = (n * (n - 1) / 2) as f64;
    let variance = kendall_variance(values);
    if !exceeds(variance, 0.0) {
        return None;
    }
    let z = (s - s.signum()) as f64 / variance.sqrt();
    let p = 2.0 * normal_probability(-z.abs());
    Some(MannKendall {
        s,
        variance,
        z,
        p,
        tau: s as f64 / pairs,
    })
}

/// Variance of S with the correction for ties.
fn kendall_variance(values: &[f64]) -> f64 {
    let term = |n: f64| n * (n - 1.0) * (2.0 * n + 5.0);
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let ties: f64 = sorted
        .chunk_by(|a, b| a == b)
        .map(|chunk| term(chunk.len() as f64))
        .sum();
    (term(values.len() as f64) - ties) / 18.0
}

/// Theil–Sen line with an interval of the slope (Sen 1968).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TheilSen {
    /// Median of the slopes of all pairs.
    pub slope: f64,
    /// Interval of the slope with the coverage asked for.
    pub interval: [f64; 2],
    /// Median ordinate minus slope times median abscissa.
    pub intercept: f64,
}

/// Line through points by the median of all slopes. `None` with fewer than two abscissas.
pub fn theil_sen(x: &[f64], y: &[f64], coverage: f64) -> Option<TheilSen> {
    if x.len() != y.len() || x.iter().chain(y).any(|v| !v.is_finite()) {
        return None;
    }
    let mut slopes = Vec::with_capacity(x.len() * x.len() / 2);
    for i in 0..x.len() {
        for j in i + 1..x.len() {
            if x[j] != x[i] {
                slopes.push((y[j] - y[i]) / (x[j] - x[i]));
            }
        }
    }
    slopes.sort_by(f64::total_cmp);
    let slope = quantile_of_sorted(&slopes, 0.5)?;
    let half = normal_quantile(0.5 + 0.5 * coverage) * kendall_variance(y).max(0.0).sqrt();
    let count = slopes.len() as f64;
    let low = ((count - half) / 2.0).round().max(0.0) as usize;
    let high = (((count + half) / 2.0).round() as usize).saturating_sub(1);
    let last = slopes.len() - 1;
    Some(TheilSen {
        slope,
        interval: [
            slopes[low.saturating_sub(1).min(last)],
            slopes[(high + 1).min(last)],
        ],
        intercept: median(y)? - slope * median(x)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sen 1968 (JASA 63:1379), example: slope 4, 93 % interval 3.71 to 4.38.
    #[test]
    fn sens_example() {
        let x = [1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0];
        let y = [9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0];
        let line = theil_sen(&x, &y, 0.93).unwrap();
        assert_eq!(line.slope, 4.0);
        assert!(
            (line.interval[0] - 3.71).abs() < 0.005,
            "{:?}",
            line.interval
        );
        assert!(
            (line.interval[1] - 4.38).abs() < 0.006,
            "{:?}",
            line.interval
        );
        assert_eq!(line.intercept, 4.0);
        let test = mann_kendall(&y).unwrap();
        assert_eq!(test.s, 21);
        assert!((test.variance - 44.333333333333336).abs() < 1e-12);
    }

    /// 360 monthly values with gaps: expected values of the tests of the Python package
    /// pyMannKendall (MIT). The data are read from the shared folder where it is present.
    #[test]
    fn long_series_with_gaps() {
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../../shared/checks/mann_kendall_arbitrary1d.csv"
        );
        let Ok(text) = std::fs::read_to_string(path) else {
            println!("SKIPPED long_series_with_gaps: the shared check data are not here");
            return;
        };
        let (mut x, mut y) = (Vec::new(), Vec::new());
        for line in text.lines().filter(|line| !line.starts_with(['#', 'i'])) {
            let (index, value) = line.split_once(',').unwrap();
            if let Ok(value) = value.trim().parse::<f64>()
                && value.is_finite()
            {
                x.push(index.parse::<f64>().unwrap());
                y.push(value);
            }
        }
        let test = mann_kendall(&y).unwrap();
        assert_eq!(test.s, -1959);
        assert!((test.variance - 4889800.333333333).abs() < 1e-6);
        assert!((test.z - -0.8854562842589916).abs() < 1e-12);
        assert!((test.p - 0.37591058740506833).abs() < 1e-9);
        assert!((test.tau - -0.03153167653875869).abs() < 1e-12);
        let line = theil_sen(&x, &y, 0.95).unwrap();
        assert!((line.slope - -0.006369426751592357).abs() < 1e-15);
    }

    #[test]
    fn nothing_to_see() {
        assert!(mann_kendall(&[1.0, 1.0, 1.0, 1.0]).is_none());
        assert!(mann_kendall(&[1.0, 2.0]).is_none());
        assert!(theil_sen(&[1.0, 1.0], &[2.0, 3.0], 0.95).is_none());
    }
}
