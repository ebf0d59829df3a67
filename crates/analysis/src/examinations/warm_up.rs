//! Warm-up drift: how the difference between device and reference changes while both get warm.

use super::bins::{Bin, Paired};
use super::given::Source;
use super::integral::secs;
use super::not_tested;
use super::prepared::Prepared;
use super::words;
use crate::evidence::Feeds;
use crate::outcome::{Estimate, Ink, NotTested, Outcome, Tested};
use crate::stats::descriptive::lag1;
use crate::stats::intervals::{excludes, interval_95};
use crate::stats::least_squares::{LeastSquares, least_squares};
use crate::stats::search::golden_section;
use std::f64::consts::TAU;

/// Name of the examination.
pub const NAME: &str = "warm-up drift";

/// How the difference changed over a long steady ride.
#[derive(Clone, Debug, PartialEq)]
pub struct WarmUp {
    /// The curve that describes the change best, by the corrected Akaike criterion.
    pub shape: Shape,
    /// Change of the difference from the beginning to the end of the observation, % of reference,
    /// by the curve that was chosen. The
    /// uncertainty holds scatter, autocorrelation and the zero change of the instruments.
    pub change_pct: Estimate,
    /// 95 % interval of the change.
    pub interval_pct: [f64; 2],
    /// Whether a drift is claimed: a drifting curve is preferred and the interval excludes zero.
    pub claimed: bool,
    /// Minutes observed.
    pub minutes: f64,
    /// Time constant of the saturating curve, s, where that curve was chosen.
    pub tau_s: Option<Estimate>,
    /// Slope of the straight line, % per 10 minutes.
    pub slope_pct_per_10_min: Estimate,
    /// Standard uncertainty from the zero changes of the instruments, %.
    pub u_zero_pct: f64,
    /// Lag-one autocorrelation of the residuals that the intervals allow for.
    pub autocorrelation: f64,
    /// Mean difference in parts of the ride.
    pub checkpoints: Vec<Checkpoint>,
    /// Criterion of every curve tried; the smallest is the best.
    pub criteria: Vec<(Shape, f64)>,
}

/// Mean difference in one part of the ride.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Checkpoint {
    /// Beginning, minutes from the start of the observation.
    pub from_min: f64,
    /// End, minutes.
    pub to_min: f64,
    /// Mean difference, % of reference.
    pub error_pct: f64,
    /// Standard uncertainty of the mean, %.
    pub u_pct: f64,
}

/// Curves of a drift.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// No change.
    Constant,
    /// A straight line.
    Linear,
    /// Rises or falls towards a final value: 1 − exp(−t/τ).
    Saturating,
}

/// Length of the means that are fitted, s: long enough that a perfect device with usual noise
/// leaves ±2 % practically never.
const BIN_S: f64 = 30.0;
/// Shortest ride that shows a drift, minutes.
const LEAST_MINUTES: f64 = 12.0;
/// Fewest means.
const LEAST_BINS: usize = 12;
/// By how much the criterion of a drifting curve must undercut that of no change.
const CLEARLY_BETTER: f64 = 2.0;
/// Parts of the ride whose means are listed, minutes.
const CHECKPOINTS_MIN: [[f64; 2]; 4] = [[2.0, 5.0], [10.0, 15.0], [25.0, 30.0], [55.0, 60.0]];

/// Examines the drift of the difference over the longest steady ride.
///
/// # Errors
/// [`NotTested`] with what to ride.
pub fn warm_up(given: &Prepared<'_>) -> Outcome<WarmUp> {
    let paired = Paired::new(given, NAME)?;
    let Some([from_s, to_s]) = longest_ride(given) else {
        return not_tested(
            NAME,
            "no long steady ride; ride at least 20 minutes, better 60, at one power, gear and \
             cadence, cold at the beginning",
        );
    };
    let bins: Vec<Bin> = paired
        .bins(from_s, to_s, BIN_S)
        .into_iter()
        .filter(|bin| bin.reference_w > 20.0)
        .collect();
    let minutes = match (bins.first(), bins.last()) {
        (Some(first), Some(last)) => (last.to_s - first.from_s) / 60.0,
        _ => 0.0,
    };
    if bins.len() < LEAST_BINS || minutes < LEAST_MINUTES {
        return not_tested(
            NAME,
            format!(
                "only {minutes:.0} minutes with both instruments; ride at least \
                 {LEAST_MINUTES:.0} minutes at one power, gear and cadence"
            ),
        );
    }
    let start_s = bins[0].from_s;
    let t: Vec<f64> = bins
        .iter()
        .map(|bin| (bin.middle_s() - start_s) / 60.0)
        .collect();
    let error: Vec<f64> = bins.iter().map(Bin::error_pct).collect();
    let Some(fits) = Fits::new(&t, &error) else {
        return not_tested(
            NAME,
            "the differences do not vary at all; check that they are real",
        );
    };
    let u_zero_pct = zero_change_pct(given, &paired, [from_s, to_s])?;
    Ok(report(&fits, &t, &error, minutes, u_zero_pct, &bins))
}

