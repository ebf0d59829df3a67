//! Statistics against certified and published values. The source stands beside each number.

#![allow(
    clippy::unwrap_used,
    reason = "a test may stop where its own data are wrong"
)]

use analysis::stats::autocorrelation::{
    Noise, acf, inflation_ar1, inflation_significant, n_eff_long_ar1, newey_west_se,
};
use analysis::stats::descriptive::{describe, lag1, mean, sd};
use analysis::stats::linear::fit_line;
use analysis::stats::normal::{normal_quantile, student_t_quantile};

fn close(a: f64, b: f64, relative: f64, what: &str) {
    assert!(
        (a - b).abs() <= relative * b.abs(),
        "{what}: {a} is not {b}"
    );
}

fn rows(text: &str) -> impl Iterator<Item = Vec<f64>> + '_ {
    text.lines().filter_map(|line| {
        let cells: Result<Vec<f64>, _> = line.split(',').map(|cell| cell.trim().parse()).collect();
        cells.ok()
    })
}

fn column(text: &str) -> Vec<f64> {
    rows(text).map(|row| row[0]).collect()
}

/// NumAcc2–4 by the generator of the data set: a first value, then 500 times (…1, …3).
fn alternating(whole: f64) -> Vec<f64> {
    let pairs = (0..500).flat_map(|_| [whole + 0.1, whole + 0.3]);
    std::iter::once(whole + 0.2).chain(pairs).collect()
}

const LEW: &str = include_str!("data/nist_Lew.csv");
const LOTTERY: &str = include_str!("data/nist_Lottery.csv");
const MAVRO: &str = include_str!("data/nist_Mavro.csv");
const MICHELSO: &str = include_str!("data/nist_Michelso.csv");
const NUMACC1: &str = include_str!("data/nist_NumAcc1.csv");
const NORRIS: &str = include_str!("data/nist_Norris.csv");

/// NIST Statistical Reference Datasets, univariate summary statistics: certified mean, standard
/// deviation and lag-1 autocorrelation. Tolerances as in the GNU Scientific Library's own test of
/// these sets: 1e-13, but 1e-9 and 1e-7 where float64 itself ends (NumAcc3, NumAcc4).
#[test]
fn nist_univariate() {
    #[rustfmt::skip]
    let sets = [
        ("Lew", column(LEW), 200, -177.435_000_000_000, 277.332_168_044_316, -0.307_304_800_605_679, 1e-13),
        ("Lottery", column(LOTTERY), 218, 518.958_715_596_330, 291.699_727_470_969, -0.120_948_622_967_393, 1e-13),
        ("Mavro", column(MAVRO), 50, 2.001_856_000_000_00, 0.000_429_123_454_003_053, 0.937_989_183_438_248, 1e-12),
        ("Michelso", column(MICHELSO), 100, 299.852_400_000_000, 0.079_010_547_819_051_8, 0.535_199_668_621_283, 1e-12),
        ("NumAcc1", column(NUMACC1), 3, 10_000_002.0, 1.0, -0.5, 1e-13),
        ("NumAcc2", alternating(1.0), 1001, 1.2, 0.1, -0.999, 1e-13),
        ("NumAcc3", alternating(1_000_000.0), 1001, 1_000_000.2, 0.1, -0.999, 1e-9),
        ("NumAcc4", alternating(10_000_000.0), 1001, 10_000_000.2, 0.1, -0.999, 1e-7),
    ];
    for (name, values, n, certified_mean, certified_sd, certified_lag1, tolerance) in sets {
        let found = describe(&values).unwrap();
        assert_eq!(found.n, n, "{name}");
        close(found.mean, certified_mean, 1e-14, name);
        close(found.sd, certified_sd, tolerance, name);
        close(lag1(&values).unwrap(), certified_lag1, tolerance, name);
    }
}

