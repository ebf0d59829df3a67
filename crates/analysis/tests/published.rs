//! Published and certified values that are not tested beside the code they check. The source stands
//! with each number; what is from memory says so.

#![allow(
    clippy::unwrap_used,
    reason = "a test may stop where its own data are wrong"
)]

mod common;

use analysis::budget::combine;
use analysis::stats::anova::anova;
use analysis::stats::autocorrelation::{acf, inflation_sum, n_eff_long_ar1, newey_west_se};
use analysis::stats::hat::{three_cornered_hat, three_cornered_hat_of, triple_collocation};
use analysis::stats::limits::from_pairs;
use analysis::stats::two_samples::{Summary, pooled, welch};
use common::Noise;

fn close(found: f64, expected: f64, within: f64, what: &str) {
    assert!(
        (found - expected).abs() <= within,
        "{what}: {found} is not {expected}"
    );
}

fn columns(text: &str) -> Vec<Vec<f64>> {
    let rows: Vec<Vec<f64>> = text
        .lines()
        .filter_map(|line| line.split(',').map(|cell| cell.parse().ok()).collect())
        .collect();
    (0..rows[0].len())
        .map(|column| rows.iter().map(|row| row[column]).collect())
        .collect()
}

/// GUM (JCGM 100:2008) H.1, end gauge: contributions 25 nm (18 degrees of freedom), 9.7 nm (25.6),
/// 2.9 nm (50) and 16.6 nm (2) combine to 32 nm with 16 degrees of freedom; as quoted in public
/// test files of two programs. The digits are those of the unrounded contributions.
#[test]
fn end_gauge() {
    let contributions = [
        (25.0, 18.0),
        (9.681_942, 25.6),
        (2.886_787, 50.0),
        (16.599_027, 2.0),
    ];
    let found = combine(contributions.into_iter());
    close(found.u, 31.663_879, 1e-5, "u, nm");
    close(found.dof, 16.75, 0.05, "degrees of freedom");
}

/// EA-4/02, S2, calibration of a weight: 22.5, 8.66, 14.43, 5.77 and 5.77 mg give 29.26 mg (the
/// publication prints 29.2 with its own rounding); as quoted in a public test file.
#[test]
fn weight() {
    let terms = [22.5, 8.66, 14.43, 5.77, 5.77].map(|u| (u, f64::MAX));
    close(combine(terms.into_iter()).u, 29.26, 0.01, "u, mg");
}

/// GUM (JCGM 100:2008) H.5: means of ten days with five readings each, standard deviations within
/// the days; mean 10.000 097 V, s of the means 57 µV, pooled within 85 µV, F 2.25 (from rounded
/// squares; 2.2615 unrounded). Rebuilt as readings with exactly these means and deviations.
#[test]
fn voltage_standard() {
    let means = [172, 116, 13, 144, 106, 31, 60, 125, 163, 41].map(f64::from);
    let within = [60, 77, 111, 101, 67, 93, 80, 73, 88, 86].map(f64::from);
    // Five numbers with mean zero and standard deviation one (n − 1).
    let pattern = [-2.0, -1.0, 0.0, 1.0, 2.0].map(|x: f64| x / 2.5f64.sqrt());
    let days: Vec<Vec<f64>> = means
        .iter()
        .zip(within)
        .map(|(mean, s)| pattern.iter().map(|x| mean + s * x).collect())
        .collect();
    let found = anova(&days).unwrap();
    close(found.mean, 97.1, 1e-9, "mean above 10 V, µV");
    close(found.s_r(), 84.887, 1e-3, "within, µV");
    close(
        (found.ms_between() / 5.0).sqrt(),
        57.0895,
        1e-4,
        "of the means, µV",
    );
    close(found.f().unwrap(), 2.261_52, 1e-5, "F");
    // From memory of the same example: between days 43 µV, mean 18 µV.
    close(found.s_l(), 42.639, 1e-3, "between, µV");
    close(found.u_mean(), 18.053, 1e-3, "u of the mean, µV");
}

/// NIST StRD one-way analysis of variance, SiRstv: five instruments, five readings each. Certified
/// F and residual standard deviation; between instruments derived from them exactly.
#[test]
fn five_instruments() {
    let data = columns(include_str!("data/nist_anova_SiRstv.csv"));
    let groups: Vec<Vec<f64>> = (1..=5)
        .map(|instrument| {
            let pairs = data[0].iter().zip(&data[1]);
            pairs
                .filter(|(of, _)| **of == f64::from(instrument))
                .map(|(_, value)| *value)
                .collect()
        })
        .collect();
    let found = anova(&groups).unwrap();
    close(found.f().unwrap(), 1.180_462_374_402_55, 1e-9, "F");
    close(found.s_r(), 0.104_076_068_334_656, 1e-11, "s_r");
    close(found.s_l(), 0.019_772_391_863_403_9, 1e-9, "s_L");
    close(
        found.s_reproducibility(),
        0.105_937_601_822_96,
        1e-10,
        "s_R",
    );
}

