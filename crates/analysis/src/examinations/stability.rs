//! Steadiness of held targets, judged on the reference: scatter and slow oscillation.

use super::bins::{Bin, Paired};
use super::integral::secs;
use super::prepared::Prepared;
use super::words;
use crate::evidence::{Feeds, StepSpan};
use crate::outcome::{Estimate, Ink, Outcome, Tested, not_tested};
use crate::stats::descriptive::lag1;
use crate::stats::periodogram::{amplitude_at, highest_peak};
use crate::stats::two_samples::Summary;
use units::Timestamp;

/// Name of the examination.
pub const NAME: &str = "holding stability";

/// Steadiness of every hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Stability {
    /// One entry per held step.
    pub holds: Vec<Hold>,
}

/// One hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Hold {
    /// Index of the step.
    pub step: usize,
    /// Beginning of what was judged.
    pub from: Timestamp,
    /// End of what was judged.
    pub to: Timestamp,
    /// Target, W.
    pub target_w: f64,
    /// Mean of the reference, W.
    pub reference_w: f64,
    /// Standard deviation of the one-second means of the reference, W, with its uncertainty.
    pub reference_sd_w: Estimate,
    /// The same of the device's own word, W.
    pub under_test_sd_w: Option<f64>,
    /// A slow oscillation that stands out of the noise, if any.
    pub oscillation: Option<Oscillation>,
}

/// A slow oscillation of the reference power.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Oscillation {
    /// Period, s.
    pub period_s: f64,
    /// Amplitude (half of peak to peak), W.
    pub amplitude_w: f64,
    /// Chance of a peak this high in noise of the same colour, all holds counted.
    pub p: f64,
}

/// Shortest hold, s.
const LEAST_S: f64 = 45.0;
/// Longest piece that is looked at for oscillation in one go, s.
const PIECE_S: usize = 300;
/// Slow oscillation: periods between these, s.
const PERIODS_S: [f64; 2] = [5.0, 60.0];
/// An oscillation is claimed where noise would show one this seldom in the whole session.
const LARGEST_P: f64 = 0.01;

/// Examines how steady the reference power was in every hold.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn stability(given: &Prepared<'_>) -> Outcome<Stability> {
    let paired = Paired::new(given, NAME)?;
    let mut holds: Vec<(Hold, Vec<f64>)> = given
        .evidence
        .steps
        .iter()
        .enumerate()
        .filter(|(_, step)| is_hold(step))
        .filter_map(|(index, step)| hold(&paired, index, step))
        .collect();
    if holds.is_empty() {
        return not_tested(
            NAME,
            "no target was held for a minute with both instruments; ride steady levels in power \
             mode",
        );
    }
    let pieces: usize = holds
        .iter()
        .map(|(_, values)| values.len().div_ceil(PIECE_S))
        .sum();
    for (hold, values) in &mut holds {
        hold.oscillation = oscillation(values, pieces as f64);
    }
    let holds: Vec<Hold> = holds.into_iter().map(|(hold, _)| hold).collect();
    let sentence = sentence(&holds);
    let plots = vec![words::plot(
        "holding-stability",
        "Scatter of one-second means in every hold",
        ["target, W", "standard deviation, W"],
        vec![
            words::intervals(
                Ink::Reference,
                "reference",
                holds
                    .iter()
                    .map(|h| {
                        let sd = h.reference_sd_w;
                        let low = (sd.value - 2.0 * sd.u).max(0.0);
                        [h.target_w, low, sd.value, sd.value + 2.0 * sd.u]
                    })
                    .collect(),
            ),
            words::points(
                Ink::UnderTest,
                "device's own word",
                holds
                    .iter()
                    .filter_map(|h| Some([h.target_w, h.under_test_sd_w?]))
                    .collect(),
            ),
        ],
        format!(
            "{} holds; the rider's own unsteadiness is in all of them",
            holds.len()
        ),
    )];
    Ok(Tested {
        result: Stability { holds },
        sentence,
        plots,
    })
}

fn is_hold(step: &StepSpan) -> bool {
    let steady = matches!(
        step.feeds,
        Feeds::Steady | Feeds::Drift | Feeds::Cadence | Feeds::FlywheelSpeed
    );
    steady && step.target_w.is_some_and(|target| target > 0.0)
}

