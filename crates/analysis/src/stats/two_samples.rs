//! Comparison of two samples: Welch's test and two one-sided tests of equivalence.

use super::normal::{student_t_probability, student_t_quantile};

/// A difference of means with what is needed to test it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// Mean of the second minus mean of the first, or mean of paired differences.
    pub value: f64,
    /// Standard error.
    pub u: f64,
    /// Degrees of freedom (Welch–Satterthwaite for independent samples).
    pub dof: f64,
}

impl Difference {
    /// Student's t against a supposed difference.
    pub fn t(&self, supposed: f64) -> f64 {
        (self.value - supposed) / self.u
    }

    /// Two-sided p value against no difference.
    pub fn p(&self) -> f64 {
        2.0 * student_t_probability(-self.t(0.0).abs(), self.dof)
    }

    /// Two-sided interval with the coverage.
    pub fn interval(&self, coverage: f64) -> [f64; 2] {
        let half = student_t_quantile(0.5 + 0.5 * coverage, self.dof) * self.u;
        [self.value - half, self.value + half]
    }

    /// P values of the two one-sided tests against ±margin; equivalence is shown when the larger
    /// is small.
    pub fn equivalence(&self, low: f64, high: f64) -> [f64; 2] {
        [
            student_t_probability(-self.t(low), self.dof),
            student_t_probability(self.t(high), self.dof),
        ]
    }
}

/// Mean, variance (n − 1) and number of a sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Summary {
    /// Mean.
    pub mean: f64,
    /// Variance with n − 1.
    pub variance: f64,
    /// Number.
    pub n: f64,
}

impl Summary {
    /// Of a sample; `None` with fewer than two values or one that is not finite.
    pub fn of(values: &[f64]) -> Option<Self> {
        if values.len() < 2 || values.iter().any(|x| !x.is_finite()) {
            return None;
        }
        let n = values.len() as f64;
        let origin = values[0];
        let mean = origin + values.iter().map(|x| x - origin).sum::<f64>() / n;
        let variance = values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0);
        Some(Self { mean, variance, n })
    }
}

/// Welch's comparison, second minus first. `None` where neither sample varies.
pub fn welch(first: Summary, second: Summary) -> Option<Difference> {
    let (a, b) = (first.variance / first.n, second.variance / second.n);
    let variance = a + b;
    if !(variance > 0.0 && variance.is_finite()) {
        return None;
    }
    let dof = variance * variance / (a * a / (first.n - 1.0) + b * b / (second.n - 1.0));
    Some(Difference {
        value: second.mean - first.mean,
        u: variance.sqrt(),
        dof,
    })
}

/// Comparison with a common variance, second minus first.
pub fn pooled(first: Summary, second: Summary) -> Option<Difference> {
    let dof = first.n + second.n - 2.0;
    let variance = ((first.n - 1.0) * first.variance + (second.n - 1.0) * second.variance) / dof;
    let u = (variance * (1.0 / first.n + 1.0 / second.n)).sqrt();
    (u > 0.0 && u.is_finite()).then_some(Difference {
        value: second.mean - first.mean,
        u,
        dof,
    })
}

