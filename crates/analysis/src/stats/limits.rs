//! Limits of agreement, from single pairs, replicates, or pairs nested in conditions.
//!
//! Bland and Altman: Lancet 327 (1986) 307; Statistical Methods in Medical Research 8 (1999) 135;
//! Journal of Biopharmaceutical Statistics 17 (2007) 571.

use super::anova::{Anova, anova};
use super::order::exceeds;
use super::two_samples::Summary;

/// Factor of the limits: 95 % of a normal distribution lie within ±1.96 standard deviations.
pub const LIMIT_FACTOR: f64 = 1.96;

/// Bias, spread and limits of agreement with their standard errors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Mean difference.
    pub bias: f64,
    /// Standard deviation of single differences.
    pub sd: f64,
    /// Standard error of the mean difference.
    pub se_bias: f64,
    /// Standard error of either limit.
    pub se_limit: f64,
    /// Degrees of freedom for intervals.
    pub dof: f64,
}

impl Limits {
    /// Lower and upper limit.
    pub fn limits(&self) -> [f64; 2] {
        [
            self.bias - LIMIT_FACTOR * self.sd,
            self.bias + LIMIT_FACTOR * self.sd,
        ]
    }
}

/// From one difference per subject. The standard error of a limit is the exact
/// s·√(1/n + 1.96²/(2(n − 1))); the paper rounds it to √(3s²/n).
pub fn from_pairs(differences: &[f64]) -> Option<Limits> {
    let s = Summary::of(differences)?;
    Some(Limits {
        bias: s.mean,
        sd: s.variance.sqrt(),
        se_bias: (s.variance / s.n).sqrt(),
        se_limit: (s.variance * (1.0 / s.n + LIMIT_FACTOR * LIMIT_FACTOR / (2.0 * (s.n - 1.0))))
            .sqrt(),
        dof: s.n - 1.0,
    })
}

/// From replicates of a constant quantity: for each subject the replicates of both methods, not
/// paired among themselves (1999, sections 5.1 and 5.2). The spread of single differences is
/// that of the subjects' mean differences plus what averaging took away.
pub fn from_replicates(subjects: &[(Vec<f64>, Vec<f64>)]) -> Option<Limits> {
    let means: Vec<f64> = subjects
        .iter()
        .map(|(a, b)| Some(mean(a)? - mean(b)?))
        .collect::<Option<_>>()?;
    let s = Summary::of(&means)?;
    let first: Vec<&[f64]> = subjects.iter().map(|(a, _)| a.as_slice()).collect();
    let second: Vec<&[f64]> = subjects.iter().map(|(_, b)| b.as_slice()).collect();
    // What averaging took away, and the variance of that estimate.
    let lost = |groups: &[&[f64]]| {
        let a = anova(groups)?;
        let inverse = groups.iter().map(|g| 1.0 / g.len() as f64).sum::<f64>() / s.n;
        let part = (1.0 - inverse) * a.ms_within();
        Some((part, 2.0 * part * part / a.dof_within as f64))
    };
    let (one, two) = (lost(&first)?, lost(&second)?);
    let total = s.variance + one.0 + two.0;
    let variance_of_total = 2.0 * s.variance * s.variance / (s.n - 1.0) + one.1 + two.1;
    let variance_of_sd = variance_of_total / (4.0 * total);
    Some(Limits {
        bias: s.mean,
        sd: total.sqrt(),
        se_bias: (total / s.n).sqrt(),
        se_limit: (total / s.n + LIMIT_FACTOR * LIMIT_FACTOR * variance_of_sd).sqrt(),
        dof: s.n - 1.0,
    })
}

/// Limits of pairs nested in conditions, while the true value varies (2007, section 3): between
/// and within variance of the differences from an analysis of variance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NestedLimits {
    /// The limits.
    pub limits: Limits,
    /// Standard deviation of the conditions' true differences; zero if it came out negative.
    pub between: f64,
    /// Standard deviation within conditions.
    pub within: f64,
}