/// Bland and Altman, Lancet 1986;327:307, first readings of two peak flow meters: mean −2.1, SD
/// 38.8, standard error of the mean 9.4; limits with 1.96 instead of 2 from a public vignette.
#[test]
fn peak_flow() {
    #[rustfmt::skip]
    let pairs: [[i32; 2]; 17] = [
        [494, 512], [395, 430], [516, 520], [434, 428], [476, 500], [557, 600], [413, 364],
        [442, 380], [650, 658], [433, 445], [417, 432], [656, 626], [267, 260], [478, 477],
        [178, 259], [423, 350], [427, 451],
    ];
    let differences: Vec<f64> = pairs.iter().map(|[a, b]| f64::from(a - b)).collect();
    let found = from_pairs(&differences).unwrap();
    close(found.bias, -2.117_647_058_823_529_4, 1e-12, "mean");
    close(found.se_bias, 9.401_925, 1e-6, "standard error");
    close(found.sd, 38.765_129_873_607_38, 1e-10, "SD");
    let [low, high] = found.limits();
    close(low, -78.097_3, 1e-4, "lower limit");
    close(high, 73.862, 1e-4, "upper limit");
}

/// R's `sleep` data: Welch t −1.8608, 17.776 degrees of freedom, p 0.07939, interval −3.3655 to
/// 0.2055; two one-sided tests with ±0.5: p 0.8901 and 0.0125 (vignette of a public package).
/// NIST e-Handbook 1.3.5.3, AUTO83B: pooled 6.3426, T −12.62059, 326 degrees of freedom.
#[test]
fn two_samples() {
    let first = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
    let second = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
    let found = welch(Summary::of(&first).unwrap(), Summary::of(&second).unwrap()).unwrap();
    // Whether first or second is taken from the other does not matter here.
    close(found.t(0.0).abs(), 1.860_813_47, 1e-8, "t");
    close(found.dof, 17.776_473_52, 1e-7, "degrees of freedom");
    close(found.p(), 0.079_394_14, 1e-7, "p");
    let [low, high] = found.interval(0.95).map(f64::abs);
    close(low.max(high), 3.365_483_23, 1e-7, "far end");
    close(low.min(high), 0.205_483_23, 1e-7, "near end");
    let [a, b] = found.equivalence(-0.5, 0.5);
    close(a.max(b), 0.890_109_96, 1e-7, "p of the failing side");
    close(a.min(b), 0.012_451_33, 1e-7, "p of the other side");
    let of = |n: f64, mean: f64, sd: f64| Summary {
        n,
        mean,
        variance: sd * sd,
    };
    let cars = pooled(
        of(249.0, 20.144_58, 6.414_70),
        of(79.0, 30.481_01, 6.107_71),
    )
    .unwrap();
    close(cars.t(0.0).abs(), 12.620_585, 1e-5, "T");
    close(cars.dof, 326.0, 0.0, "degrees of freedom");
}

/// Three-cornered hat and triple collocation on data constructed for this project, whose errors are
/// exactly orthogonal: error SD 2, 3 and 1.5. The collocation was cross-checked with a public
/// package (pytesmo 0.18.1). And a worked example of a public mailing list (time-nuts, May 2013):
/// true 6, 8 and 10 make pairs of 10, 12.806 and 11.662.
#[test]
fn three_instruments() {
    let hat = columns(include_str!("data/triple_tch_exact.csv"));
    let found = three_cornered_hat_of(&hat[0], &hat[1], &hat[2]).unwrap();
    for (found, expected) in found
        .into_iter()
        .zip([3.999_999_9, 9.000_000_4, 2.250_000_2])
    {
        close(found, expected, 1e-6, "variance");
    }
    let exact = columns(include_str!("data/triple_tc_exact.csv"));
    let found = triple_collocation(&exact[0], &exact[1], &exact[2]).unwrap();
    for (found, expected) in found
        .error_variance
        .into_iter()
        .zip([2.000_000_1, 2.999_999_9, 1.5])
    {
        close(found.sqrt(), expected, 1e-6, "error SD");
    }
    for (found, expected) in found
        .to_first
        .into_iter()
        .zip([1.0, 0.980_392_16, 1.030_927_83])
    {
        close(found, expected, 1e-6, "scale");
    }
    for (found, expected) in
        found
            .correlation
            .into_iter()
            .zip([0.999_444_91, 0.998_800_70, 0.999_668_04])
    {
        close(found, expected, 1e-7, "correlation with the truth");
    }
    let pairs = [10.0f64, 12.806_248_5, 11.661_903_8].map(|pair| pair * pair);
    // Pairs of the first with the second, the second with the third, the first with the third.
    let found = three_cornered_hat(pairs[0], pairs[2], pairs[1]).map(f64::sqrt);
    for (found, expected) in found.into_iter().zip([6.0, 8.0, 10.0]) {
        close(found, expected, 1e-5, "own noise");
    }
}

/// Autocorrelation: Newey and West's standard error of NIST's Michelso at 0 and 4 lags (statsmodels
/// gives the same); 19 as the autocorrelation time of x = 0.9 x' + U(0, 1), as emcee 3.1.6 tests it
/// (±20 %); the effective number for Michelso's certified lag-1 coefficient.
#[test]
fn autocorrelated_means() {
    let michelso = columns(include_str!("data/nist_Michelso.csv"));
    close(
        newey_west_se(&michelso[0], 0).unwrap(),
        0.007_861_450_247_9,
        1e-12,
        "L 0",
    );
    close(
        newey_west_se(&michelso[0], 4).unwrap(),
        0.011_235_965_112_1,
        1e-12,
        "L 4",
    );
    close(
        n_eff_long_ar1(100, 0.535_199_668_621_283),
        30.276_213_63,
        1e-7,
        "n_eff",
    );
    let mut noise = Noise::new(7);
    let mut value = 5.0;
    let values: Vec<f64> = (0..20_000)
        .map(|_| {
            value = 0.9 * value + noise.uniform();
            value
        })
        .collect();
    let time = inflation_sum(values.len(), &acf(&values, 400));
    close(time / 19.0, 1.0, 0.2, "autocorrelation time over 19");
}
