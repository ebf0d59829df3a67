//! Weighted least squares with several regressors, by Householder reflections.
//!
//! Columns are scaled before the decomposition, so that regressors of very different size (a
//! constant beside a squared speed) do not cost digits.

/// A fitted linear model.
#[derive(Clone, Debug, PartialEq)]
pub struct LeastSquares {
    /// Coefficients, in the order of the columns.
    pub coefficients: Vec<f64>,
    /// Inverse of XᵀWX: times the residual variance it is the covariance of the coefficients.
    pub inverse: Vec<Vec<f64>>,
    /// Weighted residual sum of squares.
    pub rss: f64,
    /// Rows minus columns.
    pub dof: usize,
    /// Residuals, unweighted.
    pub residuals: Vec<f64>,
}

impl LeastSquares {
    /// Residual variance (of unit weight); zero without degrees of freedom.
    pub fn variance(&self) -> f64 {
        if self.dof == 0 {
            0.0
        } else {
            self.rss / self.dof as f64
        }
    }

    /// Standard deviation of a coefficient from the scatter of the residuals.
    pub fn sd(&self, index: usize) -> f64 {
        (self.variance() * self.inverse[index][index]).sqrt()
    }

    /// Variance of a weighted sum of coefficients, per unit residual variance.
    pub fn inverse_along(&self, gradient: &[f64]) -> f64 {
        let mut sum = 0.0;
        for (row, a) in self.inverse.iter().zip(gradient) {
            for (cell, b) in row.iter().zip(gradient) {
                sum += a * b * cell;
            }
        }
        sum
    }
}

/// Fits `y` by the columns with weights (inverse variances), or equal weights.
///
/// `None` where the columns are not independent, lengths differ, a number is not finite, a
/// weight is not above zero, or there are not at least as many rows as columns.
pub fn least_squares(
    columns: &[Vec<f64>],
    y: &[f64],
    weights: Option<&[f64]>,
) -> Option<LeastSquares> {
    let (n, p) = (y.len(), columns.len());
    if p == 0 || n < p || columns.iter().any(|column| column.len() != n) {
        return None;
    }
    if weights.is_some_and(|w| w.len() != n || w.iter().any(|w| !(*w > 0.0 && w.is_finite()))) {
        return None;
    }
    let root = |row: usize| weights.map_or(1.0, |w| w[row].sqrt());
    let mut scales = Vec::with_capacity(p);
    let mut a: Vec<Vec<f64>> = Vec::with_capacity(p);
    for column in columns {
        let weighted: Vec<f64> = column
            .iter()
            .enumerate()
            .map(|(i, x)| x * root(i))
            .collect();
        let size = norm(&weighted);
        if !(size > 0.0 && size.is_finite()) {
            return None;
        }
        scales.push(size);
        a.push(weighted.into_iter().map(|x| x / size).collect());
    }
    let mut b: Vec<f64> = y.iter().enumerate().map(|(i, y)| y * root(i)).collect();
    if b.iter().any(|x| !x.is_finite()) {
        return None;
    }
    let r = decompose(&mut a, &mut b)?;
    let mut scaled = vec![0.0; p];
    for k in (0..p).rev() {
        let sum: f64 = (k + 1..p).map(|j| r[j][k] * scaled[j]).sum();
        scaled[k] = (b[k] - sum) / r[k][k];
    }
    let coefficients: Vec<f64> = scaled.iter().zip(&scales).map(|(c, s)| c / s).collect();
    let residuals: Vec<f64> = (0..n)
        .map(|i| {
            y[i] - columns
                .iter()
                .zip(&coefficients)
                .map(|(x, c)| x[i] * c)
                .sum::<f64>()
        })
        .collect();
    let rss = b[p..].iter().map(|x| x * x).sum();
    let upper = invert_upper(&r);
    let inverse = (0..p)
        .map(|i| {
            (0..p)
                .map(|j| {
                    let sum: f64 = (i.max(j)..p).map(|k| upper[k][i] * upper[k][j]).sum();
                    sum / (scales[i] * scales[j])
                })
                .collect()
        })
        .collect();
    Some(LeastSquares {
        coefficients,
        inverse,
        rss,
        dof: n - p,
        residuals,
    })
}