/// Comparison of one sample with a fixed value, or of paired differences with zero.
pub fn one_sample(sample: Summary, supposed: f64) -> Option<Difference> {
    let u = (sample.variance / sample.n).sqrt();
    (u > 0.0 && u.is_finite()).then_some(Difference {
        value: sample.mean - supposed,
        u,
        dof: sample.n - 1.0,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const FIRST: [f64; 10] = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
    const SECOND: [f64; 10] = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];

    fn close(found: f64, expected: f64, tolerance: f64) {
        assert!(
            (found - expected).abs() <= tolerance,
            "{found} is not {expected}"
        );
    }

    /// R's `sleep` data: Welch test as R prints it, equivalence as in the vignette of the R
    /// package TOSTER 0.8.6. Their difference is first minus second.
    #[test]
    fn sleep_independent() {
        let (first, second) = (Summary::of(&FIRST).unwrap(), Summary::of(&SECOND).unwrap());
        let d = welch(second, first).unwrap();
        close(d.t(0.0), -1.8608, 5e-5);
        close(d.dof, 17.776, 5e-4);
        close(d.p(), 0.07939, 5e-6);
        close(d.interval(0.95)[0], -3.3654832, 5e-8);
        close(d.interval(0.95)[1], 0.2054832, 5e-8);
        close(d.t(-0.5), -1.2719, 5e-5);
        close(d.t(0.5), -2.450, 5e-4);
        close(d.equivalence(-0.5, 0.5)[0], 0.8901, 5e-5);
        close(d.equivalence(-0.5, 0.5)[1], 0.012, 5e-4);
        close(d.interval(0.9)[0], -3.0533815, 5e-8);
        close(d.interval(0.9)[1], -0.1066185, 5e-8);
    }

    /// The same data paired, same sources.
    #[test]
    fn sleep_paired() {
        let differences: Vec<f64> = FIRST.iter().zip(SECOND).map(|(a, b)| a - b).collect();
        let d = one_sample(Summary::of(&differences).unwrap(), 0.0).unwrap();
        close(d.t(0.0), -4.0621, 5e-5);
        close(d.p(), 0.002833, 5e-7);
        close(d.t(-0.5), -2.7766, 5e-5);
        close(d.equivalence(-0.5, 0.5)[0], 0.9892, 5e-5);
        close(d.t(0.5), -5.348, 5e-4);
        close(d.interval(0.9)[0], -2.2930053, 5e-8);
        close(d.interval(0.9)[1], -0.8669947, 5e-8);
    }

    /// NIST e-Handbook 1.3.5.3, AUTO83B (public domain), from the printed summaries.
    #[test]
    fn two_groups_of_cars() {
        let first = Summary {
            mean: 20.14458,
            variance: 6.41470f64.powi(2),
            n: 249.0,
        };
        let second = Summary {
            mean: 30.48101,
            variance: 6.10771f64.powi(2),
            n: 79.0,
        };
        let d = pooled(second, first).unwrap();
        close(d.t(0.0), -12.62059, 1e-5);
        assert_eq!(d.dof, 326.0);
        close(student_t_quantile(0.975, 326.0), 1.9673, 5e-5);
    }

    /// One sample from summaries, R package TOSTER: mean 0.54 against 0.5, bounds ±0.36.
    #[test]
    fn one_sample_equivalence() {
        let d = one_sample(
            Summary {
                mean: 0.54,
                variance: 1.44,
                n: 100.0,
            },
            0.5,
        )
        .unwrap();
        close(d.t(-0.36), 3.333333, 1e-6);
        close(d.t(0.36), -2.666667, 1e-6);
        close(d.equivalence(-0.36, 0.36)[0], 0.0006040021, 1e-10);
        close(d.equivalence(-0.36, 0.36)[1], 0.004474619, 1e-9);
        close(d.interval(0.9)[0], -0.1592469, 1e-7);
        close(d.interval(0.9)[1], 0.2392469, 1e-7);
    }

    #[test]
    fn what_does_not_vary_is_not_tested() {
        let same = Summary::of(&[1.0, 1.0, 1.0]).unwrap();
        assert!(welch(same, same).is_none());
        assert!(one_sample(same, 0.0).is_none());
        assert!(Summary::of(&[1.0]).is_none());
    }

    /// Paired equivalence of the example data of statsmodels' own test (`test_tost.py`, BSD-3,
    /// values generated by R), margin 0.6, and ln 1.25 for the logarithms.
    #[test]
    fn clinic_paired() {
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../../shared/checks/statsmodels_clinic.csv"
        );
        let Ok(text) = std::fs::read_to_string(path) else {
            println!("SKIPPED clinic_paired: the shared check data are not here");
            return;
        };
        let mut groups: [Vec<[f64; 2]>; 2] = Default::default();
        for line in text.lines().filter(|line| !line.starts_with(['#', 'i'])) {
            let cells: Vec<f64> = line
                .split(',')
                .map(|cell| cell.trim().parse().unwrap())
                .collect();
            groups[usize::from(cells[1] == 2.0)].push([cells[2], cells[3]]);
        }
        let p = |of: &dyn Fn(f64) -> f64, variable: usize, margin: f64| {
            let differences: Vec<f64> = groups[0]
                .iter()
                .zip(&groups[1])
                .map(|(a, b)| of(a[variable]) - of(b[variable]))
                .collect();
            let d = one_sample(Summary::of(&differences).unwrap(), 0.0).unwrap();
            let [low, high] = d.equivalence(-margin, margin);
            low.max(high)
        };
        close(p(&|x| x, 0, 0.6), 0.003166881489265175, 1e-12);
        close(p(&|x| x, 1, 0.6), 0.4412034046017588, 1e-12);
        close(p(&f64::ln, 0, 1.25f64.ln()), 0.0001664157928976468, 1e-12);
    }
}
