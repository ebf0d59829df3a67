//! A straight line through points with errors in both variables.
//!
//! Unified equations of York, Evensen, Martínez and De Basabe Delgado, American Journal of Physics
//! 72 (2004) 367, for independent errors. With one ratio of the two errors for all points it is
//! Deming's regression.

use super::order::exceeds;

/// One point with its standard uncertainties.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UncertainPoint {
    /// Abscissa.
    pub x: f64,
    /// Ordinate.
    pub y: f64,
    /// Standard uncertainty of the abscissa.
    pub u_x: f64,
    /// Standard uncertainty of the ordinate; above zero.
    pub u_y: f64,
}

/// A straight line with uncertainties from the stated errors, not from the scatter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Ordinate at abscissa zero.
    pub intercept: f64,
    /// Slope.
    pub slope: f64,
    /// Standard uncertainty of the intercept.
    pub u_intercept: f64,
    /// Standard uncertainty of the slope.
    pub u_slope: f64,
    /// Covariance of intercept and slope.
    pub covariance: f64,
    /// Weighted residual sum of squares over `n − 2`; zero for two points.
    pub reduced_chi_square: f64,
    /// Points minus two.
    pub dof: usize,
}

/// Rounds until the slope rests; it does after a handful unless the points make no line.
const MOST_ROUNDS: usize = 200;

/// The line. `None` for fewer than two points, uncertainties that are not above zero in y or are
/// negative in x, points on one abscissa, or a search that does not settle.
pub fn york(points: &[UncertainPoint]) -> Option<Line> {
    let n = points.len();
    if n < 2 || points.iter().any(|p| !(p.u_y > 0.0 && p.u_x >= 0.0)) {
        return None;
    }
    let sums = |slope: f64| {
        let weight = |p: &UncertainPoint| 1.0 / (p.u_y * p.u_y + slope * slope * p.u_x * p.u_x);
        let total: f64 = points.iter().map(weight).sum();
        let x_mean = points.iter().map(|p| weight(p) * p.x).sum::<f64>() / total;
        let y_mean = points.iter().map(|p| weight(p) * p.y).sum::<f64>() / total;
        (total, x_mean, y_mean)
    };
    let beta = |p: &UncertainPoint, slope: f64, x_mean: f64, y_mean: f64| {
        let (vx, vy) = (p.u_x * p.u_x, p.u_y * p.u_y);
        let w = 1.0 / (vy + slope * slope * vx);
        (w, w * ((p.x - x_mean) * vy + slope * (p.y - y_mean) * vx))
    };
    let mut slope = start(points)?;
    let mut settled = false;
    for _ in 0..MOST_ROUNDS {
        let (_, x_mean, y_mean) = sums(slope);
        let (mut above, mut below) = (0.0, 0.0);
        for p in points {
            let (w, b) = beta(p, slope, x_mean, y_mean);
            above += w * b * (p.y - y_mean);
            below += w * b * (p.x - x_mean);
        }
        if !exceeds(below.abs(), 0.0) {
            return None;
        }
        let next = above / below;
        let step = (next - slope).abs();
        slope = next;
        if step <= 1e-15 * slope.abs().max(1e-300) || step < 1e-300 {
            settled = true;
            break;
        }
        settled = step <= 1e-10 * slope.abs();
    }
    if !settled || !slope.is_finite() {
        return None;
    }
    let (total, x_mean, y_mean) = sums(slope);
    let intercept = y_mean - slope * x_mean;
    let adjusted: Vec<(f64, f64)> = points
        .iter()
        .map(|p| {
            let (w, b) = beta(p, slope, x_mean, y_mean);
            (w, x_mean + b)
        })
        .collect();
    let centre = adjusted.iter().map(|(w, x)| w * x).sum::<f64>() / total;
    let spread: f64 = adjusted.iter().map(|(w, x)| w * (x - centre).powi(2)).sum();
    if !exceeds(spread, 0.0) {
        return None;
    }
    let chi_square: f64 = points
        .iter()
        .zip(&adjusted)
        .map(|(p, (w, _))| w * (p.y - slope * p.x - intercept).powi(2))
        .sum();
    let variance_slope = 1.0 / spread;
    Some(Line {
        intercept,
        slope,
        u_intercept: (1.0 / total + centre * centre * variance_slope).sqrt(),
        u_slope: variance_slope.sqrt(),
        covariance: -centre * variance_slope,
        reduced_chi_square: if n > 2 {
            chi_square / (n - 2) as f64
        } else {
            0.0
        },
        dof: n - 2,
    })
}

