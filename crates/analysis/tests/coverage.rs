//! Whether 95 % means 95 %: constructed records with known truth, repeatable noise.

#![allow(
    clippy::unwrap_used,
    reason = "a test may stop where its own data are wrong"
)]

mod common;

use analysis::assess::assess;
use analysis::findings::Treatment;
use analysis::settings::Settings;
use analysis::stats::autocorrelation::Noise as Scatter;
use analysis::stats::descriptive::mean;
use analysis::stats::normal::student_t_quantile;
use common::{Holds, Noise};

/// Means of first-order autoregressions lie within their 95 % interval about as often as that
/// says. At 500 trials a true 95 % gives between 93 and 97 % nineteen times of twenty; the short
/// record with strong autocorrelation is known to fall short and is held above 88 %.
#[test]
fn intervals_of_autocorrelated_means() {
    let mut noise = Noise::new(1);
    for (phi, n, least) in [
        (0.0, 180, 92.5),
        (0.5, 90, 92.5),
        (0.5, 600, 92.5),
        (0.8, 180, 91.0),
        (0.8, 90, 88.0),
    ] {
        let mut inside = 0;
        for _ in 0..500 {
            let mut value = 0.0;
            let values: Vec<f64> = (0..n + 60)
                .map(|_| {
                    value = phi * value + noise.normal();
                    value
                })
                .skip(60)
                .collect();
            let centre = mean(&values).unwrap();
            let centred: Vec<f64> = values.iter().map(|value| value - centre).collect();
            let found = Scatter::of_runs(std::iter::once(centred.as_slice())).unwrap();
            let dof = (found.n_eff(n) - 1.0).max(1.0);
            let half = student_t_quantile(0.975, dof) * found.u_mean(n);
            inside += u32::from(centre.abs() <= half);
        }
        let share = 100.0 * f64::from(inside) / 500.0;
        println!("φ {phi}, n {n}: {share:.1} %");
        assert!(share >= least && share <= 98.5, "φ {phi}, n {n}: {share} %");
    }
}

/// A device with a gain error, its own autocorrelated noise and a rider who varies: the type A
/// interval of the cell holds the truth about as often as it says, and the full interval always.
#[test]
fn bias_is_recovered_within_its_uncertainty() {
    let settings = Settings::default();
    let (mut inside, mut inside_all, mut stated, trials) = (0, 0, 0.0, 120);
    for seed in 0..trials {
        let mut noise = Noise::new(1000 + seed);
        let holds = Holds {
            levels_w: vec![200.0],
            length_s: 211.0,
            gain: 1.013,
            offset_w: 0.0,
            sd_w: 6.0,
            phi: 0.5,
        };
        let findings = assess(&holds.evidence(&mut noise), &settings);
        let cell = &findings.cells[0];
        assert_eq!(cell.treatment, Treatment::AsIndicated);
        assert_eq!(cell.windows, 6);
        let error = (cell.bias_pct - 1.3).abs();
        let k = student_t_quantile(0.975, cell.n_eff - 1.0);
        inside += u32::from(error <= k * cell.u_a_pct);
        inside_all += u32::from(error <= cell.expanded_pct);
        stated += cell.u_a_pct / trials as f64;
    }
    let share = 100.0 * f64::from(inside) / trials as f64;
    println!("type A interval holds the truth in {share:.1} %, full interval in {inside_all}");
    println!("mean type A uncertainty {stated:.3} %");
    // 6 W of 200 W with φ 0.5 over 180 s: 3 % · √3 / √180 = 0.387 %; some caution on top.
    assert!((0.36..=0.48).contains(&stated), "{stated}");
    assert!((89.0..=99.0).contains(&share), "{share}");
    assert_eq!(u64::from(inside_all), trials);
}
