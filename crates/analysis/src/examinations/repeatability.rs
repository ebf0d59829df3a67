//! Repeatability and reproducibility across sessions, days, units or benches.

use super::words;
use crate::outcome::{Ink, Outcome, Tested, not_tested};
use crate::stats::anova::anova;
use crate::stats::intervals::{f_tail, sd_interval};

/// Name of the examination.
pub const NAME: &str = "repeatability";

/// Variance components of repeated measurements.
#[derive(Clone, Debug, PartialEq)]
pub struct Repeatability {
    /// Mean of all.
    pub mean: f64,
    /// Standard uncertainty of the mean, groups taken as random.
    pub u_mean: f64,
    /// Repeatability standard deviation, within groups.
    pub s_r: f64,
    /// 95 % interval of it.
    pub s_r_interval: [f64; 2],
    /// Standard deviation between groups; zero where it came out negative.
    pub s_l: f64,
    /// Reproducibility standard deviation.
    pub s_reproducibility: f64,
    /// Two results within a group differ by no more than this in 95 of 100 cases.
    pub repeatability_limit: f64,
    /// Two results of different groups differ by no more than this in 95 of 100 cases.
    pub reproducibility_limit: f64,
    /// Ratio of mean squares.
    pub f: f64,
    /// Chance of a ratio this high without differences between groups.
    pub p: f64,
    /// Groups.
    pub groups: usize,
    /// Results.
    pub results: usize,
}

/// Factor of the limits of ISO 5725: 1.96·√2, rounded there to 2.8.
const LIMIT_FACTOR: f64 = 2.8;

