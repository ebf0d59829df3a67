//! Short hard efforts: peaks, work over a window closed in flywheel speed, and what remains after.

use super::bins::Paired;
use super::integral::{Integral, secs};
use super::prepared::Prepared;
use super::{not_tested, words};
use crate::evidence::{Feeds, StepSpan};
use crate::outcome::{Estimate, Ink, Outcome, Plot, Tested};
use crate::stats::intervals::{excludes, interval_95, mean_of_repeats};
use units::{Series, Timestamp};

/// Name of the examination.
pub const NAME: &str = "bursts";

/// Lengths over which peaks are compared, s.
pub const PEAK_SECONDS: [f64; 4] = [1.0, 3.0, 5.0, 10.0];

/// All short hard efforts.
#[derive(Clone, Debug, PartialEq)]
pub struct Bursts {
    /// One entry per effort.
    pub efforts: Vec<Effort>,
    /// Ratio of peaks, device over reference, over all efforts, one per length.
    pub ratios: Vec<PeakRatio>,
    /// Ratio of work, device over reference, over windows closed in flywheel speed.
    pub work_ratio: Option<Estimate>,
    /// Time the device keeps showing power after the reference has fallen to nothing, s.
    pub tail_s: Option<Estimate>,
}

/// Ratio of peaks of one length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PeakRatio {
    /// Length, s.
    pub seconds: f64,
    /// Device over reference.
    pub ratio: Estimate,
    /// 95 % interval; absent for a single effort.
    pub interval: Option<[f64; 2]>,
}

/// One effort.
#[derive(Clone, Debug, PartialEq)]
pub struct Effort {
    /// Index of the step.
    pub step: usize,
    /// When the reference rose.
    pub onset: Timestamp,
    /// Peaks, one per length of [`PEAK_SECONDS`] that fits.
    pub peaks: Vec<Peak>,
    /// Work over the closed window.
    pub work: Option<ClosedWork>,
    /// Largest surplus of the device over the reference after the effort, W.
    pub surplus_after_w: f64,
    /// How long the surplus stayed above a tenth of the peak, s.
    pub surplus_s: f64,
    /// Time the device keeps showing power after the reference has fallen to nothing, s.
    pub tail_s: Option<f64>,
    /// How long the device then showed nothing while the reference showed work again, s.
    pub zero_after_s: f64,
}

/// Peak mean power over one length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// Length, s.
    pub seconds: f64,
    /// Reference, W.
    pub reference_w: f64,
    /// Device, W.
    pub under_test_w: f64,
    /// How much later the device's peak is, s.
    pub later_s: f64,
}

/// Work over a window that begins and ends at the same flywheel speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClosedWork {
    /// Beginning.
    pub from: Timestamp,
    /// End.
    pub to: Timestamp,
    /// Speed at both ends, km/h.
    pub speed_kmh: f64,
    /// Reference, kJ.
    pub reference_kj: f64,
    /// Device, kJ.
    pub under_test_kj: f64,
}

/// What is looked at around a step ridden as a burst, s.
const BEFORE_S: f64 = 6.0;
const AFTER_S: f64 = 40.0;
/// Peaks are looked for at this spacing, s.
const SLIDE_S: f64 = 0.25;
/// A burst rises at least this far above what was ridden before, W.
const LEAST_RISE_W: f64 = 100.0;
/// Below this nobody pedals, W.
const NOTHING_W: f64 = 20.0;

/// Examines the short hard efforts.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn bursts(given: &Prepared<'_>) -> Outcome<Bursts> {
    let paired = Paired::new(given, NAME)?;
    let under_test = given.under_test(NAME)?;
    let reference = given.reference(NAME)?;
    let scene = Scene {
        paired: &paired,
        reference: &reference.stream.power_w,
        under_test: &under_test.stream.power_w,
        speed: given.speed(),
        late_s: under_test.facts.removed_lag_s,
    };
    let steps: Vec<(usize, &StepSpan)> = given.steps(Feeds::Burst).collect();
    let efforts: Vec<Effort> = steps
        .iter()
        .filter_map(|(index, step)| {
            let next = given
                .evidence
                .steps
                .get(index + 1)
                .filter(|n| n.feeds == Feeds::Burst);
            let end_s = next.map_or(f64::MAX, |next| secs(next.from) - 1.0);
            scene.effort(*index, step, end_s)
        })
        .collect();
    if efforts.is_empty() {
        return not_tested(
            NAME,
            "no short hard effort with both instruments; ride three to five sprints of 5 to 10 \
             seconds in resistance or slope mode, not in power mode",
        );
    }
    let ratios: Vec<PeakRatio> = PEAK_SECONDS
        .into_iter()
        .filter_map(|seconds| ratio(&efforts, seconds))
        .collect();
    let works: Vec<f64> = efforts
        .iter()
        .filter_map(|effort| effort.work)
        .filter(|work| work.reference_kj > 0.0)
        .map(|work| work.under_test_kj / work.reference_kj)
        .collect();
    let tails: Vec<f64> = efforts.iter().filter_map(|effort| effort.tail_s).collect();
    let result = Bursts {
        work_ratio: mean_of_repeats(&works),
        tail_s: mean_of_repeats(&tails),
        ratios,
        efforts,
    };
    let sentence = sentence(&result);
    let plots = plots(&scene, &result);
    let mut tested = Tested {
        result,
        sentence,
        plots,
    };
    given.mark_as_indicated(&mut tested);
    Ok(tested)
}

