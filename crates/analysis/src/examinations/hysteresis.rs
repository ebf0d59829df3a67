//! Hysteresis: whether the difference at a level depends on the side it is reached from.

use super::prepared::Prepared;
use super::visits::{VisitMean, same_level, same_motion, visits};
use super::words;
use crate::outcome::{Estimate, Ink, Outcome, Tested, not_tested};
use crate::stats::intervals::{excludes, interval_95};
use crate::stats::least_squares::least_squares;
use crate::stats::order::median;

/// Name of the examination.
pub const NAME: &str = "hysteresis";

/// Paired comparison of levels reached from below and from above.
#[derive(Clone, Debug, PartialEq)]
pub struct Hysteresis {
    /// Difference reached from below minus difference reached from above, % of reference.
    pub up_minus_down_pct: Estimate,
    /// 95 % interval of it.
    pub interval_pct: [f64; 2],
    /// Whether hysteresis is claimed: the interval excludes zero.
    pub claimed: bool,
    /// Whether a steady drift in time was taken out in the same fit.
    pub drift_taken_out: bool,
    /// The pairs.
    pub pairs: Vec<HysteresisPair>,
}

/// One level reached from both sides.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HysteresisPair {
    /// Level, W.
    pub level_w: f64,
    /// Difference when reached from below, %.
    pub up_pct: f64,
    /// Difference when reached from above, %.
    pub down_pct: f64,
    /// Minutes from the visit from below to the visit from above.
    pub minutes_between: f64,
}

/// Fewest levels that must be reached from both sides.
const LEAST_PAIRS: usize = 2;
/// From this many pairs on, a steady drift in time is taken out as well.
const PAIRS_FOR_DRIFT: usize = 4;

/// Compares levels reached from both sides.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn hysteresis(given: &Prepared<'_>) -> Outcome<Hysteresis> {
    let visits = visits(given);
    let pairs = pairs(&visits);
    if pairs.len() < LEAST_PAIRS {
        return not_tested(
            NAME,
            format!(
                "{} levels were reached from both sides; ride the levels up and then down again, \
                 at least two of them twice",
                pairs.len()
            ),
        );
    }
    let y: Vec<f64> = pairs
        .iter()
        .map(|(pair, _)| pair.up_pct - pair.down_pct)
        .collect();
    let minutes: Vec<f64> = pairs.iter().map(|(pair, _)| pair.minutes_between).collect();
    let ones = vec![1.0; y.len()];
    let spread = minutes.iter().copied().fold(f64::MIN, f64::max)
        - minutes.iter().copied().fold(f64::MAX, f64::min);
    let with_drift = (y.len() >= PAIRS_FOR_DRIFT && spread > 5.0)
        .then(|| least_squares(&[ones.clone(), minutes], &y, None))
        .flatten();
    let drift_taken_out = with_drift.is_some();
    let Some(fit) = with_drift.or_else(|| least_squares(&[ones], &y, None)) else {
        return not_tested(NAME, "the pairs do not hold numbers that can be compared");
    };
    // What the windows state must not be undercut by a lucky agreement of few pairs.
    let stated = pairs.iter().map(|(_, u)| u * u).sum::<f64>() / y.len() as f64;
    let u = (fit.variance().max(stated) * fit.inverse[0][0]).sqrt();
    let dof = if stated > fit.variance() {
        visits.iter().map(|visit| visit.windows).sum::<usize>() as f64
    } else {
        fit.dof.max(1) as f64
    };
    let up_minus_down_pct = Estimate {
        value: fit.coefficients[0],
        u,
        dof,
    };
    let interval_pct = interval_95(up_minus_down_pct);
    let claimed = u > 0.0 && excludes(interval_pct, 0.0);
    let amount = format!(
        "{} % ({})",
        words::signed(up_minus_down_pct.value, 2),
        words::interval(interval_pct, 2, "%")
    );
    let sentence = if claimed {
        format!("Reached from below, the device reads higher than from above by {amount}.")
    } else {
        format!("No hysteresis is shown: from below minus from above {amount}.")
    };
    let pairs: Vec<HysteresisPair> = pairs.into_iter().map(|(pair, _)| pair).collect();
    let side = |f: fn(&HysteresisPair) -> f64| pairs.iter().map(|p| [p.level_w, f(p)]).collect();
    let plots = vec![words::plot(
        "hysteresis",
        "Difference reached from below and from above",
        ["level, W", "device minus reference, % of reference"],
        vec![
            words::points(Ink::UnderTest, "from below", side(|p| p.up_pct)),
            words::points(Ink::Fit, "from above", side(|p| p.down_pct)),
        ],
        format!(
            "{} levels; drift in time {}",
            pairs.len(),
            if drift_taken_out {
                "taken out"
            } else {
                "not taken out"
            }
        ),
    )];
    let result = Hysteresis {
        up_minus_down_pct,
        interval_pct,
        claimed,
        drift_taken_out,
        pairs,
    };
    Ok(Tested {
        result,
        sentence,
        plots,
    })
}

