//! Normal and Student's t probabilities and quantiles, and the coverage factor made of them.
//!
//! The functions come from the `statrs` crate; this module keeps their panics and their
//! not-a-numbers away from the rest: degrees of freedom below one count as one, and infinite
//! degrees of freedom (`f64::MAX` or more) are the normal distribution.

use statrs::distribution::{Continuous, ContinuousCDF, Normal, StudentsT};

/// From this many degrees of freedom on, Student's t is taken as normal: the quantiles then agree
/// to better than 1e-5.
const NORMAL_FROM_DOF: f64 = 1e6;

/// How the coverage factor of an expanded uncertainty is chosen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Coverage {
    /// k = 2, and normal probabilities.
    KTwo,
    /// 95 % by Student's t with the effective degrees of freedom, for probabilities as well.
    StudentT,
}

impl Coverage {
    /// The coverage factor for about 95 %.
    pub fn factor(self, dof: f64) -> f64 {
        match self {
            Self::KTwo => 2.0,
            Self::StudentT => student_t_quantile(0.975, dof),
        }
    }

    /// Probability that the standardised variable is below `z`.
    pub fn probability(self, z: f64, dof: f64) -> f64 {
        match self {
            Self::KTwo => normal_probability(z),
            Self::StudentT => student_t_probability(z, dof),
        }
    }

    /// The standardised value below which the probability is `p`.
    pub fn quantile(self, p: f64, dof: f64) -> f64 {
        match self {
            Self::KTwo => normal_quantile(p),
            Self::StudentT => student_t_quantile(p, dof),
        }
    }

    /// The choice in words, for the statement of the rule.
    pub const fn words(self) -> &'static str {
        match self {
            Self::KTwo => "k = 2",
            Self::StudentT => "95 % by Student's t with the effective degrees of freedom",
        }
    }
}

/// Φ(z). An infinite or undefined argument gives the limit, 0 or 1 (0.5 for not-a-number).
pub fn normal_probability(z: f64) -> f64 {
    if z.is_nan() {
        return 0.5;
    }
    Normal::standard().cdf(z.clamp(-40.0, 40.0))
}

/// Φ⁻¹(p), for 0 < p < 1; outside it is clamped to ±40.
pub fn normal_quantile(p: f64) -> f64 {
    if p.is_nan() {
        return 0.0;
    }
    if p <= 0.0 {
        return -40.0;
    }
    if p >= 1.0 {
        return 40.0;
    }
    Normal::standard().inverse_cdf(p)
}

/// Probability that Student's t with `dof` degrees of freedom is below `t`.
pub fn student_t_probability(t: f64, dof: f64) -> f64 {
    match student_t(dof) {
        Some(distribution) if t.is_finite() => distribution.cdf(t),
        _ => normal_probability(t),
    }
}

/// Quantile of Student's t with `dof` degrees of freedom.
///
/// The first terms of the expansion around the normal quantile (Abramowitz and Stegun 26.7.5),
/// then Newton steps on the distribution itself; below three degrees of freedom, where the
/// expansion is poor, the library's own search.
pub fn student_t_quantile(p: f64, dof: f64) -> f64 {
    let Some(distribution) = student_t(dof).filter(|_| p > 0.0 && p < 1.0) else {
        return normal_quantile(p);
    };
    let dof = dof.max(1.0);
    if dof < 3.0 || !(0.001..=0.999).contains(&p) {
        return distribution.inverse_cdf(p);
    }
    let z = normal_quantile(p);
    let z2 = z * z;
    let mut t =
        z + z * (z2 + 1.0) / (4.0 * dof) + z * ((5.0 * z2 + 16.0) * z2 + 3.0) / (96.0 * dof * dof);
    for _ in 0..20 {
        let step = (distribution.cdf(t) - p) / distribution.pdf(t);
        if !step.is_finite() {
            return distribution.inverse_cdf(p);
        }
        t -= step;
        if step.abs() <= 1e-13 * t.abs().max(1e-3) {
            break;
        }
    }
    t
}

fn student_t(dof: f64) -> Option<StudentsT> {
    if dof.is_nan() || dof >= NORMAL_FROM_DOF {
        return None;
    }
    StudentsT::new(0.0, 1.0, dof.max(1.0)).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The quantile is the inverse of the probability, also where the two methods meet.
    #[test]
    fn quantile_and_probability_are_inverse() {
        for dof in [
            1.0,
            1.5,
            2.9,
            3.0,
            3.1,
            5.0,
            19.0,
            240.5,
            1e5,
            1e7,
            f64::MAX,
        ] {
            for p in [0.01, 0.05, 0.3, 0.5, 0.9, 0.95, 0.975, 0.995] {
                let t = student_t_quantile(p, dof);
                assert!(
                    (student_t_probability(t, dof) - p).abs() < 1e-9,
                    "{p} at {dof}: {t}"
                );
            }
        }
    }

    #[test]
    fn limits_are_limits() {
        assert_eq!(normal_probability(f64::INFINITY), 1.0);
        assert_eq!(normal_probability(f64::NEG_INFINITY), 0.0);
        assert_eq!(student_t_probability(f64::INFINITY, 3.0), 1.0);
        assert!(student_t_quantile(0.975, f64::NAN).is_finite());
        assert!(student_t_quantile(0.975, -4.0).is_finite());
        assert_eq!(Coverage::KTwo.factor(3.0), 2.0);
    }
}