/// NIST Statistical Reference Datasets, linear regression, Norris: certified values.
#[test]
fn nist_norris() {
    let (y, x): (Vec<f64>, Vec<f64>) = rows(NORRIS).map(|row| (row[0], row[1])).unzip();
    assert_eq!(x.len(), 36);
    let line = fit_line(&x, &y).unwrap();
    close(line.intercept, -0.262_323_073_774_029, 1e-11, "B0");
    close(line.slope, 1.002_116_818_020_45, 1e-13, "B1");
    close(line.intercept_sd, 0.232_818_234_301_152, 1e-12, "sd of B0");
    close(line.slope_sd, 0.429_796_848_199_937e-3, 1e-12, "sd of B1");
    close(
        line.residual_sd,
        0.884_796_396_144_373,
        1e-12,
        "residual sd",
    );
    close(line.rss, 26.617_398_529_422_4, 1e-12, "rss");
    close(line.r_squared, 0.999_993_745_883_712, 1e-14, "R²");
}

/// Autocorrelations of Lew to two decimals: NIST/SEMATECH e-Handbook of Statistical Methods,
/// autocorrelation of the beam deflection data, lags 0 to 24.
#[test]
fn nist_handbook_autocorrelation_of_lew() {
    #[rustfmt::skip]
    let published = [
        1.0, -0.31, -0.74, 0.77, 0.21, -0.9, 0.38, 0.63, -0.77, -0.12, 0.82, -0.4, -0.55,
        0.73, 0.07, -0.76, 0.4, 0.48, -0.7, -0.03, 0.7, -0.41, -0.43, 0.67, 0.0,
    ];
    let found = acf(&column(LEW), 24);
    for (lag, (found, published)) in found.iter().zip(published).enumerate() {
        assert!(
            (found - published).abs() <= 0.005 + 1e-9,
            "lag {lag}: {found}, {published}"
        );
    }
    assert_eq!(found.len(), 25);
}

/// Effective numbers from certified lag-1 autocorrelations: recomputed outside the project
/// (numpy), n (1 − ρ)/(1 + ρ) and the exact finite sum.
#[test]
fn effective_numbers_of_certified_sets() {
    #[rustfmt::skip]
    let sets = [
        ("Michelso", 100, 0.535_199_668_621_283, 30.276_213_63, 30.737_297_81),
        ("Mavro", 50, 0.937_989_183_438_248, 1.599_875_198, 2.283_868_731),
        ("Lew", 200, -0.307_304_800_605_679, 377.454_557_7, 376.177_990_5),
    ];
    for (name, n, rho, long, exact) in sets {
        close(n_eff_long_ar1(n, rho), long, 1e-8, name);
        close(n as f64 / inflation_ar1(n, rho), exact, 1e-8, name);
    }
    // Standard error of the mean of Michelso as AR(1): .01435933.
    let michelso = column(MICHELSO);
    let u = sd(&michelso).unwrap() / n_eff_long_ar1(100, lag1(&michelso).unwrap()).sqrt();
    close(u, 0.014_359_333_838, 1e-9, "AR(1) standard error");
    // Inside the program the effective number is capped at n: Lew gains nothing.
    let lew = column(LEW);
    let centre = mean(&lew).unwrap();
    let centred: Vec<f64> = lew.iter().map(|value| value - centre).collect();
    let noise = Noise::of_runs(std::iter::once(centred.as_slice())).unwrap();
    assert_eq!(noise.n_eff(200), 200.0);
}

/// Newey–West standard errors of the mean, Bartlett weights, no correction: as the HAC covariance
/// of statsmodels 0.15 gives them.
#[test]
fn newey_west_as_statsmodels() {
    let michelso = column(MICHELSO);
    let lew = column(LEW);
    for (values, lags, expected) in [
        (&michelso, 0, 0.007_861_450_247_886_7),
        (&michelso, 1, 0.009_740_586_429_984_4),
        (&michelso, 4, 0.011_235_965_112_085),
        (&michelso, 8, 0.012_215_379_013_540),
        (&lew, 0, 19.561_258_366_347_5),
        (&lew, 1, 16.280_505_233_080_9),
        (&lew, 4, 11.094_968_392_474_1),
        (&lew, 8, 6.931_461_426_191_3),
    ] {
        close(
            newey_west_se(values, lags).unwrap(),
            expected,
            1e-11,
            "Newey–West",
        );
    }
}

