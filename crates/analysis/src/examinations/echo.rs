//! Target echo: whether the device reports what it was told rather than what it feels.

use super::bins::Paired;
use super::prepared::Prepared;
use super::targets::Targets;
use super::words;
use crate::outcome::{Ink, Outcome, Tested, not_tested};
use crate::stats::autocorrelation::n_eff_long_ar1;
use crate::stats::descriptive::{lag1, sd};
use crate::stats::least_squares::least_squares;
use crate::stats::normal::normal_quantile;

/// Name of the examination.
pub const NAME: &str = "target echo";

/// What the indicated power follows.
#[derive(Clone, Debug, PartialEq)]
pub struct Echo {
    /// The judgement.
    pub judgement: EchoJudgement,
    /// Share of the remaining variation that the reference explains once the target is known.
    pub partial_r2_reference: f64,
    /// 95 % interval of it.
    pub reference_interval: [f64; 2],
    /// Share of the remaining variation that the target explains once the reference is known.
    pub partial_r2_target: f64,
    /// 95 % interval of it.
    pub target_interval: [f64; 2],
    /// Standard deviation of the reference about the target, W: how much there was to feel.
    pub disturbance_w: f64,
    /// Means compared.
    pub means: usize,
}

/// Judgement about an echo.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EchoJudgement {
    /// Follows the reference.
    Measures,
    /// Follows the target and ignores the reference.
    Echoes,
    /// Neither is shown.
    Undecided,
}

/// Length of the means, s: short enough to see a transition, long enough to steady a pedal stroke.
const BIN_S: f64 = 2.0;
/// Around a change of target, the reference takes time and an echo does not, s.
const AROUND_S: [f64; 2] = [-2.0, 14.0];
/// Elsewhere means count where the reference is at least this far from the target.
const DISTURBED_SHARE: f64 = 0.08;
const DISTURBED_W: f64 = 15.0;
/// Smallest scatter of the reference about the target that an echo could ignore, W.
const LEAST_DISTURBANCE_W: f64 = 5.0;
/// The target explains at least this of what the reference leaves, where it is repeated.
const FOLLOWED: f64 = 0.8;
/// The reference explains at least this of what the target leaves, where it is measured.
const FELT: f64 = 0.3;

/// One mean.
struct Mean {
    target_w: f64,
    reference_w: f64,
    under_test_w: f64,
}

/// Examines whether indicated power follows the target or the reference, where the two differ:
/// around changes of the target and under disturbances.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn echo(given: &Prepared<'_>) -> Outcome<Echo> {
    let paired = Paired::new(given, NAME)?;
    let targets = Targets::new(&given.evidence.commands);
    let removed_s = given.under_test(NAME)?.facts.removed_shift_s;
    let means = means(&paired, &targets, removed_s);
    let deviations: Vec<f64> = means.iter().map(|m| m.reference_w - m.target_w).collect();
    let disturbance_w = sd(&deviations).unwrap_or(0.0);
    if means.len() < 30 || disturbance_w < LEAST_DISTURBANCE_W {
        return not_tested(
            NAME,
            format!(
                "the reference left the target by {disturbance_w:.0} W in {} short means; ride at \
                 least four changes of target in power mode, or change the cadence quickly while \
                 a target is held",
                means.len()
            ),
        );
    }
    let column = |f: fn(&Mean) -> f64| means.iter().map(f).collect::<Vec<f64>>();
    let (target, reference, y) = (
        column(|m| m.target_w),
        column(|m| m.reference_w),
        column(|m| m.under_test_w),
    );
    let ones = vec![1.0; y.len()];
    let fits = [
        least_squares(&[ones.clone(), target.clone(), reference.clone()], &y, None),
        least_squares(&[ones.clone(), target], &y, None),
        least_squares(&[ones.clone(), reference], &y, None),
        least_squares(&[ones], &y, None),
    ];
    let [Some(full), Some(by_target), Some(by_reference), Some(alone)] = fits else {
        return not_tested(
            NAME,
            "target and reference did not vary apart from each other; ride several levels",
        );
    };
    let nothing = 1e-9 * alone.rss.max(1e-9);
    let partial = |without: f64| {
        if without <= nothing {
            0.0
        } else {
            ((without - full.rss) / without).clamp(0.0, 1.0)
        }
    };
    let (r2_reference, r2_target) = (partial(by_target.rss), partial(by_reference.rss));
    let n_eff = effective_number(&full.residuals);
    let reference_interval = r2_interval(r2_reference, n_eff);
    let target_interval = r2_interval(r2_target, n_eff);
    let judgement = if r2_reference < FELT && r2_target >= FOLLOWED {
        EchoJudgement::Echoes
    } else if reference_interval[0] >= FELT && r2_reference > r2_target {
        EchoJudgement::Measures
    } else {
        EchoJudgement::Undecided
    };
    let shares = format!(
        "where the two differ (by {disturbance_w:.0} W), the reference explains {:.0} % and the \
         target {:.0} % of what the other leaves",
        100.0 * r2_reference,
        100.0 * r2_target
    );
    let sentence = match judgement {
        EchoJudgement::Measures => format!("The indicated power follows the reference: {shares}."),
        EchoJudgement::Echoes => {
            format!("The indicated power repeats the target and ignores the rider: {shares}.")
        }
        EchoJudgement::Undecided => {
            format!("Whether the device repeats its target is not decided: {shares}.")
        }
    };
    let apart = |f: fn(&Mean) -> f64| -> Vec<[f64; 2]> {
        means
            .iter()
            .map(|m| [m.reference_w - m.target_w, f(m) - m.target_w])
            .collect()
    };
    let end = deviations.iter().fold(0.0, |a: f64, d| a.max(d.abs()));
    let plots = vec![words::plot(
        "target-echo",
        "Indicated power where the rider leaves the target",
        ["reference minus target, W", "device minus target, W"],
        vec![
            words::line(Ink::Reference, "measures", vec![[-end, -end], [end, end]]),
            words::level(Ink::Target, "repeats the target", 0.0),
            words::points(Ink::UnderTest, "means of 2 s", apart(|m| m.under_test_w)),
        ],
        format!(
            "{} means of 2 s around changes of target and under disturbance",
            means.len()
        ),
    )];
    let result = Echo {
        judgement,
        partial_r2_reference: r2_reference,
        reference_interval,
        partial_r2_target: r2_target,
        target_interval,
        disturbance_w,
        means: means.len(),
    };
    Ok(Tested {
        result,
        sentence,
        plots,
    })
}