/// The longest step ridden for drift; without a script the longest run of windows at one level.
fn longest_ride(given: &Prepared<'_>) -> Option<[f64; 2]> {
    let longest = |spans: Vec<[f64; 2]>| {
        spans
            .into_iter()
            .max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])))
    };
    if !given.evidence.steps.is_empty() {
        return longest(
            given
                .steps(Feeds::Drift)
                .map(|(_, step)| [secs(step.from) + secs_of_settling(step), secs(step.to)])
                .collect(),
        );
    }
    longest(
        given
            .windows
            .chunk_by(|a, b| (a.level_w - b.level_w).abs() < 0.05 * a.level_w)
            .map(|run| [secs(run[0].from), secs(run[run.len() - 1].to)])
            .collect(),
    )
}

/// At most half a minute of settling is discarded: the beginning is what a drift is about.
fn secs_of_settling(step: &crate::evidence::StepSpan) -> f64 {
    step.settle.as_secs_f64().clamp(0.0, 30.0)
}

/// The three curves fitted to means whose neighbours are correlated.
struct Fits {
    autocorrelation: f64,
    constant: LeastSquares,
    linear: LeastSquares,
    saturating: Option<(f64, LeastSquares)>,
    n: f64,
}

impl Fits {
    fn new(t: &[f64], error: &[f64]) -> Option<Self> {
        let span = t[t.len() - 1] - t[0];
        let ones = vec![1.0; t.len()];
        // Once plainly, to see the colour of the residuals under the most flexible curve.
        let plain = best_tau(t, error, span, 0.0).and_then(|(tau, fit)| {
            let line = least_squares(&[ones.clone(), t.to_vec()], error, None)?;
            Some(if fit.rss < line.rss {
                (tau, fit)
            } else {
                (span, line)
            })
        });
        let residuals = plain?.1.residuals;
        let phi = lag_one(&residuals)?;
        let y = whiten(error, phi);
        let constant = least_squares(&[whiten(&ones, phi)], &y, None)?;
        let linear = least_squares(&[whiten(&ones, phi), whiten(t, phi)], &y, None)?;
        let saturating = best_tau(t, error, span, phi);
        Some(Self {
            autocorrelation: phi,
            constant,
            linear,
            saturating,
            n: t.len() as f64,
        })
    }

    /// Corrected Akaike criterion; the variance counts as a parameter (Hurvich and Tsai 1989).
    fn criterion(&self, fit: &LeastSquares, curve_parameters: f64) -> f64 {
        let k = curve_parameters + 1.0;
        self.n * (fit.rss / self.n).max(1e-12).ln()
            + 2.0 * k
            + 2.0 * k * (k + 1.0) / (self.n - k - 1.0)
    }

    fn criteria(&self) -> Vec<(Shape, f64)> {
        let mut all = vec![
            (Shape::Constant, self.criterion(&self.constant, 1.0)),
            (Shape::Linear, self.criterion(&self.linear, 2.0)),
        ];
        if let Some((_, fit)) = &self.saturating {
            all.push((Shape::Saturating, self.criterion(fit, 3.0)));
        }
        all
    }
}

