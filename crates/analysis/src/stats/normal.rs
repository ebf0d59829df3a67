//! Normal and Student's t probabilities and quantiles, and the coverage factor made of them.
//!
//! The functions come from the `statrs` crate; this module keeps their panics and their
//! not-a-numbers away from the rest: degrees of freedom below one count as one, and infinite
//! degrees of freedom (`f64::MAX` or more) are the normal distribution.

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

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
pub fn student_t_quantile(p: f64, dof: f64) -> f64 {
    match student_t(dof) {
        Some(distribution) if p > 0.0 && p < 1.0 => distribution.inverse_cdf(p),
        _ => normal_quantile(p),
    }
}

fn student_t(dof: f64) -> Option<StudentsT> {
    if dof.is_nan() || dof >= NORMAL_FROM_DOF {
        return None;
    }
    StudentsT::new(0.0, 1.0, dof.max(1.0)).ok()
}
