//! Own noise of each of three instruments that measured the same thing at the same time.
//!
//! Three-cornered hat (Grubbs 1948; J. E. Gray and D. W. Allan 1974): σ²a = ½(σ²ab + σ²ac − σ²bc).
//! Triple collocation (Stoffelen 1998): σ²εx = σ²x − σxy·σxz/σyz, which allows each instrument
//! its own scale. Both suppose independent errors; a negative variance says that they are not.

/// Variances of the own noise of three instruments from their pairwise differences, in order.
pub fn three_cornered_hat(variance_ab: f64, variance_ac: f64, variance_bc: f64) -> [f64; 3] {
    [
        0.5 * (variance_ab + variance_ac - variance_bc),
        0.5 * (variance_ab + variance_bc - variance_ac),
        0.5 * (variance_ac + variance_bc - variance_ab),
    ]
}

/// The same from three series of equal length. `None` with fewer than two values each.
pub fn three_cornered_hat_of(a: &[f64], b: &[f64], c: &[f64]) -> Option<[f64; 3]> {
    if a.len() != b.len() || a.len() != c.len() {
        return None;
    }
    let variance_of_difference = |p: &[f64], q: &[f64]| {
        let d: Vec<f64> = p.iter().zip(q).map(|(p, q)| p - q).collect();
        covariance(&d, &d)
    };
    Some(three_cornered_hat(
        variance_of_difference(a, b)?,
        variance_of_difference(a, c)?,
        variance_of_difference(b, c)?,
    ))
}

/// Triple collocation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Collocation {
    /// Error variance of each, in its own units.
    pub error_variance: [f64; 3],
    /// Correlation of each with the unknown truth.
    pub correlation: [f64; 3],
    /// Factor that brings each to the scale of the first.
    pub to_first: [f64; 3],
}

/// Triple collocation of three series. `None` where lengths differ or two of them do not vary
/// together.
pub fn triple_collocation(x: &[f64], y: &[f64], z: &[f64]) -> Option<Collocation> {
    if x.len() != y.len() || x.len() != z.len() {
        return None;
    }
    let (xx, yy, zz) = (covariance(x, x)?, covariance(y, y)?, covariance(z, z)?);
    let (xy, xz, yz) = (covariance(x, y)?, covariance(x, z)?, covariance(y, z)?);
    if !(xy > 0.0 && xz > 0.0 && yz > 0.0) {
        return None;
    }
    let signal = [xy * xz / yz, xy * yz / xz, xz * yz / xy];
    let total = [xx, yy, zz];
    Some(Collocation {
        error_variance: std::array::from_fn(|i| total[i] - signal[i]),
        correlation: std::array::from_fn(|i| (signal[i] / total[i]).min(1.0).sqrt()),
        to_first: [1.0, xz / yz, xy / yz],
    })
}

/// Covariance with n − 1.
fn covariance(p: &[f64], q: &[f64]) -> Option<f64> {
    let n = p.len() as f64;
    if p.len() < 2 || p.iter().chain(q).any(|x| !x.is_finite()) {
        return None;
    }
    let (mean_p, mean_q) = (p.iter().sum::<f64>() / n, q.iter().sum::<f64>() / n);
    Some(
        p.iter()
            .zip(q)
            .map(|(p, q)| (p - mean_p) * (q - mean_q))
            .sum::<f64>()
            / (n - 1.0),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A worked example of the time-nuts list (febo.com, May 2013): true 6, 8 and 10 parts in
    /// 10¹² give pairs 10.0, 12.8 and 11.7 (rounded), and back.
    #[test]
    fn published_example() {
        let back = three_cornered_hat(10.0f64.powi(2), 11.7f64.powi(2), 12.8f64.powi(2));
        for (found, expected) in back.into_iter().zip([6.0, 8.0, 10.0f64]) {
            assert!((found.sqrt() - expected).abs() < 0.05, "{}", found.sqrt());
        }
        let exact = three_cornered_hat(100.0, 136.0, 164.0);
        assert_eq!(exact, [36.0, 64.0, 100.0]);
    }

    fn columns(name: &str) -> Option<[Vec<f64>; 3]> {
        let path = format!(
            "{}/../../../shared/checks/{name}",
            env!("CARGO_MANIFEST_DIR")
        );
        let text = std::fs::read_to_string(path).ok()?;
        let mut columns: [Vec<f64>; 3] = Default::default();
        for line in text.lines().filter(|line| !line.starts_with(['#', 'x'])) {
            for (column, cell) in columns.iter_mut().zip(line.split(',')) {
                column.push(cell.parse().unwrap());
            }
        }
        Some(columns)
    }

    /// Constructed data with errors exactly orthogonal in the sample; an independent package
    /// (pytesmo 0.18.1, `tcol_metrics`) returns the same.
    #[test]
    fn constructed_data() {
        let (Some([x, y, z]), Some([a, b, c])) = (
            columns("triple_tc_exact.csv"),
            columns("triple_tch_exact.csv"),
        ) else {
            println!("SKIPPED constructed_data: the shared check data are not here");
            return;
        };
        let found = triple_collocation(&x, &y, &z).unwrap();
        for (found, expected) in found.error_variance.iter().zip([2.0000001, 2.9999999, 1.5]) {
            assert!((found.sqrt() - expected).abs() < 2e-7, "{}", found.sqrt());
        }
        for (found, expected) in found
            .correlation
            .iter()
            .zip([0.99944491, 0.99880070, 0.99966804])
        {
            assert!((found - expected).abs() < 5e-9);
        }
        for (found, expected) in found.to_first.iter().zip([1.0, 0.98039216, 1.03092783]) {
            assert!((found - expected).abs() < 5e-9);
        }
        let hat = three_cornered_hat_of(&a, &b, &c).unwrap();
        for (found, expected) in hat.iter().zip([3.9999999, 9.0000004, 2.2500002]) {
            assert!((found - expected).abs() < 1e-7);
        }
    }

    /// A caution from Bland and Altman's 1999 data: two observers read the same cuff, so their
    /// errors are not independent and the machine gets nearly all the noise. Computed for the
    /// project's check list: 2.06, 2.43 and 382.53.
    #[test]
    fn dependent_references_make_the_third_look_bad() {
        let path = format!(
            "{}/../../../shared/checks/bland_altman_1999_sbp.csv",
            env!("CARGO_MANIFEST_DIR")
        );
        let Ok(text) = std::fs::read_to_string(path) else {
            println!("SKIPPED dependent_references: the shared check data are not here");
            return;
        };
        let rows: Vec<Vec<f64>> = text
            .lines()
            .filter(|line| !line.starts_with(['#', 's']))
            .map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect())
            .collect();
        let column = |i: usize| rows.iter().map(|row| row[i]).collect::<Vec<f64>>();
        let found = three_cornered_hat_of(&column(1), &column(4), &column(7)).unwrap();
        for (found, expected) in found.iter().zip([2.06, 2.43, 382.53]) {
            assert!((found - expected).abs() < 0.005, "{found}");
        }
    }
}