/// The streams around the efforts.
struct Scene<'a> {
    paired: &'a Paired<'a>,
    reference: &'a Series,
    under_test: &'a Series,
    speed: Option<&'a Integral>,
    late_s: f64,
}

impl Scene<'_> {
    fn effort(&self, index: usize, step: &StepSpan, end_s: f64) -> Option<Effort> {
        let from_s = secs(step.from) - BEFORE_S;
        let to_s = (secs(step.to) + AFTER_S).min(end_s);
        let search_to_s = (secs(step.to) + 5.0).min(to_s);
        let before_w = self
            .paired
            .reference
            .mean(from_s, from_s + 3.0, 0.8)?
            .max(0.0);
        let (top_s, top_w) = highest(self.paired.reference, from_s, search_to_s, 1.0)?;
        if top_w - before_w < LEAST_RISE_W {
            return None;
        }
        let risen = before_w + 0.3 * (top_w - before_w);
        let onset_s = steps_of(from_s, top_s, SLIDE_S).find(|at_s| {
            self.paired
                .reference
                .mean(*at_s, at_s + 0.5, 0.8)
                .is_some_and(|p| p >= risen)
        })?;
        let peaks = PEAK_SECONDS
            .into_iter()
            .filter_map(|seconds| {
                let (reference_s, reference_w) =
                    highest(self.paired.reference, from_s, search_to_s, seconds)?;
                let (under_test_s, under_test_w) =
                    highest(self.paired.under_test, from_s, search_to_s + 3.0, seconds)?;
                let later_s = under_test_s - reference_s + self.late_s;
                Some(Peak {
                    seconds,
                    reference_w,
                    under_test_w,
                    later_s,
                })
            })
            .collect();
        let after = self.after(top_s, top_w, to_s);
        Some(Effort {
            step: index,
            onset: Timestamp::from_secs_f64(onset_s),
            peaks,
            work: self.closed_work(onset_s, top_s, to_s),
            surplus_after_w: after.surplus_w,
            surplus_s: after.surplus_s,
            tail_s: after.tail_s,
            zero_after_s: after.zero_s,
        })
    }

    /// Work from the onset until the flywheel is as fast as it was at the onset: then what was
    /// stored in it has come out again.
    fn closed_work(&self, onset_s: f64, top_s: f64, to_s: f64) -> Option<ClosedWork> {
        let speed = self.speed?;
        let at = |at_s: f64| speed.mean(at_s - 0.5, at_s + 0.5, 0.8);
        let from_s = onset_s - 1.0;
        let speed_kmh = at(from_s)?;
        let (fast_s, fastest) = steps_of(top_s, to_s, SLIDE_S)
            .filter_map(|at_s| Some((at_s, at(at_s)?)))
            .max_by(|a, b| a.1.total_cmp(&b.1))?;
        if fastest <= speed_kmh {
            return None;
        }
        let end_s = steps_of(fast_s, to_s, SLIDE_S)
            .find(|at_s| at(*at_s).is_some_and(|now| now <= speed_kmh))?;
        let work = |integral: &Integral| {
            let mean = integral.mean(from_s, end_s, 0.95)?;
            Some(mean * (end_s - from_s) / 1000.0)
        };
        Some(ClosedWork {
            from: Timestamp::from_secs_f64(from_s),
            to: Timestamp::from_secs_f64(end_s),
            speed_kmh,
            reference_kj: work(self.paired.reference)?,
            under_test_kj: work(self.paired.under_test)?,
        })
    }

    fn after(&self, top_s: f64, top_w: f64, to_s: f64) -> After {
        let mut after = After::default();
        let mut fallen = false;
        let (mut reference_gone_s, mut under_test_gone_s) = (None, None);
        for at_s in steps_of(top_s, to_s - 1.0, SLIDE_S) {
            let mean = |integral: &Integral| integral.mean(at_s, at_s + 1.0, 0.8);
            let (Some(reference), Some(under_test)) =
                (mean(self.paired.reference), mean(self.paired.under_test))
            else {
                continue;
            };
            fallen |= reference < 0.5 * top_w;
            if !fallen {
                continue;
            }
            let surplus = under_test - reference;
            after.surplus_w = after.surplus_w.max(surplus);
            if surplus > 0.1 * top_w {
                after.surplus_s += SLIDE_S;
            }
            if reference < NOTHING_W && reference_gone_s.is_none() {
                reference_gone_s = Some(at_s);
            }
            if reference_gone_s.is_some() && under_test < NOTHING_W && under_test_gone_s.is_none() {
                under_test_gone_s = Some(at_s);
            }
            if reference > NOTHING_W && under_test <= 0.0 {
                after.zero_s += SLIDE_S;
            }
        }
        after.tail_s = match (reference_gone_s, under_test_gone_s) {
            (Some(reference), Some(under_test)) => Some(under_test - reference + self.late_s),
            _ => None,
        };
        after
    }
}