/// The time constant with the smallest residuals, and the fit with it.
fn best_tau(t: &[f64], error: &[f64], span: f64, phi: f64) -> Option<(f64, LeastSquares)> {
    let y = whiten(error, phi);
    let ones = whiten(&vec![1.0; t.len()], phi);
    let fit = |tau: f64| {
        let rise: Vec<f64> = t.iter().map(|t| 1.0 - (-t / tau).exp()).collect();
        least_squares(&[ones.clone(), whiten(&rise, phi)], &y, None)
    };
    let (low, high) = (1.0f64.ln(), (0.8 * span).max(2.0).ln());
    let rss = |log_tau: f64| fit(log_tau.exp()).map_or(f64::MAX, |fit| fit.rss);
    let steps = 8;
    let place = |i: usize| low + (high - low) * i as f64 / steps as f64;
    let best = (0..=steps).min_by(|a, b| rss(place(*a)).total_cmp(&rss(place(*b))))?;
    let tau = golden_section(
        place(best.saturating_sub(1)),
        place((best + 1).min(steps)),
        1e-3,
        rss,
    )
    .exp();
    Some((tau, fit(tau)?))
}

/// Lag-one autocorrelation, corrected for its bias in short series, not below zero.
fn lag_one(residuals: &[f64]) -> Option<f64> {
    let total: f64 = residuals.iter().map(|r| r * r).sum();
    let r = lag1(residuals).filter(|_| total > 1e-18)?;
    let n = residuals.len() as f64;
    Some((r + (1.0 + 4.0 * r) / n).clamp(0.0, 0.9))
}

/// Prais and Winsten's transformation: residuals of a first-order autoregression become white.
fn whiten(values: &[f64], phi: f64) -> Vec<f64> {
    let first = values.first().map(|v| v * (1.0 - phi * phi).sqrt());
    first
        .into_iter()
        .chain(values.windows(2).map(|w| w[1] - phi * w[0]))
        .collect()
}

/// Change of the fitted curve from the beginning to the end of the observation.
fn change(fits: &Fits, t: &[f64], shape: Shape, end_min: f64) -> (Estimate, Option<Estimate>) {
    if let (Shape::Saturating, Some((tau, fit))) = (shape, &fits.saturating) {
        let size = fit.coefficients[1];
        let decay = (-end_min / tau).exp();
        let dof = (fits.n - 3.0).max(1.0);
        // The time constant is a parameter like the others: its column is the derivative.
        let joint = joint_inverse(fits, t, *tau, size);
        let variance = fit.rss / dof;
        let along = [0.0, 1.0 - decay, -size * end_min / (tau * tau) * decay];
        let (u, u_tau) = match joint {
            Some(joint) => (
                (variance * joint.inverse_along(&along)).max(0.0).sqrt(),
                (variance * joint.inverse[2][2]).sqrt(),
            ),
            None => (fit.sd(1), *tau),
        };
        let tau = Estimate {
            value: 60.0 * tau,
            u: 60.0 * u_tau,
            dof,
        };
        return (
            Estimate {
                value: size * (1.0 - decay),
                u,
                dof,
            },
            Some(tau),
        );
    }
    let dof = (fits.n - 2.0).max(1.0);
    let slope = fits.linear.coefficients[1];
    (
        Estimate {
            value: slope * end_min,
            u: fits.linear.sd(1) * end_min,
            dof,
        },
        None,
    )
}

fn joint_inverse(fits: &Fits, t: &[f64], tau: f64, size: f64) -> Option<LeastSquares> {
    let ones = vec![1.0; t.len()];
    let rise: Vec<f64> = t.iter().map(|t| 1.0 - (-t / tau).exp()).collect();
    let derivative: Vec<f64> = t
        .iter()
        .map(|t| -size * t / (tau * tau) * (-t / tau).exp())
        .collect();
    let phi = fits.autocorrelation;
    let columns = [ones, rise, derivative].map(|column| whiten(&column, phi));
    least_squares(&columns, &vec![0.0; t.len()], None)
}

