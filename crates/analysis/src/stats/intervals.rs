//! Intervals: of an estimate, a rate, a share and a standard deviation; and the chances of F and χ².
//!
//! Rates and shares have exact intervals (Garwood 1936 by χ²; Clopper and Pearson 1934 by the beta
//! distribution), because drop-outs are few and an approximate interval would promise too much.

use super::normal::student_t_quantile;
use super::two_samples::Summary;
use crate::outcome::Estimate;
use statrs::distribution::{Beta, ChiSquared, ContinuousCDF, FisherSnedecor};

/// Mean of independent repeats with its standard uncertainty. `None` with fewer than two: one
/// repeat has no uncertainty.
pub fn mean_of_repeats(values: &[f64]) -> Option<Estimate> {
    let summary = Summary::of(values)?;
    Some(Estimate {
        value: summary.mean,
        u: (summary.variance / summary.n).sqrt(),
        dof: summary.n - 1.0,
    })
}

/// 95 % interval of an estimate by Student's t.
pub fn interval_95(estimate: Estimate) -> [f64; 2] {
    interval(estimate, 0.95)
}

/// Two-sided interval of an estimate with a given coverage by Student's t.
pub fn interval(estimate: Estimate, coverage: f64) -> [f64; 2] {
    let half = student_t_quantile(0.5 + 0.5 * coverage, estimate.dof) * estimate.u;
    [estimate.value - half, estimate.value + half]
}

/// Whether an interval lies wholly on one side of a value.
pub fn excludes(interval: [f64; 2], value: f64) -> bool {
    interval[0] > value || interval[1] < value
}

/// Exact 95 % interval of the mean of a Poisson count.
pub fn poisson_interval(count: u64) -> [f64; 2] {
    let n = count as f64;
    let low = if count == 0 {
        0.0
    } else {
        0.5 * chi_square_quantile(0.025, 2.0 * n)
    };
    [low, 0.5 * chi_square_quantile(0.975, 2.0 * n + 2.0)]
}

/// Exact 95 % interval of a share of `hits` among `n`; the whole range for none.
pub fn share_interval(hits: u64, n: u64) -> [f64; 2] {
    if n == 0 || hits > n {
        return [0.0, 1.0];
    }
    let (k, m) = (hits as f64, n as f64);
    let beta = |a: f64, b: f64, p: f64| Beta::new(a, b).map_or(p, |b| b.inverse_cdf(p));
    [
        if hits == 0 {
            0.0
        } else {
            beta(k, m - k + 1.0, 0.025)
        },
        if hits == n {
            1.0
        } else {
            beta(k + 1.0, m - k, 0.975)
        },
    ]
}

/// 95 % interval of a standard deviation with `dof` degrees of freedom.
pub fn sd_interval(sd: f64, dof: f64) -> [f64; 2] {
    let dof = dof.clamp(1.0, 1e9);
    [
        sd * (dof / chi_square_quantile(0.975, dof)).sqrt(),
        sd * (dof / chi_square_quantile(0.025, dof)).sqrt(),
    ]
}

/// Quantile of χ² by its distribution function, to about 1e-12 relative.
pub fn chi_square_quantile(p: f64, dof: f64) -> f64 {
    let Ok(distribution) = ChiSquared::new(dof) else {
        return 0.0;
    };
    bisect(|x| distribution.cdf(x), p, dof.max(1.0))
}

/// Chance that χ² with `dof` degrees of freedom is above `x`.
pub fn chi_square_tail(x: f64, dof: f64) -> f64 {
    ChiSquared::new(dof).map_or(1.0, |distribution| distribution.sf(x.max(0.0)))
}

/// Chance that F with `d1` and `d2` degrees of freedom is above `x`.
pub fn f_tail(x: f64, d1: f64, d2: f64) -> f64 {
    FisherSnedecor::new(d1, d2).map_or(1.0, |distribution| distribution.sf(x.max(0.0)))
}

/// Quantile of F.
pub fn f_quantile(p: f64, d1: f64, d2: f64) -> f64 {
    let Ok(distribution) = FisherSnedecor::new(d1, d2) else {
        return 0.0;
    };
    bisect(|x| distribution.cdf(x), p, 1.0)
}

/// Solves `cdf(x) = p` for a distribution on the positive numbers.
fn bisect(cdf: impl Fn(f64) -> f64, p: f64, start: f64) -> f64 {
    let (mut low, mut high) = (0.0, start);
    for _ in 0..200 {
        if cdf(high) >= p {
            break;
        }
        low = high;
        high *= 2.0;
    }
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if cdf(middle) < p {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// F quantiles of GUM H.5 (2.12 and 2.45 are from memory of the GUM; the digits were
    /// recomputed with scipy for checks/CHECKS.md section 3).
    #[test]
    fn quantiles_of_f() {
        assert!((f_quantile(0.95, 9.0, 40.0) - 2.12403).abs() < 1e-5);
        assert!((f_quantile(0.975, 9.0, 40.0) - 2.45194).abs() < 1e-5);
    }

    /// Garwood's interval for ten events is 4.795 to 18.390, for none 0 to 3.689: table values
    /// from memory, and self-proving, since the tails of the Poisson distribution are summed here.
    #[test]
    fn poisson_tails_are_two_and_a_half_percent() {
        for count in [0u64, 1, 3, 10, 40] {
            let [low, high] = poisson_interval(count);
            let at_most = |mean: f64, n: u64| {
                let mut term = (-mean).exp();
                let mut sum = term;
                for k in 1..=n {
                    term *= mean / k as f64;
                    sum += term;
                }
                sum
            };
            assert!((at_most(high, count) - 0.025).abs() < 1e-9);
            if count > 0 {
                assert!((1.0 - at_most(low, count - 1) - 0.025).abs() < 1e-9);
            }
        }
        assert!((poisson_interval(10)[0] - 4.795).abs() < 1e-3);
        assert!((poisson_interval(10)[1] - 18.390).abs() < 1e-3);
    }

    /// Rule-of-three neighbour: none in n has the upper end 1 − 0.025^(1/n), exactly.
    #[test]
    fn shares_at_the_ends() {
        assert!((share_interval(0, 20)[1] - (1.0 - 0.025f64.powf(0.05))).abs() < 1e-9);
        assert_eq!(share_interval(20, 20)[1], 1.0);
        assert_eq!(share_interval(0, 0), [0.0, 1.0]);
        let [low, high] = share_interval(5, 10);
        assert!((low + high - 1.0).abs() < 1e-9 && low > 0.18 && low < 0.19);
    }
}