/// Slope of the ordinary regression, to start from.
fn start(points: &[UncertainPoint]) -> Option<f64> {
    let n = points.len() as f64;
    let x_mean = points.iter().map(|p| p.x).sum::<f64>() / n;
    let y_mean = points.iter().map(|p| p.y).sum::<f64>() / n;
    let sxx: f64 = points.iter().map(|p| (p.x - x_mean).powi(2)).sum();
    let sxy: f64 = points.iter().map(|p| (p.x - x_mean) * (p.y - y_mean)).sum();
    (sxx > 0.0)
        .then(|| sxy / sxx)
        .filter(|slope| slope.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pearson's data with York's weights, quoted after Lybanon, American Journal of Physics 52
    /// (1984). Expected values as in a public test of an independent implementation (there the
    /// uncertainties are multiplied by the root of the reduced χ², 1.217905640539398).
    #[test]
    fn pearsons_data_with_yorks_weights() {
        let x = [0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4];
        let y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5];
        let w_x = [
            1000.0, 1000.0, 500.0, 800.0, 200.0, 80.0, 60.0, 20.0, 1.8, 1.0,
        ];
        let w_y = [1.0, 1.8, 4.0, 8.0, 20.0, 20.0, 70.0, 70.0, 100.0, 500.0f64];
        let points: Vec<UncertainPoint> = (0..10)
            .map(|i| UncertainPoint {
                x: x[i],
                y: y[i],
                u_x: 1.0 / f64::sqrt(w_x[i]),
                u_y: 1.0 / w_y[i].sqrt(),
            })
            .collect();
        let line = york(&points).unwrap();
        let scale = line.reduced_chi_square.sqrt();
        for (found, expected, tolerance) in [
            (line.intercept, 5.47991022403286, 1e-10),
            (line.slope, -0.48053340744620, 1e-10),
            (scale, 1.217905640539398, 1e-10),
            (line.u_intercept * scale, 0.359246522551112, 1e-9),
            (line.u_slope * scale, 0.070620269528771, 1e-9),
        ] {
            assert!(
                (found - expected).abs() < tolerance,
                "{found} is not {expected}"
            );
        }
    }

    #[test]
    fn without_errors_in_x_it_is_weighted_least_squares() {
        let data = [
            (1.0, 2.1, 0.1),
            (2.0, 3.9, 0.2),
            (3.0, 6.2, 0.1),
            (4.0, 7.8, 0.3),
        ];
        let points = data.map(|(x, y, u_y)| UncertainPoint {
            x,
            y,
            u_x: 0.0,
            u_y,
        });
        let line = york(&points).unwrap();
        let fit = super::super::least_squares::least_squares(
            &[vec![1.0; 4], data.iter().map(|d| d.0).collect()],
            &data.map(|d| d.1),
            Some(&data.map(|d| 1.0 / (d.2 * d.2))),
        )
        .unwrap();
        assert!((line.slope - fit.coefficients[1]).abs() < 1e-12);
        assert!((line.u_slope - fit.inverse[1][1].sqrt()).abs() < 1e-12);
        assert!((line.u_intercept - fit.inverse[0][0].sqrt()).abs() < 1e-12);
    }

    #[test]
    fn no_line_through_one_abscissa() {
        let point = |y| UncertainPoint {
            x: 1.0,
            y,
            u_x: 0.1,
            u_y: 0.1,
        };
        assert!(york(&[point(1.0), point(2.0)]).is_none());
        assert!(york(&[point(1.0)]).is_none());
    }
}