fn hold(paired: &Paired, index: usize, step: &StepSpan) -> Option<(Hold, Vec<f64>)> {
    let (from_s, to_s) = (secs(step.from + step.settle), secs(step.to));
    let bins = paired.bins(from_s, to_s, 1.0);
    let n = bins.len() as f64;
    if n < LEAST_S || n < 0.8 * (to_s - from_s) {
        return None;
    }
    let reference: Vec<f64> = bins.iter().map(|bin: &Bin| bin.reference_w).collect();
    let under_test: Vec<f64> = bins.iter().map(|bin| bin.under_test_w).collect();
    let summary = Summary::of(&reference)?;
    let sd = summary.variance.sqrt();
    // A correlated series holds fewer independent values about its variance: by the squares of
    // its correlations, for a first-order autoregression (1 − ρ²)/(1 + ρ²).
    let rho = lag1(&reference).unwrap_or(0.0).clamp(-0.99, 0.99).powi(2);
    let n_eff = (n * (1.0 - rho) / (1.0 + rho)).max(3.0);
    let hold = Hold {
        step: index,
        from: step.from + step.settle,
        to: step.to,
        target_w: step.target_w?,
        reference_w: summary.mean,
        reference_sd_w: Estimate {
            value: sd,
            u: sd / (2.0 * (n_eff - 1.0)).sqrt(),
            dof: n_eff - 1.0,
        },
        under_test_sd_w: Summary::of(&under_test).map(|s| s.variance.sqrt()),
        oscillation: None,
    };
    Some((hold, reference))
}

/// The clearest oscillation of any piece of a hold that goes on through both halves of the piece:
/// what rings down after a change is settling, not oscillation.
fn oscillation(values: &[f64], pieces: f64) -> Option<Oscillation> {
    values
        .chunks(PIECE_S)
        .filter_map(|piece| {
            let peak = highest_peak(piece, 1.0 / PERIODS_S[1], 1.0 / PERIODS_S[0])?;
            let p = (peak.p * pieces).min(1.0);
            let (early, late) = piece.split_at(piece.len() / 2);
            let goes_on = [early, late]
                .iter()
                .all(|half| amplitude_at(half, peak.frequency) >= 0.5 * peak.amplitude);
            (p < LARGEST_P && goes_on).then_some(Oscillation {
                period_s: peak.period(),
                amplitude_w: peak.amplitude,
                p,
            })
        })
        .min_by(|a, b| a.p.total_cmp(&b.p))
}

fn sentence(holds: &[Hold]) -> String {
    let pct = |hold: &Hold| 100.0 * hold.reference_sd_w.value / hold.reference_w.max(1.0);
    let low = holds.iter().map(pct).fold(f64::MAX, f64::min);
    let high = holds.iter().map(pct).fold(0.0, f64::max);
    let scatter = format!(
        "In {} holds the reference scattered by {low:.1} to {high:.1} % from second to second, \
         rider included",
        holds.len()
    );
    let worst = holds
        .iter()
        .filter_map(|hold| Some((hold, hold.oscillation?)))
        .max_by(|a, b| a.1.amplitude_w.total_cmp(&b.1.amplitude_w));
    match worst {
        Some((hold, oscillation)) => format!(
            "{scatter}; at {:.0} W rider and brake together let the power swing by ±{:.0} W with a \
             period of {:.0} s.",
            hold.target_w, oscillation.amplitude_w, oscillation.period_s
        ),
        None => format!("{scatter}; no slow oscillation stands out of the noise."),
    }
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session};
    use super::*;

    fn holds(seed: u64, amplitude_w: f64) -> Session {
        let mut noise = Noise::new(seed);
        let mut wander = 0.0;
        let mut session = Session::pair(
            1440,
            |t| {
                wander = 0.6 * wander + 4.0 * noise.normal();
                let swing = amplitude_w * (std::f64::consts::TAU * t / 14.0).sin();
                (220.0 + swing + wander, 220.0)
            },
            Session::usual_motion,
        );
        for step in 0..8 {
            let from = 180.0 * f64::from(step);
            session.step(Feeds::Steady, from, from + 180.0, 220.0);
        }
        session
    }

    #[test]
    fn scatter_and_oscillation_are_found() {
        let found = stability(&holds(1, 6.0).given()).unwrap().result;
        assert_eq!(found.holds.len(), 8);
        let seen: Vec<_> = found
            .holds
            .iter()
            .filter_map(|hold| hold.oscillation)
            .collect();
        assert!(seen.len() >= 7, "{seen:?}");
        for oscillation in seen {
            assert!((oscillation.period_s - 14.0).abs() < 1.2, "{oscillation:?}");
            assert!(
                (oscillation.amplitude_w - 6.0).abs() < 2.5,
                "{oscillation:?}"
            );
        }
    }

    #[test]
    fn noise_alone_does_not_oscillate() {
        let sessions = (100..160)
            .filter(|&seed| {
                let found = stability(&holds(seed, 0.0).given()).unwrap().result;
                // √(16/(1 − 0.36)) = 5 W
                assert!((found.holds[0].reference_sd_w.value - 5.0).abs() < 1.5);
                found.holds.iter().any(|hold| hold.oscillation.is_some())
            })
            .count();
        assert!(sessions <= 3, "{sessions} of 60 sessions");
    }

    #[test]
    fn degenerate_holds() {
        assert!(stability(&Session::empty().given()).is_err());
        let mut flat = Session::pair(200, |_| (0.0, 0.0), Session::usual_motion);
        flat.step(Feeds::Steady, 0.0, 200.0, 100.0);
        let found = stability(&flat.given()).unwrap().result;
        assert_eq!(found.holds[0].oscillation, None);
        assert_eq!(found.holds[0].reference_sd_w.value, 0.0);
    }
}