/// Reflects the columns to upper triangular form and the right side along. Returns the triangle
/// as columns; `None` where a column depends on those before it.
fn decompose(a: &mut [Vec<f64>], b: &mut [f64]) -> Option<Vec<Vec<f64>>> {
    let p = a.len();
    for k in 0..p {
        let size = norm(&a[k][k..]);
        if size < 1e-11 {
            return None;
        }
        let alpha = if a[k][k] > 0.0 { -size } else { size };
        let mut v: Vec<f64> = a[k][k..].to_vec();
        v[0] -= alpha;
        let vv: f64 = v.iter().map(|x| x * x).sum();
        let reflect = |target: &mut [f64]| {
            let dot: f64 = v.iter().zip(target.iter()).map(|(v, t)| v * t).sum();
            let factor = 2.0 * dot / vv;
            for (t, v) in target.iter_mut().zip(&v) {
                *t -= factor * v;
            }
        };
        for column in a.iter_mut().skip(k) {
            reflect(&mut column[k..]);
        }
        reflect(&mut b[k..]);
    }
    Some(a.iter().map(|column| column[..p].to_vec()).collect())
}

/// Inverse of an upper triangle given as columns; the answer again as columns.
fn invert_upper(r: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let p = r.len();
    let mut inverse = vec![vec![0.0; p]; p];
    for j in 0..p {
        inverse[j][j] = 1.0 / r[j][j];
        for i in (0..j).rev() {
            let sum: f64 = (i + 1..=j).map(|k| r[k][i] * inverse[j][k]).sum();
            inverse[j][i] = -sum / r[i][i];
        }
    }
    inverse
}

