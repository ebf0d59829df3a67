//! Anchors: the same condition early, midway and late, to tell drift from everything else.

use super::prepared::Prepared;
use super::visits::{VisitMean, same_level, same_motion, visits};
use super::words;
use crate::outcome::{Estimate, Ink, Outcome, Tested, not_tested};
use crate::stats::intervals::{excludes, interval_95};
use crate::stats::two_samples::Summary;

/// Name of the examination.
pub const NAME: &str = "anchors";

/// Repeated visits of one condition.
#[derive(Clone, Debug, PartialEq)]
pub struct Anchors {
    /// Level of the condition, W.
    pub level_w: f64,
    /// Visits in order of time.
    pub visits: Vec<Visit>,
    /// Difference at the last visit minus at the first, % of reference.
    pub change_pct: Estimate,
    /// 95 % interval of it.
    pub interval_pct: [f64; 2],
    /// Whether a change is claimed: the interval excludes zero.
    pub claimed: bool,
    /// Standard deviation of the visits beyond their own scatter, % of reference.
    pub between_visits_pct: f64,
}

/// One visit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Visit {
    /// Minutes since the session began.
    pub minute: f64,
    /// Difference, % of reference.
    pub error_pct: f64,
    /// Standard uncertainty, %.
    pub u_pct: f64,
}

/// Visits must be at least this far apart to count as early and late, minutes.
const LEAST_MINUTES: f64 = 10.0;

/// Compares repeated visits of one condition, the one visited over the longest time.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn anchors(given: &Prepared<'_>) -> Outcome<Anchors> {
    let visits = visits(given);
    let same = |a: &VisitMean, b: &VisitMean| same_level(a.level_w, b.level_w) && same_motion(a, b);
    let best = visits
        .iter()
        .map(|first| {
            visits
                .iter()
                .filter(|visit| same(first, visit))
                .collect::<Vec<_>>()
        })
        .max_by(|a, b| length_s(a).total_cmp(&length_s(b)))
        .unwrap_or_default();
    let (Some(first), Some(last)) = (best.first(), best.last()) else {
        return not_tested(
            NAME,
            "no steady windows; ride one level early, midway and late",
        );
    };
    if length_s(&best) < 60.0 * LEAST_MINUTES {
        return not_tested(
            NAME,
            "no condition was ridden early and again late; ride one level in one gear at one \
             cadence at the beginning, midway and at the end",
        );
    }
    let n = best.len() as f64;
    let errors: Vec<f64> = best.iter().map(|visit| visit.error_pct).collect();
    let own = best.iter().map(|visit| visit.u_pct.powi(2)).sum::<f64>() / n;
    let total = Summary::of(&errors).map_or(0.0, |summary| summary.variance);
    let between_visits_pct = (total - own).max(0.0).sqrt();
    // All visits of the condition share one scatter; two windows alone would hardly have one.
    let squares: f64 = best.iter().map(|visit| visit.squares).sum();
    let freedom = best
        .iter()
        .map(|visit| visit.windows as f64 - 1.0)
        .sum::<f64>();
    let inverse = 1.0 / first.windows as f64 + 1.0 / last.windows as f64;
    let (pooled, dof) = if freedom >= 1.0 {
        ((squares / freedom * inverse).sqrt(), freedom)
    } else {
        (0.0, 1.0)
    };
    let change_pct = Estimate {
        value: last.error_pct - first.error_pct,
        u: pooled.max(first.stated_pct.hypot(last.stated_pct)),
        dof,
    };
    let interval_pct = interval_95(change_pct);
    let claimed = change_pct.u > 0.0 && excludes(interval_pct, 0.0);
    let minutes = length_s(&best) / 60.0;
    let amount = format!(
        "{} % over {minutes:.0} minutes ({})",
        words::signed(change_pct.value, 2),
        words::interval(interval_pct, 2, "%")
    );
    let level_w = first.level_w;
    let sentence = if claimed {
        format!("At {level_w:.0} W the difference moved by {amount}.")
    } else {
        format!("At {level_w:.0} W no change is shown: {amount}.")
    };
    let visits: Vec<Visit> = best
        .iter()
        .map(|visit| Visit {
            minute: visit.middle_s / 60.0,
            error_pct: visit.error_pct,
            u_pct: visit.u_pct,
        })
        .collect();
    let plots = vec![words::plot(
        "anchors",
        &format!("The same condition again: {level_w:.0} W"),
        ["time, minutes", "device minus reference, % of reference"],
        vec![words::intervals(
            Ink::UnderTest,
            "visits",
            visits
                .iter()
                .map(|v| words::error_bar(v.minute, v.error_pct, v.u_pct))
                .collect(),
        )],
        format!("{} visits", visits.len()),
    )];
    let result = Anchors {
        level_w,
        visits,
        change_pct,
        interval_pct,
        claimed,
        between_visits_pct,
    };
    Ok(Tested {
        result,
        sentence,
        plots,
    })
}

fn length_s(visits: &[&VisitMean]) -> f64 {
    match (visits.first(), visits.last()) {
        (Some(first), Some(last)) => last.middle_s - first.middle_s,
        _ => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session, TestWindow};
    use super::*;
    use crate::evidence::Feeds;

    fn three_visits(seed: u64, late_pct: f64) -> Session {
        let mut noise = Noise::new(seed);
        let mut session = Session::empty();
        for (visit, t) in [0.0, 1800.0, 3600.0].into_iter().enumerate() {
            let step = session.step(Feeds::Steady, t, t + 180.0, 200.0);
            for window in 0..6 {
                let error = late_pct * visit as f64 / 2.0 + 0.4 * noise.normal();
                session.window(TestWindow {
                    from_s: t + 30.0 * f64::from(window),
                    step,
                    level_w: 200.0,
                    reference_w: 200.0,
                    under_test_w: 200.0 * (1.0 + error / 100.0),
                    cadence_rpm: 90.0,
                    speed_kmh: 33.0,
                    u_pct: 0.4,
                });
            }
        }
        session
    }

    #[test]
    fn a_change_is_found_and_its_absence_not_claimed() {
        let mut covered = 0;
        let mut claims = 0;
        for seed in 0..60 {
            let found = anchors(&three_visits(seed, -1.5).given()).unwrap().result;
            assert!(found.claimed && found.visits.len() == 3, "{found:?}");
            covered += usize::from(!excludes(found.interval_pct, -1.5));
            claims += usize::from(
                anchors(&three_visits(seed, 0.0).given())
                    .unwrap()
                    .result
                    .claimed,
            );
        }
        assert!(covered >= 53 && claims <= 7, "{covered}, {claims} of 60");
    }

    #[test]
    fn one_visit_is_not_tested() {
        let mut session = three_visits(1, 0.0);
        session.windows.truncate(6);
        assert!(anchors(&session.given()).is_err());
        assert!(anchors(&Session::empty().given()).is_err());
    }
}