/// The target is taken when the device, on its own arrival times, could have repeated it; the
/// reference where the device was aligned to it. Each hypothesis gets the moments that suit it.
fn means(paired: &Paired, targets: &Targets, removed_s: f64) -> Vec<Mean> {
    let Some([from_s, to_s]) = paired.common_extent() else {
        return Vec::new();
    };
    let changes = targets.changes();
    let mut next = 0;
    paired
        .bins(from_s, to_s, BIN_S)
        .into_iter()
        .filter_map(|bin| {
            let target_w = targets.mean(bin.from_s + removed_s, bin.to_s + removed_s)?;
            while next < changes.len() && changes[next].at_s + AROUND_S[1] < bin.from_s {
                next += 1;
            }
            // A small change may be followed by a large one before its time is over.
            let near = changes[next..]
                .iter()
                .take_while(|change| bin.to_s > change.at_s + AROUND_S[0])
                .any(|change| change.size_w().abs() >= 30.0);
            let off = (bin.reference_w - target_w).abs();
            let disturbed = off >= (DISTURBED_SHARE * target_w).max(DISTURBED_W);
            (bin.reference_w > 20.0 && (near || disturbed)).then_some(Mean {
                target_w,
                reference_w: bin.reference_w,
                under_test_w: bin.under_test_w,
            })
        })
        .collect()
}

/// Number of independent means that correlated residuals are worth.
fn effective_number(residuals: &[f64]) -> f64 {
    let phi = lag1(residuals).unwrap_or(0.0).clamp(0.0, 0.9);
    n_eff_long_ar1(residuals.len(), phi)
}

/// 95 % interval of a partial R² by Fisher's transformation of the partial correlation.
fn r2_interval(r2: f64, n_eff: f64) -> [f64; 2] {
    let r = r2.sqrt().min(0.999_999);
    let half = normal_quantile(0.975) / (n_eff - 4.0).max(1.0).sqrt();
    let low = (r.atanh() - half).max(0.0).tanh();
    let high = (r.atanh() + half).tanh();
    [low * low, high * high]
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session};
    use super::*;
    use crate::evidence::Load;

    /// Steps between 150 and 250 W every 40 s; the rider takes some seconds to follow.
    fn steps(seed: u64, echo: bool) -> Session {
        let mut noise = Noise::new(seed);
        let target = |t: f64| {
            if (t / 40.0) as i64 % 2 == 0 {
                150.0
            } else {
                250.0
            }
        };
        let mut truth = 150.0;
        let mut wander = 0.0;
        let mut session = Session::pair(
            800,
            |t| {
                truth += 0.35 * (target(t) - truth);
                wander = 0.7 * wander + 3.0 * noise.normal();
                let power = truth + wander;
                let shown = if echo {
                    target(t) + 0.5 * noise.normal()
                } else {
                    power
                };
                (power + 3.0 * noise.normal(), shown.round())
            },
            Session::usual_motion,
        );
        for step in 0..20 {
            session.command(
                40.0 * f64::from(step),
                Load::PowerW(target(40.0 * f64::from(step))),
            );
        }
        session
    }

    #[test]
    fn an_echo_is_recognised_and_a_measurement_is_not_accused() {
        for seed in 0..30 {
            let found = echo(&steps(seed, true).given()).unwrap().result;
            assert_eq!(found.judgement, EchoJudgement::Echoes, "{found:?}");
            let found = echo(&steps(seed, false).given()).unwrap().result;
            assert_eq!(found.judgement, EchoJudgement::Measures, "{found:?}");
        }
    }

    /// Without noise the fits are perfect; nothing may become not-a-number.
    #[test]
    fn a_perfect_echo_is_an_echo() {
        let mut session = steps(3, true);
        let targets = Targets::new(&session.evidence.commands);
        let device = &mut session.evidence.streams[0].power_w;
        let mut exact = units::Series::new();
        for at in device.times() {
            let s = at.as_secs_f64();
            exact.push(*at, targets.mean(s, s + 0.5).unwrap()).unwrap();
        }
        *device = exact;
        let found = echo(&session.given()).unwrap().result;
        assert_eq!(found.judgement, EchoJudgement::Echoes, "{found:?}");
        assert!(found.reference_interval.iter().all(|x| x.is_finite()));
    }

    #[test]
    fn without_targets_there_is_nothing_to_echo() {
        let mut session = steps(1, false);
        session.evidence.commands.clear();
        assert!(echo(&session.given()).is_err());
        assert!(echo(&Session::empty().given()).is_err());
    }
}