#[derive(Default)]
struct After {
    surplus_w: f64,
    surplus_s: f64,
    tail_s: Option<f64>,
    zero_s: f64,
}

/// Moments from one to another at even spacing.
fn steps_of(from_s: f64, to_s: f64, by_s: f64) -> impl Iterator<Item = f64> {
    let count = ((to_s - from_s) / by_s).clamp(0.0, 1e6) as usize;
    (0..count).map(move |i| from_s + i as f64 * by_s)
}

/// Beginning and height of the highest mean of one length.
fn highest(integral: &Integral, from_s: f64, to_s: f64, seconds: f64) -> Option<(f64, f64)> {
    steps_of(from_s, to_s - seconds + SLIDE_S, SLIDE_S)
        .filter_map(|at_s| Some((at_s, integral.mean(at_s, at_s + seconds, 0.9)?)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
}

fn ratio(efforts: &[Effort], seconds: f64) -> Option<PeakRatio> {
    let ratios: Vec<f64> = efforts
        .iter()
        .flat_map(|effort| &effort.peaks)
        .filter(|peak| peak.seconds == seconds && peak.reference_w > 0.0)
        .map(|peak| peak.under_test_w / peak.reference_w)
        .collect();
    let ratio = mean_of_repeats(&ratios)?;
    Some(PeakRatio {
        seconds,
        ratio,
        interval: Some(interval_95(ratio)),
    })
}

fn sentence(bursts: &Bursts) -> String {
    let efforts = bursts.efforts.len();
    if bursts.ratios.is_empty() {
        return format!(
            "{efforts} effort was ridden; peaks are listed, but one effort has no uncertainty: \
             ride at least three."
        );
    }
    let parts: Vec<String> = bursts
        .ratios
        .iter()
        .map(|r| {
            let interval = interval_95(r.ratio);
            let shown = if excludes(interval, 1.0) {
                ""
            } else {
                " (not shown to differ)"
            };
            format!(
                "{:.0} s {} %{shown}",
                r.seconds,
                words::signed(100.0 * (r.ratio.value - 1.0), 1)
            )
        })
        .collect();
    let work = bursts.work_ratio.map_or(String::new(), |work| {
        format!(
            "; work until the flywheel is as fast as before {} %",
            words::signed(100.0 * (work.value - 1.0), 1)
        )
    });
    format!(
        "Peaks of {efforts} efforts, device against reference: {}{work}.",
        parts.join(", ")
    )
}

fn plots(scene: &Scene<'_>, bursts: &Bursts) -> Vec<Plot> {
    let hardest = bursts.efforts.iter().max_by(|a, b| {
        let top = |effort: &Effort| effort.peaks.first().map_or(0.0, |peak| peak.reference_w);
        top(a).total_cmp(&top(b))
    });
    let Some(effort) = hardest else {
        return Vec::new();
    };
    let onset_s = secs(effort.onset);
    let (from, to) = (
        Timestamp::from_secs_f64(onset_s - 4.0),
        Timestamp::from_secs_f64(onset_s + 25.0),
    );
    let stepped = |series: &Series| -> Vec<[f64; 2]> {
        let range = series.range(from, to);
        let mut points: Vec<[f64; 2]> = Vec::new();
        for index in range {
            let at_s = secs(series.times()[index]) - onset_s;
            if let Some(&[_, last]) = points.last() {
                points.push([at_s, last]);
            }
            points.push([at_s, series.values()[index]]);
        }
        points
    };
    let cumulative = |integral: &Integral| -> Vec<[f64; 2]> {
        steps_of(onset_s - 1.0, onset_s + 25.0, 0.5)
            .map(|at_s| {
                [
                    at_s - onset_s,
                    integral.over(onset_s - 1.0, at_s)[0] / 1000.0,
                ]
            })
            .collect()
    };
    vec![
        words::plot(
            "burst",
            "Hardest effort, unsmoothed",
            ["time since the onset, s", "power, W"],
            vec![
                words::line(Ink::Reference, "reference", stepped(scene.reference)),
                words::line(Ink::UnderTest, "device", stepped(scene.under_test)),
            ],
            "both on the reference's clock; values held from report to report".into(),
        ),
        words::plot(
            "burst-work",
            "Work since the onset",
            ["time since the onset, s", "work, kJ"],
            vec![
                words::line(
                    Ink::Reference,
                    "reference",
                    cumulative(scene.paired.reference),
                ),
                words::line(
                    Ink::UnderTest,
                    "device",
                    cumulative(scene.paired.under_test),
                ),
            ],
            "peaks differ by what the flywheel stores; work over a closed window does not".into(),
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session, at, stream};
    use super::*;
    use crate::evidence::{Place, Role};

    /// Five sprints of 8 s. The flywheel of `mass_kg` stores what the reference delivers and the
    /// device feels only the brake.
    fn sprints(seed: u64, mass_kg: f64, gain: f64) -> Session {
        let mut noise = Noise::new(seed);
        let mut session = Session::empty();
        let mut reference = stream("reference", Role::PrimaryReference, Place::Crank);
        let mut device = stream("device", Role::UnderTest, Place::Hub);
        let speed = |age: f64| {
            // From 8 to 12 m/s in the sprint, back within 12 s.
            if age < 0.0 {
                8.0
            } else if age < 8.0 {
                8.0 + 4.0 * (0.5 - 0.5 * (std::f64::consts::PI * age / 8.0).cos())
            } else if age < 20.0 {
                8.0 + 4.0 * (0.5 + 0.5 * (std::f64::consts::PI * (age - 8.0) / 12.0).cos())
            } else {
                8.0
            }
        };
        for sample in 0..(5 * 90 * 4) {
            let t = 0.25 * f64::from(sample);
            let age = t % 90.0 - 30.0;
            let v = speed(age);
            let acceleration = (speed(age + 0.05) - speed(age - 0.05)) / 0.1;
            let brake = if (0.0..8.0).contains(&age) {
                600.0
            } else {
                150.0
            };
            let delivered = brake + mass_kg * v * acceleration;
            reference
                .power_w
                .push(at(t), delivered + 5.0 * noise.normal())
                .unwrap();
            device
                .power_w
                .push(at(t), gain * brake + 5.0 * noise.normal())
                .unwrap();
            device
                .speed_kmh
                .push(at(t), 3.6 * v + 0.02 * noise.normal())
                .unwrap();
        }
        session.evidence.streams = vec![device, reference];
        for i in 0..5 {
            let from = 90.0 * f64::from(i) + 30.0;
            session.step(Feeds::Burst, from, from + 8.0, 0.0);
        }
        session
    }

    #[test]
    fn the_flywheel_takes_from_the_peak_and_not_from_the_work() {
        let found = bursts(&sprints(1, 20.0, 1.0).given()).unwrap().result;
        assert_eq!(found.efforts.len(), 5);
        let ratio = found.ratios[0];
        assert!(ratio.ratio.value < 0.9, "{ratio:?}");
        assert!(ratio.interval.unwrap()[1] < 1.0);
        let work = found.work_ratio.unwrap();
        assert!((work.value - 1.0).abs() < 0.02, "{work:?}");
    }

    #[test]
    fn a_device_that_reads_low_reads_low_in_both() {
        let mut covered = 0;
        for seed in 0..20 {
            let found = bursts(&sprints(seed, 0.0, 0.95).given()).unwrap().result;
            let work = found.work_ratio.unwrap();
            covered += usize::from(!excludes(interval_95(work), 0.95));
            assert!((found.ratios[2].ratio.value - 0.95).abs() < 0.02);
        }
        assert!(covered >= 17, "{covered} of 20");
    }

    #[test]
    fn a_true_device_is_not_accused() {
        let claims = (50..80)
            .filter(|&seed| {
                let found = bursts(&sprints(seed, 0.0, 1.0).given()).unwrap().result;
                excludes(found.ratios[2].interval.unwrap(), 1.0)
            })
            .count();
        assert!(claims <= 5, "{claims} of 30");
    }

    #[test]
    fn without_efforts_not_tested() {
        assert!(bursts(&Session::empty().given()).is_err());
        let mut session = Session::pair(100, |_| (200.0, 200.0), Session::usual_motion);
        session.step(Feeds::Burst, 30.0, 38.0, 0.0);
        assert!(bursts(&session.given()).is_err());
    }
}
