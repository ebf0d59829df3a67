//! The largest of several results that share a part of their error.
//!
//! Cells of one session are judged by one reference: most of their uncertainty is common to all.
//! With a share ρ² of its variance in common, a standardised error is ρ·z + √(1 − ρ²)·w, where z is
//! the same for all and w each one's own, both standard normal. Given z the errors are independent,
//! so the chance that none exceeds k is ∫ φ(z) Π Φ((k − ρᵢ z)/√(1 − ρᵢ²)) dz. With one ρ for all
//! this is the integral behind the tables for comparisons of several treatments with one control.

use super::normal::{normal_probability, normal_quantile};

/// Reach of the integral, standard deviations.
const REACH: f64 = 7.0;
/// Steps of the integral. The integrand is smooth and flat at both ends, where the trapezoidal
/// rule converges faster than any power of the step.
const STEPS: u32 = 280;
/// A common share closer to one than this is taken as one less this, so that no factor of the
/// integrand becomes a jump that the steps cannot follow.
const LEAST_OWN: f64 = 0.01;

/// The value that the largest of several standardised errors stays below with probability `p`;
/// `common` holds the share of each one's variance that all have in common, 0 to 1. Of nothing and
/// of a single one it is the normal quantile.
pub fn largest_quantile(common: &[f64], p: f64) -> f64 {
    let alone = normal_quantile(p);
    if common.len() < 2 {
        return alone;
    }
    let weights: Vec<(f64, f64)> = common
        .iter()
        .map(|share| {
            let share = share.clamp(0.0, 1.0 - LEAST_OWN);
            (share.sqrt(), (1.0 - share).sqrt())
        })
        .collect();
    // The independent case is the largest it can be.
    let mut low = alone;
    let mut high = normal_quantile(p.powf(1.0 / common.len() as f64)) + 1e-6;
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if all_below(&weights, middle) < p {
            low = middle;
        } else {
            high = middle;
        }
        if high - low < 1e-10 {
            break;
        }
    }
    0.5 * (low + high)
}

fn all_below(weights: &[(f64, f64)], k: f64) -> f64 {
    let width = 2.0 * REACH / f64::from(STEPS);
    (0..=STEPS)
        .map(|step| {
            let z = -REACH + f64::from(step) * width;
            let density = (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt();
            weights
                .iter()
                .fold(density * width, |product, (common, own)| {
                    product * normal_probability((k - common * z) / own)
                })
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Equal correlation at 95 %: computed with scipy 1.16 (adaptive quadrature of the integral,
    /// checked there against its multivariate normal distribution). The first three are, to the
    /// two digits remembered, the one-sided values of Dunnett's table for 2, 3 and 5 treatments
    /// with infinite degrees of freedom: 1.92, 2.06, 2.23 (from memory).
    #[test]
    fn equal_correlations() {
        for (share, count, expected) in [
            (0.5, 2, 1.916_331_944_7),
            (0.5, 3, 2.062_083_932_9),
            (0.5, 5, 2.233_816_961),
            (0.9, 5, 1.967_384_227),
            (0.8, 9, 2.202_032_096),
            (0.3, 4, 2.204_198_265_3),
        ] {
            let found = largest_quantile(&vec![share; count], 0.95);
            assert!(
                (found - expected).abs() < 1e-8,
                "{share} {count}: {found} {expected}"
            );
        }
    }

    #[test]
    fn the_ends() {
        let alone = normal_quantile(0.95);
        assert_eq!(largest_quantile(&[], 0.95), alone);
        assert_eq!(largest_quantile(&[0.4], 0.95), alone);
        let independent = largest_quantile(&[0.0; 4], 0.95);
        assert!((independent - normal_quantile(0.95f64.powf(0.25))).abs() < 1e-6);
        // Nearly everything in common: several are hardly more than one.
        let alike = largest_quantile(&[1.0; 4], 0.95);
        assert!(alike > alone && alike < alone + 0.12, "{alike}");
    }
}