/// From differences grouped by condition.
pub fn from_nested<G: AsRef<[f64]>>(groups: &[G]) -> Option<NestedLimits> {
    let a = anova(groups)?;
    let between = a.s_l();
    let total = between * between + a.ms_within();
    let sd = total.sqrt();
    let n = (a.dof_between + a.dof_within + 1) as f64;
    let (se_bias, variance_of_sd) = nested_errors(&a, sd, n);
    Some(NestedLimits {
        limits: Limits {
            bias: a.mean,
            sd,
            se_bias,
            se_limit: (se_bias * se_bias + LIMIT_FACTOR * LIMIT_FACTOR * variance_of_sd).sqrt(),
            dof: if between > 0.0 {
                a.dof_between as f64
            } else {
                n - 1.0
            },
        },
        between,
        within: a.s_r(),
    })
}

/// Standard error of the mean, and variance of the standard deviation by error propagation from
/// the two mean squares, each with variance 2·MS²/dof.
fn nested_errors(a: &Anova, sd: f64, n: f64) -> (f64, f64) {
    if !exceeds(a.s_l(), 0.0) {
        let total = (a.ss_between + a.ss_within) / (n - 1.0);
        return ((total / n).sqrt(), total / (2.0 * (n - 1.0)));
    }
    let from_between = a.ms_between() / a.per_group;
    let from_within = a.ms_within() * (1.0 - 1.0 / a.per_group);
    let variance_of_total = 2.0 * from_between * from_between / a.dof_between as f64
        + 2.0 * from_within * from_within / a.dof_within as f64;
    (
        (a.ms_between() / n).sqrt(),
        variance_of_total / (4.0 * sd * sd),
    )
}

fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::normal::student_t_quantile;

    fn close(found: f64, expected: f64, tolerance: f64) {
        assert!(
            (found - expected).abs() <= tolerance,
            "{found} is not {expected}"
        );
    }

    /// Lancet 1986, peak flow, first readings of two meters on 17 people (facts of the paper).
    /// Published: −2.1, 38.8, standard error 9.4, interval −22.0 to 17.8. The limits with 1.96
    /// and the exact standard error are those of the vignette of the R package blandr 0.6.0.
    #[test]
    fn peak_flow() {
        let first = [
            494.0, 395.0, 516.0, 434.0, 476.0, 557.0, 413.0, 442.0, 650.0, 433.0, 417.0, 656.0,
            267.0, 478.0, 178.0, 423.0, 427.0,
        ];
        let second = [
            512.0, 430.0, 520.0, 428.0, 500.0, 600.0, 364.0, 380.0, 658.0, 445.0, 432.0, 626.0,
            260.0, 477.0, 259.0, 350.0, 451.0,
        ];
        let d: Vec<f64> = first.iter().zip(second).map(|(a, b)| a - b).collect();
        let found = from_pairs(&d).unwrap();
        close(found.bias, -2.1, 0.05);
        close(found.bias, -2.117647, 5e-7);
        close(found.sd, 38.76513, 5e-6);
        close(found.se_bias, 9.401925, 5e-7);
        close(found.limits()[0], -78.0973, 1e-3);
        close(found.limits()[1], 73.86201, 1e-3);
        close(found.se_limit, 16.39491, 5e-4);
        let t = student_t_quantile(0.975, found.dof);
        close(found.bias - t * found.se_bias, -22.04884, 5e-6);
        close(found.bias + t * found.se_bias, 17.81354, 5e-6);
        // The printed limits use the factor 2 and rounded numbers; the printed standard error of
        // a limit, 16.3, is the rounded formula √(3s²/n).
        close((3.0 * found.sd * found.sd / 17.0).sqrt(), 16.3, 0.05);
        close(found.bias - 2.0 * found.sd, -79.7, 0.06);
        close(found.bias + 2.0 * found.sd, 75.5, 0.1);
    }

    fn table(name: &str) -> Option<Vec<Vec<String>>> {
        let path = format!(
            "{}/../../../shared/checks/{name}",
            env!("CARGO_MANIFEST_DIR")
        );
        let text = std::fs::read_to_string(path).ok()?;
        let mut rows: Vec<Vec<String>> = text
            .lines()
            .filter(|line| !line.starts_with('#'))
            .map(|line| line.split(',').map(str::to_owned).collect())
            .collect();
        rows.remove(0);
        Some(rows)
    }

    /// 1999, section 2: systolic pressure, bias −16.29, SD 19.61; section 5.1: three replicates
    /// each, −15.62, 20.95, limits −56.68 and 25.44, intervals −63.5…−49.9 and 18.70…32.2.
    #[test]
    fn systolic_pressure() {
        let Some(rows) = table("bland_altman_1999_sbp.csv") else {
            println!("SKIPPED systolic_pressure: the shared check data are not here");
            return;
        };
        let number = |row: &[String], i: usize| row[i].parse::<f64>().unwrap();
        let d: Vec<f64> = rows
            .iter()
            .map(|row| number(row, 1) - number(row, 7))
            .collect();
        let single = from_pairs(&d).unwrap();
        close(single.bias, -16.29, 0.005);
        close(single.sd, 19.61, 0.005);
        close(single.limits()[0], -54.7, 0.05);
        close(single.limits()[1], 22.1, 0.05);
        let subjects: Vec<_> = rows
            .iter()
            .map(|row| {
                (
                    (1..4).map(|i| number(row, i)).collect::<Vec<_>>(),
                    (7..10).map(|i| number(row, i)).collect::<Vec<_>>(),
                )
            })
            .collect();
        let found = from_replicates(&subjects).unwrap();
        close(found.bias, -15.62, 0.005);
        close(found.sd, 20.95, 0.005);
        close(found.limits()[0], -56.68, 0.005);
        close(found.limits()[1], 25.44, 0.005);
        close(
            found.limits()[0] - LIMIT_FACTOR * found.se_limit,
            -63.5,
            0.05,
        );
        close(
            found.limits()[0] + LIMIT_FACTOR * found.se_limit,
            -49.9,
            0.05,
        );
        close(
            found.limits()[1] - LIMIT_FACTOR * found.se_limit,
            18.70,
            0.05,
        );
        close(
            found.limits()[1] + LIMIT_FACTOR * found.se_limit,
            32.2,
            0.05,
        );
        let within: Vec<Vec<f64>> = subjects.iter().map(|(a, _)| a.clone()).collect();
        close(anova(&within).unwrap().ms_within(), 37.408, 5e-4);
        let within: Vec<Vec<f64>> = subjects.iter().map(|(_, b)| b.clone()).collect();
        close(anova(&within).unwrap().ms_within(), 83.141, 5e-4);
    }

    /// 1999, section 5.2: cardiac output, unequal replicates: 0.7092, 1.0517, −1.3521 to 2.7705
    /// (the paper rounds on the way). 2007, section 3, the same data as 60 pairs while the true
    /// value varies: 0.6021667, 0.99062408, −1.3394565 to 2.5437899.
    #[test]
    fn cardiac_output() {
        let Some(rows) = table("bland_altman_1999_cardiac.csv") else {
            println!("SKIPPED cardiac_output: the shared check data are not here");
            return;
        };
        let of = |method: &str, subject: usize| -> Vec<f64> {
            rows.iter()
                .filter(|row| row[0] == method && row[1].parse::<f64>().unwrap() == subject as f64)
                .map(|row| row[3].parse().unwrap())
                .collect()
        };
        let subjects: Vec<_> = (1..=12).map(|s| (of("IC", s), of("RV", s))).collect();
        let flipped: Vec<_> = (1..=12).map(|s| (of("RV", s), of("IC", s))).collect();
        let found = from_replicates(&flipped).unwrap();
        close(found.bias, 0.7092, 5e-5);
        close(found.sd, 1.0517, 2e-4);
        close(found.limits()[0], -1.3521, 4e-4);
        close(found.limits()[1], 2.7705, 4e-4);
        let nested: Vec<Vec<f64>> = subjects
            .iter()
            .map(|(ic, rv)| rv.iter().zip(ic).map(|(rv, ic)| rv - ic).collect())
            .collect();
        let found = from_nested(&nested).unwrap();
        close(found.limits.bias, 0.6021667, 5e-8);
        close(found.limits.sd, 0.99062408, 5e-8);
        close(found.limits.limits()[0], -1.3394565, 5e-7);
        close(found.limits.limits()[1], 2.5437899, 5e-7);
        close(found.between.powi(2), 0.81062213, 5e-9);
        close(found.within.powi(2), 0.17071399, 5e-9);
    }

    /// 1999, section 3.1: logarithms of plasma volume, 99 people: 0.099, limits 0.056 to 0.141,
    /// as ratios 1.11 (from the rounded logarithm), 1.06 to 1.15; section 3.2: milk, regression
    /// of the difference on the mean, residual standard deviation 0.08033.
    #[test]
    fn plasma_volume_and_milk() {
        let (Some(plasma), Some(milk)) = (
            table("bland_altman_1999_plasma.csv"),
            table("bland_altman_1999_milk.csv"),
        ) else {
            println!("SKIPPED plasma_volume_and_milk: the shared check data are not here");
            return;
        };
        let pair = |row: &[String]| {
            (
                row[0].parse::<f64>().unwrap(),
                row[1].parse::<f64>().unwrap(),
            )
        };
        let d: Vec<f64> = plasma
            .iter()
            .map(|row| {
                let (a, b) = pair(row);
                a.ln() - b.ln()
            })
            .collect();
        let found = from_pairs(&d).unwrap();
        close(found.bias, 0.099, 5e-4);
        close(found.limits()[0], 0.056, 5e-4);
        close(found.limits()[1], 0.141, 5e-4);
        close(found.limits()[0].exp(), 1.06, 5e-3);
        close(found.limits()[1].exp(), 1.15, 5e-3);
        let (x, y): (Vec<f64>, Vec<f64>) = milk
            .iter()
            .map(|row| {
                let (a, b) = pair(row);
                (0.5 * (a + b), a - b)
            })
            .unzip();
        let line = crate::stats::least_squares::least_squares(&[vec![1.0; x.len()], x], &y, None);
        close(line.unwrap().variance().sqrt(), 0.08033, 5e-6);
    }

    /// Giavarina, Biochemia Medica 25 (2015) 141 (open access): −27.17, 34.81, −95.39 to 41.05.
    #[test]
    fn thirty_hypothetical_pairs() {
        let Some(rows) = table("giavarina2015.csv") else {
            println!("SKIPPED thirty_hypothetical_pairs: the shared check data are not here");
            return;
        };
        let d: Vec<f64> = rows
            .iter()
            .map(|row| row[0].parse::<f64>().unwrap() - row[1].parse::<f64>().unwrap())
            .collect();
        let found = from_pairs(&d).unwrap();
        close(found.bias, -27.17, 0.005);
        close(found.sd, 34.81, 0.005);
        close(found.se_bias, 6.35, 0.005);
        close(found.limits()[0], -95.39, 0.005);
        close(found.limits()[1], 41.05, 0.005);
        let t = student_t_quantile(0.975, 29.0);
        close(found.bias - t * found.se_bias, -40.16, 0.005);
        close(found.bias + t * found.se_bias, -14.17, 0.005);
        close((3.0 * found.sd * found.sd / 30.0).sqrt(), 11.01, 0.005);
    }
}