/// Levels with visits from both sides, in the same gear and at the same cadence, with the
/// standard uncertainty of their difference.
fn pairs(visits: &[VisitMean]) -> Vec<(HysteresisPair, f64)> {
    let mut from_below: Vec<&VisitMean> = Vec::new();
    let mut from_above: Vec<&VisitMean> = Vec::new();
    for pair in visits.windows(2) {
        let (before, now) = (&pair[0], &pair[1]);
        if !same_motion(before, now) || same_level(before.level_w, now.level_w) {
            continue;
        }
        if before.level_w < now.level_w {
            from_below.push(now);
        } else {
            from_above.push(now);
        }
    }
    let mut levels: Vec<f64> = Vec::new();
    for visit in &from_below {
        if !levels.iter().any(|level| same_level(*level, visit.level_w)) {
            levels.push(visit.level_w);
        }
    }
    levels.sort_by(f64::total_cmp);
    levels
        .into_iter()
        .filter_map(|level_w| {
            let (up, up_u, up_s) = side(&from_below, level_w)?;
            let (down, down_u, down_s) = side(&from_above, level_w)?;
            Some((
                HysteresisPair {
                    level_w,
                    up_pct: up,
                    down_pct: down,
                    minutes_between: (down_s - up_s) / 60.0,
                },
                up_u.hypot(down_u),
            ))
        })
        .collect()
}

/// Mean difference, its uncertainty and the middle time of the visits of one level.
fn side(visits: &[&VisitMean], level_w: f64) -> Option<(f64, f64, f64)> {
    let here: Vec<&&VisitMean> = visits
        .iter()
        .filter(|visit| same_level(visit.level_w, level_w))
        .collect();
    let n = here.len() as f64;
    let times: Vec<f64> = here.iter().map(|visit| visit.middle_s).collect();
    let middle_s = median(&times)?;
    let error = here.iter().map(|visit| visit.error_pct).sum::<f64>() / n;
    let u = here
        .iter()
        .map(|visit| visit.u_pct.powi(2))
        .sum::<f64>()
        .sqrt()
        / n;
    Some((error, u, middle_s))
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session, TestWindow};
    use super::*;
    use crate::evidence::Feeds;

    fn up_and_down(seed: u64, hysteresis_pct: f64, drift_pct_per_h: f64) -> Session {
        let mut noise = Noise::new(seed);
        let mut session = Session::empty();
        let levels = [
            50.0, 100.0, 150.0, 200.0, 250.0, 300.0, 250.0, 200.0, 150.0, 100.0, 50.0,
        ];
        let mut t = 0.0;
        for (place, level_w) in levels.into_iter().enumerate() {
            let step = session.step(Feeds::Steady, t, t + 180.0, level_w);
            let from_below = if place < 6 { 0.5 } else { -0.5 };
            for window in 0..5 {
                let error = 1.0
                    + hysteresis_pct * from_below
                    + drift_pct_per_h * t / 3600.0
                    + 0.4 * noise.normal();
                session.window(TestWindow {
                    from_s: t + 30.0 * f64::from(window),
                    step,
                    level_w,
                    reference_w: level_w,
                    under_test_w: level_w * (1.0 + error / 100.0),
                    cadence_rpm: 90.0,
                    speed_kmh: 33.0,
                    u_pct: 0.4,
                });
            }
            t += 180.0;
        }
        session
    }

    #[test]
    fn hysteresis_is_found_beside_a_drift() {
        let (mut covered, mut claimed) = (0, 0);
        for seed in 0..60 {
            let found = hysteresis(&up_and_down(seed, 2.5, -2.0).given())
                .unwrap()
                .result;
            assert!(found.drift_taken_out);
            claimed += usize::from(found.claimed);
            covered += usize::from(!excludes(found.interval_pct, 2.5));
        }
        assert!(covered >= 53 && claimed >= 55, "{covered}, {claimed} of 60");
    }

    #[test]
    fn a_drift_alone_is_not_hysteresis() {
        let claims = (100..160)
            .filter(|&seed| {
                hysteresis(&up_and_down(seed, 0.0, -2.0).given())
                    .unwrap()
                    .result
                    .claimed
            })
            .count();
        assert!(claims <= 7, "{claims} of 60");
    }

    #[test]
    fn only_upward_is_not_tested() {
        let mut session = up_and_down(1, 1.0, 0.0);
        session.windows.truncate(30);
        assert!(hysteresis(&session.given()).is_err());
        assert!(hysteresis(&Session::empty().given()).is_err());
    }
}