/// Zhang, Metrologia 43 (2006) S276: standard uncertainty of the mean of two autocorrelated
/// records, 0.3776 (400 values, 3.9 times the naive one) and .0067 (217 values, 2.8 times), as
/// quoted with the digitised data by a public test. The data may not be copied here and are read
/// from the neighbouring folder where it exists.
#[test]
fn zhang_2006() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../../shared/checks/");
    for (file, n, published, ratio) in [
        ("zhang1_autocorrelated.csv", 400, 0.3776, 3.9),
        ("zhang3_autocorrelated.csv", 217, 0.0067, 2.8),
    ] {
        let Ok(text) = std::fs::read_to_string(format!("{folder}{file}")) else {
            println!("skipped: {file} is not in the neighbouring folder of check data");
            return;
        };
        let values: Vec<f64> = rows(&text).filter_map(|row| row.last().copied()).collect();
        assert_eq!(values.len(), n);
        let inflation = inflation_significant(n, &acf(&values, n / 4));
        let u = sd(&values).unwrap() * (inflation / n as f64).sqrt();
        println!("{file}: {u}, {} times the naive one", inflation.sqrt());
        close(u, published, 0.005, file);
        close(inflation.sqrt(), ratio, 0.02, file);
    }
}

/// Bland and Altman, Lancet 1986; 327: 307–310, peak flow, first readings with the two meters.
/// Published: mean difference −2.1, SD 38.8, standard error 9.4, t(16) 2.12, interval of the mean
/// −22.0 to 17.8.
#[test]
fn bland_altman_1986() {
    #[rustfmt::skip]
    let pairs = [
        (494, 512), (395, 430), (516, 520), (434, 428), (476, 500), (557, 600), (413, 364),
        (442, 380), (650, 658), (433, 445), (417, 432), (656, 626), (267, 260), (478, 477),
        (178, 259), (423, 350), (427, 451),
    ];
    let differences: Vec<f64> = pairs.iter().map(|(a, b)| f64::from(a - b)).collect();
    let found = describe(&differences).unwrap();
    let round = |value: f64| (10.0 * value).round() / 10.0;
    assert_eq!((round(found.mean), round(found.sd)), (-2.1, 38.8));
    let error = found.sd / (found.n as f64).sqrt();
    assert_eq!(round(error), 9.4);
    let t = student_t_quantile(0.975, 16.0);
    assert_eq!((100.0 * t).round() / 100.0, 2.12);
    assert_eq!(
        (round(found.mean - t * error), round(found.mean + t * error)),
        (-22.0, 17.8)
    );
    // Limits with 1.96, as a published implementation prints them: −78.09730, 73.86201.
    close(
        found.mean - 1.96 * found.sd,
        -78.097_30,
        1e-6,
        "lower limit",
    );
    close(found.mean + 1.96 * found.sd, 73.862_01, 1e-6, "upper limit");
}

/// JCGM 106:2012, table 1 (quantiles of the standard normal distribution) and Student's t
/// (GUM, table G.2: 2.09 at 19, 2.92 for 99 % at 16).
#[test]
fn quantiles() {
    for (p, z) in [
        (0.80, 0.841_621_2),
        (0.90, 1.281_551_6),
        (0.95, 1.644_853_6),
        (0.99, 2.326_347_9),
        (0.999, 3.090_232_3),
    ] {
        close(normal_quantile(p), z, 1e-7, "normal");
    }
    close(
        student_t_quantile(0.975, 19.0),
        2.093_024_1,
        1e-7,
        "t 95 % at 19",
    );
    close(
        student_t_quantile(0.995, 16.0),
        2.920_781_6,
        1e-7,
        "t 99 % at 16",
    );
}
