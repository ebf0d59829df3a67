//! Response to target changes, as an ensemble over repeats, on the reference and on the device's
//! own word.

use super::bins::Paired;
use super::integral::usual_interval_s;
use super::prepared::Prepared;
use super::targets::{TargetChange, Targets};
use super::{not_tested, words};
use crate::outcome::{Estimate, Ink, Layer, Outcome, Plot, Tested};
use crate::stats::intervals::mean_of_repeats;
use crate::stats::order::exceeds;
use crate::stats::order::quantile_of_sorted;
use crate::stats::step_shape::StepResponse;
use crate::stats::two_samples::Summary;
use units::{Series, Timestamp};

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

/// The shape of a step response. Times from the sending of the command; sizes in % of the change.
///
/// A size that the noise of the ensemble hides is absent, not guessed; all are where the power was
/// still ringing from the change before.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct StepShape {
    /// Dead time, from the two-point fit of a first-order lag with delay, s.
    pub dead_time_s: Option<Estimate>,
    /// From 10 % to 90 % of the change, s.
    pub rise_s: Option<Estimate>,
    /// Beyond the final value, % of the change.
    pub overshoot_pct: Option<Estimate>,
    /// Within ±5 % of the change for good, s.
    pub settle_5_s: Option<Estimate>,
    /// Within ±2 % of the change for good, s.
    pub settle_2_s: Option<Estimate>,
    /// Work missing (negative) or surplus against an immediate change, kJ.
    pub work_error_kj: Option<Estimate>,
    /// Standard uncertainty of the ensemble at one moment, % of the change.
    pub noise_pct: f64,
}

/// Grid of the ensemble, s. Steps at random phase to one-second reports average to this.
const GRID_S: f64 = 0.25;
/// What is looked at around the command, s.
const BEFORE_S: f64 = 6.0;
const LONGEST_S: f64 = 40.0;
const SHORTEST_S: f64 = 15.0;
/// The target before must have been held this long, s.
const LEAST_HELD_S: f64 = 8.0;
/// Smallest change of target that is examined, W.
const LEAST_CHANGE_W: f64 = 20.0;
/// Changes of target are grouped to this, W.
const GROUP_W: f64 = 10.0;
/// Fewest repeats: one step says nothing, three begin to.
const LEAST_REPEATS: usize = 3;
/// Before the command the ensemble may vary by this share of the change; beyond it, the passage of
/// 10 % means nothing.
const MOST_UNSTEADY: f64 = 0.15;
/// Samples further apart than this are not joined, s.
const JOIN_S: f64 = 2.6;

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