fn norm(values: &[f64]) -> f64 {
    values.iter().map(|x| x * x).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, certified: f64, tolerance: f64) {
        assert!(
            (found - certified).abs() <= tolerance * certified.abs(),
            "{found} is not {certified}"
        );
    }

    /// NIST StRD "Pontius" (public domain): a load-cell calibration, quadratic. Data and
    /// certified values as in GSL 2.7.1 multifit/test_pontius.c.
    #[test]
    fn pontius_certified_values() {
        let y = [
            0.11019, 0.21956, 0.32949, 0.43899, 0.54803, 0.65694, 0.76562, 0.87487, 0.98292,
            1.09146, 1.20001, 1.30822, 1.41599, 1.52399, 1.63194, 1.73947, 1.84646, 1.95392,
            2.06128, 2.16844, 0.11052, 0.22018, 0.32939, 0.43886, 0.54798, 0.65739, 0.76596,
            0.87474, 0.98300, 1.09150, 1.20004, 1.30818, 1.41613, 1.52408, 1.63159, 1.73965,
            1.84696, 1.95445, 2.06177, 2.16829,
        ];
        let x: Vec<f64> = (0..40).map(|i| 150_000.0 * f64::from(i % 20 + 1)).collect();
        let squares = x.iter().map(|x| x * x).collect();
        let fit = least_squares(&[vec![1.0; 40], x, squares], &y, None).unwrap();
        close(fit.coefficients[0], 0.673565789473684e-3, 1e-9);
        close(fit.coefficients[1], 0.732059160401003e-6, 1e-10);
        close(fit.coefficients[2], -0.316081871345029e-14, 1e-9);
        close(fit.sd(0), 0.107938612033077e-3, 1e-9);
        close(fit.sd(1), 0.157817399981659e-9, 1e-9);
        close(fit.sd(2), 0.486652849992036e-16, 1e-9);
        close(fit.rss, 0.155761768796992e-5, 1e-9);
    }

    /// NIST StRD "Longley" (public domain): six nearly dependent regressors.
    #[test]
    fn longley_certified_values() {
        let rows: [[f64; 7]; 16] = [
            [60323.0, 83.0, 234289.0, 2356.0, 1590.0, 107608.0, 1947.0],
            [61122.0, 88.5, 259426.0, 2325.0, 1456.0, 108632.0, 1948.0],
            [60171.0, 88.2, 258054.0, 3682.0, 1616.0, 109773.0, 1949.0],
            [61187.0, 89.5, 284599.0, 3351.0, 1650.0, 110929.0, 1950.0],
            [63221.0, 96.2, 328975.0, 2099.0, 3099.0, 112075.0, 1951.0],
            [63639.0, 98.1, 346999.0, 1932.0, 3594.0, 113270.0, 1952.0],
            [64989.0, 99.0, 365385.0, 1870.0, 3547.0, 115094.0, 1953.0],
            [63761.0, 100.0, 363112.0, 3578.0, 3350.0, 116219.0, 1954.0],
            [66019.0, 101.2, 397469.0, 2904.0, 3048.0, 117388.0, 1955.0],
            [67857.0, 104.6, 419180.0, 2822.0, 2857.0, 118734.0, 1956.0],
            [68169.0, 108.4, 442769.0, 2936.0, 2798.0, 120445.0, 1957.0],
            [66513.0, 110.8, 444546.0, 4681.0, 2637.0, 121950.0, 1958.0],
            [68655.0, 112.6, 482704.0, 3813.0, 2552.0, 123366.0, 1959.0],
            [69564.0, 114.2, 502601.0, 3931.0, 2514.0, 125368.0, 1960.0],
            [69331.0, 115.7, 518173.0, 4806.0, 2572.0, 127852.0, 1961.0],
            [70551.0, 116.9, 554894.0, 4007.0, 2827.0, 130081.0, 1962.0],
        ];
        let y: Vec<f64> = rows.iter().map(|row| row[0]).collect();
        let mut columns = vec![vec![1.0; 16]];
        columns.extend((1..7).map(|j| rows.iter().map(|row| row[j]).collect::<Vec<f64>>()));
        let fit = least_squares(&columns, &y, None).unwrap();
        let certified = [
            (-3482258.63459582, 890420.383607373),
            (15.0618722713733, 84.9149257747669),
            (-0.0358191792925910, 0.0334910077722432),
            (-2.02022980381683, 0.488399681651699),
            (-1.03322686717359, 0.214274163161675),
            (-0.0511041056535807, 0.226073200069370),
            (1829.15146461355, 455.478499142212),
        ];
        for (j, (value, sd)) in certified.into_iter().enumerate() {
            close(fit.coefficients[j], value, 1e-8);
            close(fit.sd(j), sd, 1e-8);
        }
        close(fit.rss, 836424.055505915, 1e-9);
    }

    #[test]
    fn weights_count_like_repeats() {
        let x = vec![1.0, 2.0, 3.0, 4.0];
        let y = [1.0, 2.5, 2.0, 4.0];
        let weighted =
            least_squares(&[vec![1.0; 4], x.clone()], &y, Some(&[1.0, 2.0, 1.0, 1.0])).unwrap();
        let repeated = least_squares(
            &[vec![1.0; 5], vec![1.0, 2.0, 2.0, 3.0, 4.0]],
            &[1.0, 2.5, 2.5, 2.0, 4.0],
            None,
        )
        .unwrap();
        close(weighted.coefficients[1], repeated.coefficients[1], 1e-12);
        close(weighted.rss, repeated.rss, 1e-12);
    }

    #[test]
    fn dependent_columns_and_bad_numbers_are_refused() {
        let ones = vec![1.0; 3];
        assert!(least_squares(&[ones.clone(), ones.clone()], &[1.0, 2.0, 3.0], None).is_none());
        assert!(least_squares(std::slice::from_ref(&ones), &[1.0, f64::NAN, 3.0], None).is_none());
        assert!(
            least_squares(
                std::slice::from_ref(&ones),
                &[1.0, 2.0, 3.0],
                Some(&[1.0, 0.0, 1.0])
            )
            .is_none()
        );
        assert!(least_squares(&[], &[1.0], None).is_none());
    }
}
