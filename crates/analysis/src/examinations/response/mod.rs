//! Response to target changes, as an ensemble over repeats, on the reference and on the device's
//! own word.

mod ensemble;
mod plot;
mod shape;

use super::bins::Paired;
use super::prepared::Prepared;
use super::targets::{TargetChange, Targets};
use super::words;
use crate::outcome::{Estimate, Outcome, Tested, not_tested};
use crate::stats::intervals::mean_of_repeats;
use ensemble::{BEFORE_S, Ensemble, LEAST_REPEATS, LONGEST_S, mean_size};
use plot::plot_of;
pub use shape::StepShape;

/// Name of the examination.
pub const NAME: &str = "response to target changes";

/// Responses, grouped by size and direction.
#[derive(Clone, Debug, PartialEq)]
pub struct Response {
    /// One entry per size and direction, upward changes first, small before large.
    pub groups: Vec<ResponseGroup>,
    /// Changes that were not used, with the reason.
    pub discarded: Vec<(f64, String)>,
}

/// The response to one kind of change.
#[derive(Clone, Debug, PartialEq)]
pub struct ResponseGroup {
    /// Size of the change of the target, W; negative downward.
    pub change_w: f64,
    /// Repeats used.
    pub repeats: usize,
    /// Time from sending to confirmation, s, where confirmed.
    pub confirmation_s: Option<Estimate>,
    /// On the reference: what really happened.
    pub on_reference: StepShape,
    /// On the device's own word, on its own arrival times.
    pub on_device: StepShape,
}

/// The new target must have been held this long, s.
const SHORTEST_S: f64 = 15.0;
/// The target before must have been held this long, s.
const LEAST_HELD_S: f64 = 8.0;
/// Smallest change of target that is examined, W.
const LEAST_CHANGE_W: f64 = 20.0;
/// Changes of target are grouped to this, W.
const GROUP_W: f64 = 10.0;

/// Examines the response to changes of the target power.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn response(given: &Prepared<'_>) -> Outcome<Response> {
    let paired = Paired::new(given, NAME)?;
    let under_test = given.under_test(NAME)?;
    let reference = given.reference(NAME)?;
    let removed_s = under_test.facts.removed_shift_s;
    let mut discarded = Vec::new();
    let mut usable: Vec<TargetChange> = Vec::new();
    for mut change in Targets::new(&given.evidence.commands).changes() {
        if change.size_w().abs() < LEAST_CHANGE_W {
            continue;
        }
        change.until_s = change.until_s.min(change.at_s + LONGEST_S);
        match reason_against(&paired, &change) {
            Some(reason) => discarded.push((change.at_s, reason)),
            None => usable.push(change),
        }
    }
    usable.sort_by(|a, b| {
        order(a)
            .total_cmp(&order(b))
            .then(a.at_s.total_cmp(&b.at_s))
    });
    let groups: Vec<&[TargetChange]> = usable
        .chunk_by(|a, b| group(a) == group(b))
        .filter(|group| group.len() >= LEAST_REPEATS)
        .collect();
    if groups.is_empty() {
        return not_tested(
            NAME,
            format!(
                "{} usable changes of target, never {LEAST_REPEATS} alike; ride at least six up \
                 and six down of one size, each held for 20 seconds or more",
                usable.len()
            ),
        );
    }
    let mut found = Vec::new();
    let mut plots = Vec::new();
    for group in groups {
        let on_reference = Ensemble::new(&reference.stream.power_w, 0.0, group);
        let on_device = Ensemble::new(&under_test.stream.power_w, removed_s, group);
        let (Some(on_reference), Some(on_device)) = (on_reference, on_device) else {
            continue;
        };
        plots.push(plot_of(group, &on_reference, &on_device));
        let confirmations: Vec<f64> = group
            .iter()
            .filter_map(|c| Some(c.confirmed_s? - c.at_s))
            .collect();
        found.push(ResponseGroup {
            change_w: mean_size(group),
            repeats: on_reference.rows.len(),
            confirmation_s: mean_of_repeats(&confirmations),
            on_reference: on_reference.shape(),
            on_device: on_device.shape(),
        });
    }
    if found.is_empty() {
        return not_tested(
            NAME,
            "the reference did not follow any change of target; check that the device was in \
             power mode",
        );
    }
    let sentence = sentence(&found);
    Ok(Tested {
        result: Response {
            groups: found,
            discarded,
        },
        sentence,
        plots,
    })
}