fn mean_size(group: &[TargetChange]) -> f64 {
    group.iter().map(TargetChange::size_w).sum::<f64>() / group.len() as f64
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

/// Repeats of one change on a common grid from before the command to the shortest end.
struct Ensemble {
    /// Times of the grid; zero is the sending of the command.
    t: Vec<f64>,
    /// One row per repeat, scaled so that the mean before is zero and the mean at the end one.
    rows: Vec<Vec<f64>>,
    /// Grid index of the command.
    command: usize,
    /// Size of the change as this instrument saw it, W.
    size_w: f64,
    /// Standard deviation between repeats once settled, as a share of the change.
    scatter: f64,
    /// Standard uncertainty of every moment, s: straight lines between reports blur an edge by
    /// a triangle, whose effect on a time is of this size.
    grain_s: f64,
}

impl Ensemble {
    /// `None` where the instrument saw no change in the direction of the target.
    fn new(series: &Series, late_s: f64, group: &[TargetChange]) -> Option<Self> {
        let end_s = group
            .iter()
            .map(|c| c.until_s - c.at_s)
            .fold(LONGEST_S, f64::min);
        let command = (BEFORE_S / GRID_S) as usize;
        let count = command + (end_s / GRID_S) as usize;
        let t: Vec<f64> = (0..count).map(|i| i as f64 * GRID_S - BEFORE_S).collect();
        let raw: Vec<Vec<f64>> = group
            .iter()
            .filter_map(|change| {
                let mut cursor = Cursor::new(series, change.at_s - BEFORE_S - late_s);
                t.iter()
                    .map(|t| cursor.at(change.at_s + t - late_s))
                    .collect()
            })
            .collect();
        if raw.len() < LEAST_REPEATS {
            return None;
        }
        let last = count - (count - command) / 3;
        let over = |from: usize, to: usize| {
            let n = (raw.len() * (to - from)) as f64;
            raw.iter().flat_map(|row| &row[from..to]).sum::<f64>() / n
        };
        let (initial, size_w) = {
            // The last report before the command may already reach into the change.
            let initial = over(0, command.saturating_sub(2));
            (initial, over(last, count) - initial)
        };
        let wanted = mean_size(group);
        if !exceeds(size_w / wanted, 0.3) {
            return None;
        }
        let rows: Vec<Vec<f64>> = raw
            .iter()
            .map(|row| row.iter().map(|value| (value - initial) / size_w).collect())
            .collect();
        let scatter = {
            let columns = (last..count).step_by(4).filter_map(|i| {
                let column: Vec<f64> = rows.iter().map(|row| row[i]).collect();
                Summary::of(&column).map(|s| s.variance)
            });
            let variances: Vec<f64> = columns.collect();
            (variances.iter().sum::<f64>() / variances.len().max(1) as f64).sqrt()
        };
        let grain_s = usual_interval_s(series).unwrap_or(1.0) / 24f64.sqrt();
        Some(Self {
            t,
            rows,
            command,
            size_w,
            scatter,
            grain_s,
        })
    }

    /// Mean of the repeats from the command on, and the means with one repeat left out.
    fn means(&self) -> (Vec<f64>, Vec<Vec<f64>>) {
        let n = self.rows.len() as f64;
        let mut sums = vec![0.0; self.t.len() - self.command];
        for row in &self.rows {
            for (sum, value) in sums.iter_mut().zip(&row[self.command..]) {
                *sum += value;
            }
        }
        let without = self
            .rows
            .iter()
            .map(|row| {
                let rest = sums.iter().zip(&row[self.command..]);
                rest.map(|(sum, value)| (sum - value) / (n - 1.0)).collect()
            })
            .collect();
        (sums.iter().map(|sum| sum / n).collect(), without)
    }

    fn after(&self) -> &[f64] {
        &self.t[self.command..]
    }

    fn shape(&self) -> StepShape {
        let n = self.rows.len() as f64;
        let noise = self.scatter / n.sqrt();
        let noise_pct = 100.0 * noise;
        let (all, without) = self.means();
        let t = self.after();
        let measure = |f: &dyn Fn(&StepResponse<'_>) -> Option<f64>| {
            let value = f(&StepResponse { t, y: &all })?;
            let each: Vec<f64> = without
                .iter()
                .map(|y| f(&StepResponse { t, y }))
                .collect::<Option<_>>()?;
            Some(jackknife(value, &each))
        };
        let time = |f: &dyn Fn(&StepResponse<'_>) -> Option<f64>| {
            measure(f).map(|found| Estimate {
                u: found.u.hypot(self.grain_s),
                ..found
            })
        };
        // A band that the noise of the ensemble fills cannot show settling.
        let settle = |band: f64| {
            (3.0 * noise < band)
                .then(|| time(&|r| r.settling(band)))
                .flatten()
        };
        let size_w = self.size_w;
        if self.unsteady_before() > MOST_UNSTEADY {
            // What rings from the change before, or noise, would be read as the beginning of this one.
            return StepShape {
                noise_pct,
                ..StepShape::default()
            };
        }
        StepShape {
            dead_time_s: time(&|r| Some(r.dead_time_and_lag()?.0)),
            rise_s: time(&|r| r.rise()),
            overshoot_pct: self.overshoot(&without),
            settle_5_s: settle(0.05),
            settle_2_s: settle(0.02),
            work_error_kj: measure(&|r| Some(r.shortfall() * size_w / 1000.0)),
            noise_pct,
        }
    }

    /// Scatter of the ensemble's mean before the command as a share of the change: noise, or an
    /// oscillation that all repeats share.
    fn unsteady_before(&self) -> f64 {
        let n = self.rows.len() as f64;
        let before: Vec<f64> = (0..self.command.saturating_sub(2))
            .map(|i| self.rows.iter().map(|row| row[i]).sum::<f64>() / n)
            .collect();
        Summary::of(&before).map_or(0.0, |s| s.variance.sqrt())
    }

    /// The height of each repeat at the place where the others are highest: the largest of many
    /// noisy values would be too high, a value at a place chosen by others is not.
    fn overshoot(&self, without: &[Vec<f64>]) -> Option<Estimate> {
        let t = self.after();
        let heights: Vec<f64> = self
            .rows
            .iter()
            .zip(without)
            .filter_map(|(row, others)| {
                let reached = others.iter().position(|y| *y >= 0.9)?;
                let wide = (1.0 / GRID_S) as usize;
                let until = others.len().min(reached + (12.0 / GRID_S) as usize);
                let smooth = |y: &[f64], i: usize| {
                    y[i..(i + wide).min(y.len())].iter().sum::<f64>()
                        / (wide.min(y.len() - i)) as f64
                };
                let place = (reached..until)
                    .max_by(|a, b| smooth(others, *a).total_cmp(&smooth(others, *b)))?;
                Some(100.0 * (smooth(&row[self.command..], place) - 1.0))
            })
            .collect();
        if heights.len() < self.rows.len() || t.is_empty() {
            return None;
        }
        let found = mean_of_repeats(&heights)?;
        Some(Estimate {
            value: found.value.max(0.0),
            ..found
        })
    }
}

/// Reads a series by straight lines between neighbouring samples, forward only.
struct Cursor<'a> {
    series: &'a Series,
    index: usize,
}

