//! Curves of several sessions over each other, and their difference from the first, as plots.
//!
//! Power is drawn second by second, unsmoothed. The difference of device and reference is drawn as
//! means of ten seconds, the same window for both streams and for all sessions, because a single
//! second of it says nothing. Gaps stay gaps, and seconds of a drop-out are not averaged in.

use super::along::{Along, LaidStep, Second, by_clock, by_step};
use super::conditions::treatment_of;
use super::sides::Side;
use crate::findings::Treatment;
use crate::outcome::{Ink, Layer, NotTested, Plot};
use units::Timestamp;

/// Length of the means that differences are drawn as, s.
const BIN_S: i64 = 10;
/// Seconds of it that must be there for both instruments.
const LEAST_S: usize = 8;
/// Mean power of the reference below which a percentage says nothing, W.
const LEAST_W: f64 = 30.0;
/// Most sessions that have a line of their own; more are drawn as one bundle behind the first.
const MOST_LINES: usize = 3;

/// Sessions laid over each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Overlay {
    /// How.
    pub along: Along,
    /// The steps on the common axis; empty by the clock.
    pub steps: Vec<LaidStep>,
    /// Power of the device, power of the reference, their difference, and for each further session
    /// its difference less that of the first.
    pub plots: Vec<Plot>,
}