/// Half the change of each instrument's zero, as % of the reference's mean power.
fn zero_change_pct(
    given: &Prepared<'_>,
    paired: &Paired,
    [from_s, to_s]: [f64; 2],
) -> Result<f64, NotTested> {
    let sources = [given.under_test(NAME)?, given.reference(NAME)?];
    let mean_w = paired
        .reference
        .mean(from_s, to_s, 0.1)
        .unwrap_or(0.0)
        .max(1.0);
    let part = |source: &Source<'_>| {
        let zeros = &source.stream.zero_offsets;
        let (Some(first), Some(last)) = (zeros.first(), zeros.last()) else {
            return 0.0;
        };
        let cadence = &sources
            .iter()
            .map(|source| &source.stream.cadence_rpm)
            .find(|series| !series.is_empty());
        let rpm = cadence
            .and_then(|series| series.mean_over(first.at.min(last.at), given.evidence.end))
            .map_or(90.0, |mean| mean.value);
        0.5 * (last.torque_nm - first.torque_nm).abs() * rpm * TAU / 60.0 / mean_w * 100.0
    };
    Ok(part(&sources[0]).hypot(part(&sources[1])))
}

fn report(
    fits: &Fits,
    t: &[f64],
    error: &[f64],
    minutes: f64,
    u_zero_pct: f64,
    bins: &[Bin],
) -> Tested<WarmUp> {
    let criteria = fits.criteria();
    let best = criteria
        .iter()
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(criteria[0], |c| *c);
    let (scatter, tau_s) = change(fits, t, best.0, minutes);
    let change_pct = Estimate {
        u: scatter.u.hypot(u_zero_pct),
        ..scatter
    };
    let interval_pct = interval_95(change_pct);
    let claimed = best.0 != Shape::Constant
        && criteria[0].1 - best.1 > CLEARLY_BETTER
        && excludes(interval_pct, 0.0);
    let slope = Estimate {
        value: 10.0 * fits.linear.coefficients[1],
        u: 10.0 * fits.linear.sd(1),
        dof: (fits.n - 2.0).max(1.0),
    };
    let start = bins[0].from_s;
    let checkpoints = CHECKPOINTS_MIN
        .iter()
        .filter_map(|&[from_min, to_min]| {
            let inside: Vec<f64> = bins
                .iter()
                .filter(|bin| {
                    bin.from_s - start >= 60.0 * from_min - 1.0
                        && bin.to_s - start <= 60.0 * to_min + 1.0
                })
                .map(Bin::error_pct)
                .collect();
            let n = inside.len() as f64;
            let factor = (1.0 + fits.autocorrelation) / (1.0 - fits.autocorrelation);
            (inside.len() >= 2).then(|| Checkpoint {
                from_min,
                to_min,
                error_pct: inside.iter().sum::<f64>() / n,
                u_pct: (fits.linear.variance() / (1.0 - fits.autocorrelation.powi(2)) * factor / n)
                    .sqrt(),
            })
        })
        .collect();
    let what = format!(
        "{} % over {minutes:.0} minutes ({})",
        words::signed(change_pct.value, 2),
        words::interval(interval_pct, 2, "%")
    );
    let sentence = if claimed {
        let tail = tau_s.map_or(String::new(), |tau| {
            format!(
                ", most of it within the first {:.0} minutes",
                (2.0 * tau.value / 60.0).ceil()
            )
        });
        format!("The difference drifted by {what}{tail}.")
    } else {
        format!("No drift is shown: the difference changed by {what}.")
    };
    let curve: Vec<[f64; 2]> = t.iter().map(|t| [*t, curve_at(fits, best.0, *t)]).collect();
    let plots = vec![words::plot(
        "warm-up",
        "Difference while warming up",
        ["time, minutes", "device minus reference, % of reference"],
        vec![
            words::points(
                Ink::UnderTest,
                "30-s means",
                t.iter().zip(error).map(|(t, e)| [*t, *e]).collect(),
            ),
            words::line(Ink::Fit, "fitted curve", curve),
        ],
        format!(
            "{} means of 30 s; lag-one autocorrelation of the residuals {:.2}",
            t.len(),
            fits.autocorrelation
        ),
    )];
    let result = WarmUp {
        shape: best.0,
        change_pct,
        interval_pct,
        claimed,
        minutes,
        tau_s,
        slope_pct_per_10_min: slope,
        u_zero_pct,
        autocorrelation: fits.autocorrelation,
        checkpoints,
        criteria,
    };
    Tested {
        result,
        sentence,
        plots,
    }
}