/// Upward before downward, small before large.
fn order(change: &TargetChange) -> f64 {
    let size = group(change) as f64;
    if size > 0.0 { size } else { 1e6 - size }
}

fn group(change: &TargetChange) -> i64 {
    (change.size_w() / GROUP_W).round() as i64
}

fn reason_against(paired: &Paired, change: &TargetChange) -> Option<String> {
    if change.held_s < LEAST_HELD_S {
        return Some(format!(
            "the target before was held for only {:.0} s",
            change.held_s
        ));
    }
    if change.until_s - change.at_s < SHORTEST_S {
        let held = change.until_s - change.at_s;
        return Some(format!("the new target was held for only {held:.0} s"));
    }
    let (from_s, to_s) = (change.at_s - BEFORE_S, change.until_s);
    if !paired.is_free(from_s, to_s) {
        return Some("a drop-out or an excluded span touches it".into());
    }
    if paired.reference.mean(from_s, to_s, 0.9).is_none() {
        return Some("the reference has gaps".into());
    }
    if paired.under_test.mean(from_s, to_s, 0.9).is_none() {
        return Some("the device has gaps".into());
    }
    None
}

fn sentence(groups: &[ResponseGroup]) -> String {
    let parts: Vec<String> = groups
        .iter()
        .map(|group| {
            let rise = group.on_reference.rise_s.map_or(
                "not resolved: the power was not steady before the command, or did not arrive"
                    .to_owned(),
                |rise| {
                    format!(
                        "10 to 90 % in {} s (u {} s)",
                        words::plain(rise.value, 1),
                        words::plain(rise.u, 1)
                    )
                },
            );
            let dead = group
                .on_reference
                .dead_time_s
                .map_or(String::new(), |dead| {
                    format!(" after {} s of dead time", words::plain(dead.value, 1))
                });
            format!(
                "{} W: {rise}{dead}, {} repeats",
                words::signed(group.change_w, 0),
                group.repeats
            )
        })
        .collect();
    format!(
        "Response seen by the reference, its own delay included – {}.",
        parts.join("; ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Load;
    use crate::examinations::synthetic::{Noise, Session};
    use crate::stats::intervals::{excludes, interval_95};
    use units::Series;

    /// Steps of 100 W every 40 s at random phase, followed by a first-order lag with dead time.
    fn steps(seed: u64, dead: f64, tau: f64, overshoot: f64, noise_w: f64) -> Session {
        let mut noise = Noise::new(seed);
        let commands: Vec<f64> = (0..24)
            .map(|i| 40.0 * f64::from(i) + 5.0 + noise.uniform())
            .collect();
        let wave = |age: f64| {
            if age <= dead {
                return 0.0;
            }
            let x = (age - dead) / tau;
            1.0 - (-x).exp() * (1.0 - overshoot * x)
        };
        let truth = |t: f64| {
            let done = commands.iter().filter(|c| **c <= t).count();
            if done == 0 {
                return 150.0;
            }
            let (before, after) = if done % 2 == 1 {
                (150.0, 250.0)
            } else {
                (250.0, 150.0)
            };
            before + (after - before) * wave(t - commands[done - 1])
        };
        let mut session = Session::pair(
            965,
            |t| {
                (
                    truth(t) + noise_w * noise.normal(),
                    truth(t) + noise_w * noise.normal(),
                )
            },
            Session::usual_motion,
        );
        session.command(0.0, Load::PowerW(150.0));
        for (i, at) in commands.iter().enumerate() {
            session.command(*at, Load::PowerW(if i % 2 == 0 { 250.0 } else { 150.0 }));
        }
        session
    }

    #[test]
    fn dead_time_and_rise_are_found() {
        let (mut rises, mut deads) = (0, 0);
        for seed in 0..30 {
            let found = response(&steps(seed, 0.8, 1.5, 0.0, 3.0).given())
                .unwrap()
                .result;
            assert_eq!(found.groups.len(), 2);
            let up = &found.groups[0];
            assert!(up.repeats >= 11 && up.change_w == 100.0);
            let rise = up.on_reference.rise_s.unwrap();
            let dead = up.on_reference.dead_time_s.unwrap();
            assert!((rise.value - 1.5 * 9f64.ln()).abs() < 0.9, "{rise:?}");
            assert!((dead.value - 0.8).abs() < 0.5, "{dead:?}");
            rises += usize::from(!excludes(interval_95(rise), 1.5 * 9f64.ln()));
            deads += usize::from(!excludes(interval_95(dead), 0.8));
            let settle = up.on_reference.settle_5_s.unwrap();
            assert!(
                (settle.value - 0.8 - 1.5 * 20f64.ln()).abs() < 2.5,
                "{settle:?}"
            );
            let work = up.on_reference.work_error_kj.unwrap();
            assert!((work.value + 0.1 * (0.8 + 1.5)).abs() < 0.05, "{work:?}");
        }
        assert!(rises >= 25 && deads >= 25, "{rises} {deads} of 30");
    }

    #[test]
    fn overshoot_is_found_and_not_made_up() {
        // 1 − e^(−x)(1 − 1.5·x) is highest at x = 1 + 1/1.5.
        let x = 1.0 + 1.0 / 1.5;
        let truth = 100.0 * (-f64::exp(-x) * (1.0 - 1.5 * x));
        for seed in 0..10 {
            let found = response(&steps(seed, 0.5, 3.0, 1.5, 2.0).given())
                .unwrap()
                .result;
            let over = found.groups[0].on_reference.overshoot_pct.unwrap();
            assert!(
                (over.value - truth).abs() < 4.0 * over.u + 2.0,
                "{over:?} against {truth}"
            );
            let found = response(&steps(seed, 0.5, 1.0, 0.0, 3.0).given())
                .unwrap()
                .result;
            let none = found.groups[0].on_reference.overshoot_pct.unwrap();
            assert!(none.value < 3.0 * none.u + 0.5, "{none:?}");
        }
    }

    #[test]
    fn noise_hides_settling_instead_of_inventing_it() {
        let found = response(&steps(4, 0.5, 1.0, 0.0, 25.0).given())
            .unwrap()
            .result;
        assert_eq!(found.groups[0].on_reference.settle_2_s, None);
    }

    #[test]
    fn too_few_or_too_short_steps_are_not_tested() {
        assert!(response(&Session::empty().given()).is_err());
        let mut session = steps(1, 0.5, 1.0, 0.0, 1.0);
        session.evidence.commands.truncate(4);
        assert!(
            response(&session.given())
                .unwrap_err()
                .reason
                .contains("alike")
        );
        let flat = {
            let mut session = steps(1, 0.5, 1.0, 0.0, 1.0);
            for stream in &mut session.evidence.streams {
                let pairs: Vec<_> = stream
                    .power_w
                    .times()
                    .iter()
                    .map(|t| (t.as_secs_f64(), 200.0))
                    .collect();
                stream.power_w = Series::from_pairs(pairs, Series::DEFAULT_HOLD).unwrap();
            }
            session
        };
        assert!(
            response(&flat.given())
                .unwrap_err()
                .reason
                .contains("did not follow")
        );
    }
}