/// Evaluates groups of repeated results (sessions, days, units) by the components of ISO 5725-2.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to repeat.
pub fn repeatability(groups: &[Vec<f64>], unit: &str) -> Outcome<Repeatability> {
    let Some(a) = anova(groups) else {
        return not_tested(
            NAME,
            "at least two groups of repeats are needed, one of them with two results or more; \
             repeat the same cells on another day, and within the day",
        );
    };
    let Some(f) = a.f() else {
        return not_tested(
            NAME,
            "the repeats do not differ at all; check that they are real",
        );
    };
    let (d1, d2) = (a.dof_between as f64, a.dof_within as f64);
    let (s_r, s_reproducibility) = (a.s_r(), a.s_reproducibility());
    let result = Repeatability {
        mean: a.mean,
        u_mean: a.u_mean(),
        s_r,
        s_r_interval: sd_interval(s_r, d2),
        s_l: a.s_l(),
        s_reproducibility,
        repeatability_limit: LIMIT_FACTOR * s_r,
        reproducibility_limit: LIMIT_FACTOR * s_reproducibility,
        f,
        p: f_tail(f, d1, d2),
        groups: groups.len(),
        results: a.dof_between + a.dof_within + 1,
    };
    let sentence = format!(
        "Repeats scatter by {} {unit} (95\u{a0}% interval {} to {} {unit}) and groups by {} \
         {unit} more; two results of different groups may differ by {} {unit}.",
        words::plain(result.s_r, 2),
        words::plain(result.s_r_interval[0], 2),
        words::plain(result.s_r_interval[1], 2),
        words::plain(result.s_l, 2),
        words::plain(result.reproducibility_limit, 2)
    );
    let points = groups
        .iter()
        .enumerate()
        .flat_map(|(i, group)| group.iter().map(move |value| [(i + 1) as f64, *value]))
        .collect();
    let plots = vec![words::plot(
        "repeatability",
        "Results by group",
        ["group", unit],
        vec![
            words::level(Ink::Fit, "mean", a.mean),
            words::points(Ink::UnderTest, "results", points),
        ],
        format!("{} results in {} groups", result.results, result.groups),
    )];
    Ok(Tested {
        result,
        sentence,
        plots,
    })
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::Noise;
    use super::*;

    /// Facts of the book by Davies and Goldsmith 1972: variances 1764.05 and 2451.25.
    #[test]
    fn dyestuff() {
        let groups: Vec<Vec<f64>> = [
            [1545.0, 1440.0, 1440.0, 1520.0, 1580.0],
            [1540.0, 1555.0, 1490.0, 1560.0, 1495.0],
            [1595.0, 1550.0, 1605.0, 1510.0, 1560.0],
            [1445.0, 1440.0, 1595.0, 1465.0, 1545.0],
            [1595.0, 1630.0, 1515.0, 1635.0, 1625.0],
            [1520.0, 1455.0, 1450.0, 1480.0, 1445.0],
        ]
        .into_iter()
        .map(Vec::from)
        .collect();
        let found = repeatability(&groups, "g").unwrap().result;
        assert!((found.s_l - 42.00059523).abs() < 1e-7);
        assert!((found.s_r - 49.51009998).abs() < 1e-7);
        assert!((found.s_reproducibility - 64.92534174).abs() < 1e-7);
        assert!((found.u_mean - 19.38341215).abs() < 1e-7);
        assert!(found.p < 0.01);
    }

    /// ASTM E691, glucose in serum: S_r and S_R as the R package ILS 0.3 prints them; where the
    /// variance between laboratories comes out negative, S_R is S_r.
    #[test]
    fn glucose() {
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../../shared/checks/astm_e691_glucose.csv"
        );
        let Ok(text) = std::fs::read_to_string(path) else {
            println!("SKIPPED glucose: the shared check data are not here");
            return;
        };
        for (material, s_r, s_reproducibility) in [
            ("A", 1.063224, 1.063224),
            ("B", 1.496071, 1.496071),
            ("C", 2.750879, 3.478919),
            ("D", 2.625065, 3.365713),
            ("E", 3.934974, 4.192334),
        ] {
            let mut groups: Vec<(String, Vec<f64>)> = Vec::new();
            for line in text.lines().filter(|line| line.starts_with("Lab")) {
                let cells: Vec<&str> = line.split(',').collect();
                if cells[1] != material {
                    continue;
                }
                let value = cells[3].parse().unwrap();
                match groups.iter_mut().find(|(name, _)| name == cells[0]) {
                    Some((_, group)) => group.push(value),
                    None => groups.push((cells[0].to_owned(), vec![value])),
                }
            }
            let groups: Vec<Vec<f64>> = groups.into_iter().map(|(_, group)| group).collect();
            let found = repeatability(&groups, "mg/dl").unwrap().result;
            assert_eq!((found.groups, found.results), (8, 24));
            assert!((found.s_r - s_r).abs() < 6e-7, "{material}: {found:?}");
            assert!(
                (found.s_reproducibility - s_reproducibility).abs() < 6e-7,
                "{material}"
            );
        }
    }

    /// GUM H.5: ten days of five readings, from the printed day means and standard deviations.
    /// The groups are rebuilt so that they have exactly those.
    #[test]
    fn ten_days_of_a_voltage_standard() {
        let means = [
            10.000172, 10.000116, 10.000013, 10.000144, 10.000106, 10.000031, 10.000060, 10.000125,
            10.000163, 10.000041,
        ];
        let spreads_uv = [60.0, 77.0, 111.0, 101.0, 67.0, 93.0, 80.0, 73.0, 88.0, 86.0];
        let shape = [-2.0, -1.0, 0.0, 1.0, 2.0].map(|x: f64| x / 2.5f64.sqrt());
        let groups: Vec<Vec<f64>> = means
            .iter()
            .zip(spreads_uv)
            .map(|(mean, s)| shape.iter().map(|x| mean + x * s * 1e-6).collect())
            .collect();
        let found = repeatability(&groups, "V").unwrap().result;
        assert!((found.mean - 10.000097).abs() < 5e-7);
        assert!((found.s_r * 1e6 - 85.0).abs() < 0.5);
        // Printed 2.25 from rounded figures; 2.26152 unrounded.
        assert!((found.f - 2.26152).abs() < 1e-4);
        assert!((found.s_l * 1e6 - 42.639).abs() < 1e-2);
        assert!((found.u_mean * 1e6 - 18.053).abs() < 1e-2);
    }

    #[test]
    fn intervals_hold_the_truth() {
        let mut covered = 0;
        for seed in 0..100 {
            let mut noise = Noise::new(seed);
            let groups: Vec<Vec<f64>> = (0..4)
                .map(|_| {
                    let own = 0.5 * noise.normal();
                    (0..4).map(|_| own + 0.3 * noise.normal()).collect()
                })
                .collect();
            let [low, high] = repeatability(&groups, "%").unwrap().result.s_r_interval;
            covered += usize::from(low <= 0.3 && 0.3 <= high);
        }
        assert!(covered >= 89, "{covered} of 100");
    }

    #[test]
    fn what_cannot_be_said() {
        assert!(repeatability(&[], "%").is_err());
        assert!(repeatability(&[vec![1.0], vec![2.0]], "%").is_err());
        assert!(repeatability(&[vec![1.0, 1.0], vec![1.0, 1.0]], "%").is_err());
    }

    /// Michelson's five series of twenty (1879), as in the R package MASS; components computed for
    /// the project's check list, not published: 74.2336, 30.0981, 80.1032.
    #[test]
    fn speed_of_light() {
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../../shared/checks/mass_michelson.csv"
        );
        let Ok(text) = std::fs::read_to_string(path) else {
            println!("SKIPPED speed_of_light: the shared check data are not here");
            return;
        };
        let mut groups = vec![Vec::new(); 5];
        for line in text.lines().filter(|line| !line.starts_with(['#', 'S'])) {
            let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
            groups[cells[2] as usize - 1].push(cells[0]);
        }
        let found = repeatability(&groups, "km/s").unwrap().result;
        assert!((found.s_r - 74.23362836).abs() < 1e-7);
        assert!((found.s_l - 30.09806341).abs() < 1e-7);
        assert!((found.s_reproducibility - 80.10321467).abs() < 1e-7);
    }
}