fn curve_at(fits: &Fits, shape: Shape, t: f64) -> f64 {
    match (shape, &fits.saturating) {
        (Shape::Saturating, Some((tau, fit))) => {
            fit.coefficients[0] + fit.coefficients[1] * (1.0 - (-t / tau).exp())
        }
        (Shape::Linear, _) => fits.linear.coefficients[0] + fits.linear.coefficients[1] * t,
        _ => fits.constant.coefficients[0],
    }
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session};
    use super::*;

    /// An hour at 220 W; the rider's variation is common, the paired noise coloured.
    fn hour(seed: u64, drift_pct: impl Fn(f64) -> f64) -> Session {
        let mut noise = Noise::new(seed);
        let mut coloured = 0.0;
        let mut session = Session::pair(
            3600,
            |t| {
                let truth = 220.0 + 8.0 * noise.normal();
                coloured = 0.5 * coloured + 3.0 * noise.normal();
                (
                    truth,
                    truth * (1.0 + drift_pct(t / 60.0) / 100.0) + coloured,
                )
            },
            Session::usual_motion,
        );
        session.step(Feeds::Drift, 0.0, 3600.0, 220.0);
        session
    }

    #[test]
    fn a_saturating_drift_is_found() {
        let mut covered = 0;
        for seed in 0..40 {
            let session = hour(seed, |t| 1.0 - 2.0 * (1.0 - (-t / 9.0).exp()));
            let found = warm_up(&session.given()).unwrap().result;
            assert!(found.claimed, "seed {seed}: {found:?}");
            let truth = -2.0 * (1.0 - (-60.0f64 / 9.0).exp());
            covered += usize::from(!excludes(found.interval_pct, truth));
            assert_eq!(found.shape, Shape::Saturating);
        }
        assert!(covered >= 34, "{covered} of 40 intervals hold the truth");
    }

    #[test]
    fn a_linear_drift_is_found() {
        let mut covered = 0;
        for seed in 200..240 {
            let session = hour(seed, |t| 0.02 * t);
            let found = warm_up(&session.given()).unwrap().result;
            assert!(found.claimed);
            covered += usize::from(!excludes(found.interval_pct, 1.2));
            assert_eq!(found.checkpoints.len(), 4);
        }
        assert!(covered >= 34, "{covered} of 40 intervals hold the truth");
    }

    #[test]
    fn no_drift_is_not_claimed() {
        let claims = (100..160)
            .filter(|&seed| {
                warm_up(&hour(seed, |_| 1.5).given())
                    .unwrap()
                    .result
                    .claimed
            })
            .count();
        assert!(claims <= 6, "{claims} false claims of 60");
    }

    /// 0.5 N·m are 4.7 W at 90 rpm (practice text, computed there).
    #[test]
    fn a_moved_zero_is_in_the_uncertainty() {
        let mut session = hour(7, |_| 0.0);
        for (secs, torque_nm) in [(0.0, 0.0), (3600.0, 0.5)] {
            session.evidence.streams[1]
                .zero_offsets
                .push(crate::evidence::ZeroOffset {
                    at: super::super::synthetic::at(secs),
                    torque_nm,
                });
        }
        let found = warm_up(&session.given()).unwrap().result;
        assert!(
            (found.u_zero_pct - 0.5 * 4.712 / 220.0 * 100.0).abs() < 0.01,
            "{found:?}"
        );
        assert!(found.change_pct.u >= found.u_zero_pct);
    }

    #[test]
    fn degenerate_rides_are_not_tested() {
        assert!(warm_up(&Session::empty().given()).is_err());
        let mut short = Session::pair(300, |_| (200.0, 201.0), Session::usual_motion);
        short.step(Feeds::Drift, 0.0, 300.0, 200.0);
        assert!(
            warm_up(&short.given())
                .unwrap_err()
                .reason
                .contains("minutes")
        );
        let mut flat = Session::pair(3600, |_| (200.0, 201.0), Session::usual_motion);
        flat.step(Feeds::Drift, 0.0, 3600.0, 200.0);
        assert!(warm_up(&flat.given()).is_err());
        let mut negative = Session::pair(3600, |_| (-5.0, 0.0), Session::usual_motion);
        negative.step(Feeds::Drift, 0.0, 3600.0, 200.0);
        assert!(warm_up(&negative.given()).is_err());
    }
}
