//! Disturbance: what a change of cadence does to a held target, on the reference.

use super::bins::Paired;
use super::integral::secs;
use super::prepared::Prepared;
use super::words;
use crate::evidence::StepSpan;
use crate::outcome::{Estimate, Ink, Outcome, Tested, not_tested};
use crate::stats::intervals::{excludes, interval_95, mean_of_repeats};

/// Name of the examination.
pub const NAME: &str = "cadence disturbance";

/// Reactions to changes of cadence at a constant target.
#[derive(Clone, Debug, PartialEq)]
pub struct Disturbance {
    /// One entry per change.
    pub changes: Vec<CadenceChange>,
    /// Largest departure from the power before, averaged over the changes, W.
    pub peak_w: Estimate,
    /// Whether a disturbance is claimed: on average beyond what the noise alone shows.
    pub claimed: bool,
}

/// One change of cadence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CadenceChange {
    /// Index of the step after the change.
    pub step: usize,
    /// Target held, W.
    pub target_w: f64,
    /// Cadence before, rpm.
    pub before_rpm: f64,
    /// Cadence after, rpm.
    pub after_rpm: f64,
    /// Largest departure of a 3-s mean from the power before, W, with sign.
    pub peak_w: f64,
    /// The largest such departure in a span of equal length before the change: the noise.
    pub quiet_peak_w: f64,
    /// Time until the power stays within ±5 % of what it settles at, s.
    pub recovery_s: Option<f64>,
    /// Work above (positive) or below the settled power until then, kJ.
    pub work_error_kj: f64,
}

/// Smallest change of cadence, rpm.
const LEAST_CHANGE_RPM: f64 = 8.0;
/// What is looked at after a change, and the same length before it, s.
const AFTER_S: f64 = 20.0;
/// Length of the means that make a peak, s.
const MEAN_S: f64 = 3.0;
/// Band of recovery, as a share of the settled power.
const RECOVERED: f64 = 0.05;

/// Examines what changes of cadence did to held targets.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn disturbance(given: &Prepared<'_>) -> Outcome<Disturbance> {
    let paired = Paired::new(given, NAME)?;
    let steps = &given.evidence.steps;
    let changes: Vec<CadenceChange> = steps
        .windows(2)
        .enumerate()
        .filter_map(|(index, pair)| change(&paired, index + 1, &pair[0], &pair[1]))
        .collect();
    if changes.len() < 2 {
        return not_tested(
            NAME,
            format!(
                "{} changes of cadence at a held target; hold one target and ride 80, 100 and \
                 70 rpm for half a minute each",
                changes.len()
            ),
        );
    }
    let sizes: Vec<f64> = changes.iter().map(|change| change.peak_w.abs()).collect();
    let excess: Vec<f64> = changes
        .iter()
        .map(|change| change.peak_w.abs() - change.quiet_peak_w.abs())
        .collect();
    let (Some(peak_w), Some(above)) = (mean_of_repeats(&sizes), mean_of_repeats(&excess)) else {
        return not_tested(NAME, "the changes hold no numbers that can be compared");
    };
    let interval = interval_95(above);
    let claimed = above.value > 0.0 && excludes(interval, 0.0);
    let amount = format!(
        "{:.0} W in 3-s means, {} W beyond what steady riding shows ({})",
        peak_w.value,
        words::signed(above.value, 0),
        words::interval(interval, 0, "W")
    );
    let sentence = if claimed {
        format!("A change of cadence disturbs the held power by {amount}.")
    } else {
        format!("No disturbance by changes of cadence is shown: {amount}.")
    };
    let plots = vec![words::plot(
        "cadence-disturbance",
        "Largest departure after a change of cadence",
        ["change of cadence, rpm", "departure of the reference, W"],
        vec![
            words::points(
                Ink::Reference,
                "after the change",
                changes
                    .iter()
                    .map(|c| [c.after_rpm - c.before_rpm, c.peak_w])
                    .collect(),
            ),
            words::points(
                Ink::Uncertainty,
                "steady, for comparison",
                changes
                    .iter()
                    .map(|c| [c.after_rpm - c.before_rpm, c.quiet_peak_w])
                    .collect(),
            ),
        ],
        format!("{} changes; 3-s means", changes.len()),
    )];
    Ok(Tested {
        result: Disturbance {
            changes,
            peak_w,
            claimed,
        },
        sentence,
        plots,
    })
}