/// Lays the sessions over each other.
///
/// # Errors
/// [`NotTested`] where they did not ride the same steps, if they are laid by step.
pub(super) fn overlay(sides: &[Side<'_>], along: Along) -> Result<Overlay, NotTested> {
    let (seconds, steps) = match along {
        Along::Step => by_step(sides)?,
        Along::Clock => (by_clock(sides), Vec::new()),
    };
    let axis = match along {
        Along::Step => "time along the script, min",
        Along::Clock => "time of the session, min",
    };
    let power = |name, title: &str, of: &dyn Fn(&Second) -> Option<f64>| Plot {
        name,
        title: title.to_owned(),
        x: axis.into(),
        y: "power, W".into(),
        layers: lines(
            seconds
                .iter()
                .map(|side| runs(side.iter().map(|second| (second.at_s, of(second))), 1)),
        ),
        caption: format!("seconds as recorded, {}", along.words()),
    };
    let differences: Vec<Vec<(i64, f64)>> = sides
        .iter()
        .zip(&seconds)
        .map(|(side, seconds)| difference(side, treatment_of(side, treatment(sides)), seconds))
        .collect();
    let words = treatment(sides).words();
    let mut plots = vec![
        power("overlay-device", "Power of the device", &|s| s.under_test_w),
        power("overlay-reference", "Power of the reference", &|s| {
            s.reference_w
        }),
        Plot {
            name: "overlay-difference",
            title: "Difference of device and reference".into(),
            x: axis.into(),
            y: "device − reference, % of reference".into(),
            layers: [zero()]
                .into_iter()
                .chain(lines(differences.iter().map(|bins| {
                    runs(bins.iter().map(|(bin, pct)| (*bin, Some(*pct))), BIN_S)
                })))
                .collect(),
            caption: format!(
                "means of {BIN_S} s without drop-outs, {words}, {}",
                along.words()
            ),
        },
    ];
    for index in 1..sides.len() {
        plots.push(from_first(&differences, index, axis, along));
    }
    Ok(Overlay {
        along,
        steps,
        plots,
    })
}

fn treatment(sides: &[Side<'_>]) -> Treatment {
    sides[0].findings.overall.treatment
}

/// Names of the plots of each session's difference less that of the first.
const FROM_FIRST: [&str; 11] = [
    "change-along-2",
    "change-along-3",
    "change-along-4",
    "change-along-5",
    "change-along-6",
    "change-along-7",
    "change-along-8",
    "change-along-9",
    "change-along-10",
    "change-along-11",
    "change-along-12",
];

/// The difference of a session less that of the first.
fn from_first(all: &[Vec<(i64, f64)>], index: usize, axis: &str, along: Along) -> Plot {
    let first = &all[0];
    let changed = all[index].iter().filter_map(|(bin, pct)| {
        let place = first.binary_search_by_key(bin, |(at, _)| *at).ok()?;
        Some((*bin, Some(pct - first[place].1)))
    });
    Plot {
        name: FROM_FIRST[(index - 1).min(FROM_FIRST.len() - 1)],
        title: format!("Session {} less session 1", index + 1),
        x: axis.into(),
        y: "change of the difference, % of reference".into(),
        layers: vec![
            zero(),
            Layer::Line {
                ink: Ink::UnderTest,
                label: format!("session {} − session 1", index + 1),
                runs: runs(changed, BIN_S),
            },
        ],
        caption: format!("means of {BIN_S} s without drop-outs, {}", along.words()),
    }
}

fn zero() -> Layer {
    Layer::Level {
        ink: Ink::Fit,
        label: String::new(),
        at: 0.0,
    }
}

/// Difference in percent over bins of the common axis, in order: (beginning of the bin, s; %).
fn difference(side: &Side<'_>, treatment: Treatment, seconds: &[Second]) -> Vec<(i64, f64)> {
    let mut bins: Vec<(i64, f64)> = Vec::new();
    for bin in seconds.chunk_by(|a, b| a.at_s.div_euclid(BIN_S) == b.at_s.div_euclid(BIN_S)) {
        let both: Vec<(f64, f64)> = bin
            .iter()
            .filter(|second| !drops_out(side, second.clock_s))
            .filter_map(|second| second.under_test_w.zip(second.reference_w))
            .collect();
        let n = both.len();
        let device_w = both.iter().map(|(device, _)| device).sum::<f64>() / n.max(1) as f64;
        let indicated_w = both.iter().map(|(_, r)| r).sum::<f64>() / n.max(1) as f64;
        if n < LEAST_S || indicated_w < LEAST_W {
            continue;
        }
        let reference_w = indicated_w
            * match treatment {
                Treatment::AsIndicated => 1.0,
                Treatment::HubReferred => side.settings.drivetrain.share_at_hub(indicated_w),
            };
        let at_s = bin[0].at_s.div_euclid(BIN_S) * BIN_S;
        bins.push((at_s, 100.0 * (device_w / reference_w - 1.0)));
    }
    bins
}

/// Whether a second of the session's clock touches a drop-out.
fn drops_out(side: &Side<'_>, clock_s: i64) -> bool {
    let (from, to) = (
        Timestamp::from_secs(clock_s),
        Timestamp::from_secs(clock_s + 1),
    );
    let dropouts = &side.findings.dropouts;
    dropouts.iter().any(|it| it.from < to && from < it.to)
}

/// Unbroken runs in minutes: values that follow each other by `apart_s`, a value standing for the
/// middle of its seconds.
fn runs(values: impl Iterator<Item = (i64, Option<f64>)>, apart_s: i64) -> Vec<Vec<[f64; 2]>> {
    let mut runs: Vec<Vec<[f64; 2]>> = Vec::new();
    let mut next_s = None;
    for (at_s, value) in values {
        let Some(value) = value else { continue };
        let point = [(at_s as f64 + 0.5 * apart_s as f64) / 60.0, value];
        match runs.last_mut().filter(|_| next_s == Some(at_s)) {
            Some(run) => run.push(point),
            None => runs.push(vec![point]),
        }
        next_s = Some(at_s + apart_s);
    }
    runs
}

/// A layer for each session; of many, one for the first and one for all others behind it.
fn lines(sessions: impl Iterator<Item = Vec<Vec<[f64; 2]>>>) -> Vec<Layer> {
    let sessions: Vec<Vec<Vec<[f64; 2]>>> = sessions.collect();
    let line = |ink, label: String, runs| Layer::Line { ink, label, runs };
    if sessions.len() <= MOST_LINES {
        // The first is drawn last, so that it lies over the others.
        let mut layers: Vec<Layer> = sessions
            .into_iter()
            .enumerate()
            .map(|(index, runs)| line(ink(index), format!("session {}", index + 1), runs))
            .collect();
        layers.rotate_left(1);
        return layers;
    }
    let last = sessions.len();
    let mut sessions = sessions.into_iter();
    let first = sessions.next().unwrap_or_default();
    vec![
        line(
            Ink::UnderTest,
            format!("sessions 2 to {last}"),
            sessions.flatten().collect(),
        ),
        line(Ink::Reference, "session 1".to_owned(), first),
    ]
}

/// The ink of a session: the first in that of what others are compared with.
pub(super) fn ink(index: usize) -> Ink {
    match index {
        0 => Ink::Reference,
        index if index % 2 == 1 => Ink::UnderTest,
        _ => Ink::SecondReference,
    }
}

#[cfg(test)]
mod tests {
    use super::super::samples::{Sample, sides};
    use super::*;
    use crate::findings::PairedTraces;

    fn riding(error: f64, gap: std::ops::Range<usize>) -> Sample {
        let there = |s: usize| !gap.contains(&s);
        // What the reference must read for 200 W at the hub: the usual loss is (1 W + 2 %) or 2.5 %.
        let reference = |s: usize| there(s).then_some(200.0);
        let at_hub = 200.0 * 0.975;
        let device = |s: usize| there(s).then_some(at_hub * (1.0 + error / 100.0));
        Sample {
            traces: PairedTraces {
                from_s: 0,
                under_test_w: (0..120).map(device).collect(),
                reference_w: (0..120).map(reference).collect(),
                cadence_rpm: vec![None; 120],
                speed_kmh: vec![None; 120],
            },
            steps: vec![("hold", 200.0, 0, 120)],
            ..Sample::default()
        }
    }

    fn line<'a>(plots: &'a [Plot], name: &str, label: &str) -> &'a Vec<Vec<[f64; 2]>> {
        let plot = plots.iter().find(|plot| plot.name == name).unwrap();
        let found = plot.layers.iter().find_map(|layer| match layer {
            Layer::Line {
                label: own, runs, ..
            } if own == label => Some(runs),
            _ => None,
        });
        found.unwrap()
    }

    #[test]
    fn differences_and_their_change_keep_gaps() {
        let both = sides(&[riding(1.0, 0..0), riding(2.5, 40..60)]);
        for along in [Along::Step, Along::Clock] {
            let overlay = overlay(&both, along).unwrap();
            let own = line(&overlay.plots, "overlay-difference", "session 2");
            assert_eq!(own.iter().map(Vec::len).collect::<Vec<_>>(), [4, 6]);
            let changed = line(&overlay.plots, "change-along-2", "session 2 − session 1");
            assert_eq!(changed.iter().map(Vec::len).sum::<usize>(), 10);
            for [_, change] in changed.iter().flatten() {
                assert!((change - 1.5).abs() < 1e-9, "{change}");
            }
            let power = line(&overlay.plots, "overlay-device", "session 2");
            assert_eq!(power.iter().map(Vec::len).collect::<Vec<_>>(), [40, 60]);
        }
    }

    #[test]
    fn many_sessions_are_a_bundle_and_each_has_its_change() {
        let many: Vec<Sample> = (0..12).map(|i| riding(f64::from(i), 0..0)).collect();
        let overlay = overlay(&sides(&many), Along::Step).unwrap();
        assert_eq!(overlay.plots.len(), 3 + 11);
        let mut names: Vec<&str> = overlay.plots.iter().map(|plot| plot.name).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), 14);
        assert_eq!(
            line(&overlay.plots, "overlay-device", "sessions 2 to 12").len(),
            11
        );
    }
}