impl<'a> Cursor<'a> {
    fn new(series: &'a Series, from_s: f64) -> Self {
        let from = Timestamp::from_secs_f64(from_s);
        let index = series
            .times()
            .partition_point(|t| *t <= from)
            .saturating_sub(1);
        Self { series, index }
    }

    fn at(&mut self, at_s: f64) -> Option<f64> {
        let times = self.series.times();
        while times.get(self.index + 1)?.as_secs_f64() <= at_s {
            self.index += 1;
        }
        let (a, b) = (
            times[self.index].as_secs_f64(),
            times[self.index + 1].as_secs_f64(),
        );
        if at_s < a || b - a > JOIN_S {
            return None;
        }
        let values = self.series.values();
        let share = (at_s - a) / (b - a);
        Some(values[self.index] + share * (values[self.index + 1] - values[self.index]))
    }
}

/// Standard uncertainty by leaving out one repeat at a time.
fn jackknife(value: f64, each: &[f64]) -> Estimate {
    let n = each.len() as f64;
    let mean = each.iter().sum::<f64>() / n;
    let spread: f64 = each.iter().map(|x| (x - mean).powi(2)).sum();
    Estimate {
        value,
        u: ((n - 1.0) / n * spread).sqrt(),
        dof: n - 1.0,
    }
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

fn plot_of(group: &[TargetChange], reference: &Ensemble, device: &Ensemble) -> Plot {
    // Per moment the 10, 50 and 90 % of the repeats.
    let curves = |ensemble: &Ensemble| -> [Vec<[f64; 2]>; 3] {
        let mut found: [Vec<[f64; 2]>; 3] = Default::default();
        let mut column = Vec::with_capacity(ensemble.rows.len());
        for (i, t) in ensemble.t.iter().enumerate() {
            column.clear();
            column.extend(ensemble.rows.iter().map(|row| row[i]));
            column.sort_by(f64::total_cmp);
            for (curve, p) in found.iter_mut().zip([0.1, 0.5, 0.9]) {
                curve.extend(quantile_of_sorted(&column, p).map(|y| [*t, 100.0 * y]));
            }
        }
        found
    };
    let [low, middle, high] = curves(reference);
    let [_, device_middle, _] = curves(device);
    let layers = vec![
        words::band(Ink::Tolerance, "±5 % of the change", 95.0, 105.0),
        words::level(Ink::Target, "new target reached", 100.0),
        Layer::Line {
            ink: Ink::Reference,
            label: "reference, 10 and 90 % of repeats".into(),
            runs: vec![low, high],
        },
        words::line(Ink::Reference, "reference, median", middle),
        words::line(Ink::UnderTest, "device's own word, median", device_middle),
    ];
    words::plot(
        "step-response",
        &format!(
            "Response to a change of {} W",
            words::signed(mean_size(group), 0)
        ),
        ["time since the command, s", "share of the change, %"],
        layers,
        format!(
            "{} repeats at random phase; both delays as received",
            reference.rows.len()
        ),
    )
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session};
    use super::*;
    use crate::evidence::Load;
    use crate::stats::intervals::{excludes, interval_95};

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