/// The change between two steps, if they hold one target at two cadences one after the other.
fn change(
    paired: &Paired,
    index: usize,
    before: &StepSpan,
    after: &StepSpan,
) -> Option<CadenceChange> {
    let target_w = after.target_w?;
    let (before_rpm, after_rpm) = (before.cadence_rpm?, after.cadence_rpm?);
    let joined = (after.from - before.to).abs().as_secs_f64() < 2.0;
    let same_gear = match (before.gear, after.gear) {
        (Some(a), Some(b)) => a == b,
        _ => true,
    };
    if before.target_w != Some(target_w)
        || !joined
        || !same_gear
        || (after_rpm - before_rpm).abs() < LEAST_CHANGE_RPM
    {
        return None;
    }
    let at_s = secs(after.from);
    let end_s = secs(after.to).min(at_s + 3.0 * AFTER_S);
    if end_s - at_s < AFTER_S + 5.0 || at_s - secs(before.from) < AFTER_S + 17.0 {
        return None;
    }
    if !paired.is_free(at_s - AFTER_S - 16.0, end_s) {
        return None;
    }
    let settled = paired.reference.mean(end_s - 10.0, end_s, 0.9)?;
    let earlier = paired.reference.mean(at_s - 15.0, at_s - 1.0, 0.9)?;
    let quiet = paired
        .reference
        .mean(at_s - AFTER_S - 16.0, at_s - AFTER_S - 2.0, 0.9)?;
    let extreme = |from_s: f64, to_s: f64, level: f64| {
        let count = ((to_s - from_s - MEAN_S) / 0.5).max(0.0) as usize;
        (0..=count)
            .filter_map(|i| {
                let begin = from_s + 0.5 * i as f64;
                Some(paired.reference.mean(begin, begin + MEAN_S, 0.9)? - level)
            })
            .max_by(|a, b| a.abs().total_cmp(&b.abs()))
    };
    let peak_w = extreme(at_s, at_s + AFTER_S, earlier)?;
    let quiet_peak_w = extreme(at_s - AFTER_S - 1.0, at_s - 1.0, quiet)?;
    let band = RECOVERED * settled.abs();
    let last_outside = (0..((end_s - at_s - MEAN_S) * 2.0) as usize).rfind(|i| {
        let begin = at_s + 0.5 * *i as f64;
        paired
            .reference
            .mean(begin, begin + MEAN_S, 0.9)
            .is_none_or(|mean| (mean - settled).abs() > band)
    });
    let recovery = last_outside.map_or(0.0, |i| 0.5 * i as f64 + 0.5);
    let recovered = recovery < end_s - at_s - 10.0;
    let [work, covered] = paired
        .reference
        .over(at_s, at_s + recovery.clamp(1.0, AFTER_S));
    Some(CadenceChange {
        step: index,
        target_w,
        before_rpm,
        after_rpm,
        peak_w,
        quiet_peak_w,
        recovery_s: recovered.then_some(recovery),
        work_error_kj: (work - settled * covered) / 1000.0,
    })
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session};
    use super::*;
    use crate::evidence::Feeds;

    fn cadence_steps(seed: u64, bump_w: f64) -> Session {
        let mut noise = Noise::new(seed);
        let mut session = Session::pair(
            480,
            |t| {
                let age = t % 60.0;
                let bump = if t >= 60.0 {
                    bump_w * (-age / 4.0).exp()
                } else {
                    0.0
                };
                (200.0 + bump + 4.0 * noise.normal(), 200.0)
            },
            Session::usual_motion,
        );
        for (i, cadence) in [80.0, 100.0, 70.0, 90.0, 70.0, 100.0, 80.0, 95.0]
            .into_iter()
            .enumerate()
        {
            let step = session.step(
                Feeds::Cadence,
                60.0 * i as f64,
                60.0 * (i + 1) as f64,
                200.0,
            );
            session.evidence.steps[step].cadence_rpm = Some(cadence);
        }
        session
    }

    #[test]
    fn a_bump_is_found_and_quiet_is_not_accused() {
        let mut claims = 0;
        for seed in 0..60 {
            let found = disturbance(&cadence_steps(seed, 40.0).given())
                .unwrap()
                .result;
            assert!(found.claimed && found.changes.len() == 7, "{found:?}");
            // The mean of the first 3 s of 40·e^(−t/4), sampled once a second.
            assert!((found.peak_w.value - 31.7).abs() < 6.0, "{found:?}");
            claims += usize::from(
                disturbance(&cadence_steps(seed, 0.0).given())
                    .unwrap()
                    .result
                    .claimed,
            );
        }
        assert!(claims <= 7, "{claims} of 60");
    }

    #[test]
    fn without_changes_not_tested() {
        assert!(disturbance(&Session::empty().given()).is_err());
        let mut session = cadence_steps(1, 0.0);
        for step in &mut session.evidence.steps {
            step.cadence_rpm = Some(90.0);
        }
        assert!(disturbance(&session.given()).is_err());
    }
}
