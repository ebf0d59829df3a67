//! Assurance of the reference: its zero, its sides, and its independence of the device.

use super::bins::Paired;
use super::given::Source;
use super::integral::secs;
use super::prepared::Prepared;
use super::words;
use crate::evidence::{Place, Role};
use crate::outcome::{Ink, Outcome, Tested};
use crate::stats::two_samples::{Summary, welch};
use std::f64::consts::TAU;
use units::Series;

/// Name of the examination.
pub const NAME: &str = "assurance of the reference";

/// What is known about the reference itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Assurance {
    /// Zero before and after, per stream that has both.
    pub zeros: Vec<ZeroChange>,
    /// Everything that blocks or weakens a verdict.
    pub concerns: Vec<Concern>,
}

/// Change of an instrument's zero.
#[derive(Clone, Debug, PartialEq)]
pub struct ZeroChange {
    /// Name of the stream.
    pub source: String,
    /// Last minus first, N·m.
    pub change_nm: f64,
    /// The same as power at the mean cadence, W.
    pub change_w: f64,
    /// Standard uncertainty to carry, %: half the change at the mean power.
    pub u_pct: f64,
}

/// Something that weakens or blocks a verdict.
#[derive(Clone, Debug, PartialEq)]
pub struct Concern {
    /// What it is.
    pub kind: ConcernKind,
    /// Whether no verdict may be given while it stands.
    pub blocks: bool,
    /// In words with numbers.
    pub words: String,
}

/// Kinds of concern.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ConcernKind {
    /// The zero was not read before and after.
    ZeroNotChecked,
    /// The zero moved by more than the gate.
    ZeroMoved,
    /// One side only, doubled.
    OneSided,
    /// The zero seems to have been set anew during the ride.
    AutomaticZero,
    /// The device seems to be steered by the reference, or to report its values.
    Circular,
}

/// Largest change of zero that needs no word, N·m.
const ZERO_GATE_NM: f64 = 0.3;
/// A zero that changes by more than this between two readings was set anew, N·m.
const SET_ANEW_NM: f64 = 0.15;
/// Share of the device's values that agree with the reference to the watt from which they are
/// taken as copies.
const COPIED_SHARE: f64 = 0.5;
/// Mean error of the reference against the target below which the device may be steered by it, %,
/// while the device's own word is off by at least the second.
const STEERED_PCT: f64 = 0.4;
const OWN_WORD_OFF_PCT: f64 = 1.5;

/// Examines the reference itself: its zero, its sides, and its independence of the device.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) where there is no reference.
pub fn assurance(given: &Prepared<'_>) -> Outcome<Assurance> {
    let reference = given.reference(NAME)?;
    let references: Vec<Source<'_>> = [Role::PrimaryReference, Role::SecondReference]
        .into_iter()
        .flat_map(|role| given.sources(role).collect::<Vec<_>>())
        .collect();
    let mut concerns = Vec::new();
    let mut zeros = Vec::new();
    for source in &references {
        match zero_change(given, source) {
            Some(change) => {
                if change.change_nm.abs() > ZERO_GATE_NM {
                    concerns.push(concern(
                        ConcernKind::ZeroMoved,
                        format!(
                            "the zero of {} moved by {} N·m ({} W)",
                            change.source,
                            words::signed(change.change_nm, 2),
                            words::signed(change.change_w, 1)
                        ),
                    ));
                }
                zeros.push(change);
            }
            None => concerns.push(concern(
                ConcernKind::ZeroNotChecked,
                format!(
                    "the zero of {} was not read before and after the ride",
                    source.stream.name
                ),
            )),
        }
        if source.stream.place == Place::OneSide {
            concerns.push(Concern {
                kind: ConcernKind::OneSided,
                blocks: source.stream.role == Role::PrimaryReference,
                words: format!(
                    "{} measures one side and doubles it; the rider's asymmetry counts twice and \
                     cannot be told from an error of the device",
                    source.stream.name
                ),
            });
        }
        concerns.extend(automatic_zero(given, source));
    }
    if let Ok(under_test) = given.under_test(NAME) {
        concerns.extend(copies(given, &under_test, &reference));
        concerns.extend(steered(given));
    }
    let blocking = concerns.iter().filter(|concern| concern.blocks).count();
    let sentence = if concerns.is_empty() {
        "Nothing speaks against the reference.".to_owned()
    } else {
        let list: Vec<&str> = concerns
            .iter()
            .map(|concern| concern.words.as_str())
            .collect();
        let start = if blocking > 0 {
            "No verdict may rest on this reference: "
        } else {
            ""
        };
        let mut sentence = format!("{start}{}.", list.join("; "));
        if start.is_empty()
            && let Some(first) = sentence.get(..1).map(str::to_uppercase)
        {
            sentence.replace_range(..1, &first);
        }
        sentence
    };
    let readings: Vec<[f64; 2]> = reference
        .stream
        .zero_offsets
        .iter()
        .map(|zero| [secs(zero.at) / 60.0, zero.torque_nm])
        .collect();
    let plots = if readings.is_empty() {
        Vec::new()
    } else {
        vec![words::plot(
            "reference-zero",
            "Zero of the reference",
            ["time, minutes", "zero, N·m"],
            vec![words::points(Ink::Reference, "readings", readings)],
            format!("gate ±{ZERO_GATE_NM} N·m between the first and the last"),
        )]
    };
    Ok(Tested {
        result: Assurance { zeros, concerns },
        sentence,
        plots,
    })
}

fn concern(kind: ConcernKind, words: String) -> Concern {
    Concern {
        kind,
        blocks: false,
        words,
    }
}

fn zero_change(given: &Prepared<'_>, source: &Source<'_>) -> Option<ZeroChange> {
    let zeros = &source.stream.zero_offsets;
    let (first, last) = (zeros.first()?, zeros.last()?);
    if zeros.len() < 2 {
        return None;
    }
    let over = |series: &Series| series.mean_over(first.at.min(last.at), given.evidence.end);
    let rpm = given
        .all_sources()
        .find_map(|other| over(&other.stream.cadence_rpm))
        .map_or(90.0, |mean| mean.value);
    let mean_w = over(&source.stream.power_w).map_or(0.0, |mean| mean.value);
    let change_nm = last.torque_nm - first.torque_nm;
    let change_w = change_nm * rpm * TAU / 60.0;
    Some(ZeroChange {
        source: source.stream.name.clone(),
        change_nm,
        change_w,
        u_pct: if mean_w > 0.0 {
            50.0 * change_w.abs() / mean_w
        } else {
            0.0
        },
    })
}

/// A zero that was set anew during the ride: by its own readings, or because the difference to
/// the device jumped by the same power at every level when the rider coasted.
fn automatic_zero(given: &Prepared<'_>, source: &Source<'_>) -> Option<Concern> {
    let zeros = &source.stream.zero_offsets;
    if zeros.len() >= 3 {
        let jump = zeros
            .windows(2)
            .max_by(|a, b| {
                let size =
                    |w: &[crate::evidence::ZeroOffset]| (w[1].torque_nm - w[0].torque_nm).abs();
                size(a).total_cmp(&size(b))
            })
            .filter(|w| (w[1].torque_nm - w[0].torque_nm).abs() > SET_ANEW_NM)?;
        return Some(concern(
            ConcernKind::AutomaticZero,
            format!(
                "the zero of {} seems to have been set anew at {}, by {} N·m; switch automatic zero \
             off",
                source.stream.name,
                jump[1].at,
                words::signed(jump[1].torque_nm - jump[0].torque_nm, 2)
            ),
        ));
    }
    if source.stream.role != Role::PrimaryReference {
        return None;
    }
    jump_after_coasting(given, source)
}

fn jump_after_coasting(given: &Prepared<'_>, source: &Source<'_>) -> Option<Concern> {
    // Coasting: the reference shows nothing for at least three seconds.
    let power = &source.stream.power_w;
    let mut pauses: Vec<f64> = Vec::new();
    let mut began: Option<f64> = None;
    for (at, watts) in power.iter() {
        let at_s = secs(at);
        if watts > 3.0 {
            if began.is_some_and(|began| at_s - began >= 3.0) {
                pauses.push(at_s);
            }
            began = None;
        } else if began.is_none() {
            began = Some(at_s);
        }
    }
    let difference = |w: &super::given::SteadyWindow| w.under_test_w - w.reference_w;
    for pause_s in pauses {
        let near = |before: bool| -> Vec<f64> {
            given
                .windows
                .iter()
                .filter(|w| {
                    let (from, to) = (secs(w.from), secs(w.to));
                    if before {
                        to <= pause_s && to > pause_s - 400.0
                    } else {
                        from >= pause_s && from < pause_s + 400.0
                    }
                })
                .map(difference)
                .collect()
        };
        let (Some(before), Some(after)) = (Summary::of(&near(true)), Summary::of(&near(false)))
        else {
            continue;
        };
        let Some(jump) = welch(before, after) else {
            continue;
        };
        // Drift and chance move it too; only a clear jump is worth the word.
        if before.n >= 4.0 && after.n >= 4.0 && jump.p() < 1e-4 && jump.value.abs() > 3.0 {
            let at = units::Timestamp::from_secs_f64(pause_s);
            return Some(concern(
                ConcernKind::AutomaticZero,
                format!(
                    "the difference to {} jumped by {} W when the rider had coasted until {at}; its \
                 zero may have been set anew",
                    source.stream.name,
                    words::signed(jump.value, 1)
                ),
            ));
        }
    }
    None
}

/// Values of the device that are the reference's, to the watt, at some delay.
fn copies(
    given: &Prepared<'_>,
    under_test: &Source<'_>,
    reference: &Source<'_>,
) -> Option<Concern> {
    let power = &under_test.stream.power_w;
    let paired = Paired::new(given, NAME).ok()?;
    let every = power.len().div_ceil(300).max(1);
    let samples: Vec<(f64, f64)> = power
        .iter()
        .step_by(every)
        .filter(|(_, watts)| *watts > 50.0)
        .map(|(at, watts)| (secs(at), watts))
        .filter(|(at_s, _)| paired.is_free(at_s - 3.0, at_s + 1.0))
        .collect();
    if samples.len() < 60 {
        return None;
    }
    // Only where the reference moves can an agreement to the watt mean anything.
    let changes: Vec<f64> = reference
        .stream
        .power_w
        .values()
        .windows(2)
        .map(|w| w[1] - w[0])
        .collect();
    let moving = changes.iter().filter(|change| change.abs() >= 2.0).count();
    if moving * 2 < changes.len() {
        return None;
    }
    let share = |shift_s: f64| {
        let hits = samples
            .iter()
            .filter(|(at_s, watts)| {
                let at = units::Timestamp::from_secs_f64(at_s - shift_s);
                reference
                    .stream
                    .power_w
                    .value_at(at)
                    .is_some_and(|held| (held - watts).abs() <= 0.6)
            })
            .count();
        hits as f64 / samples.len() as f64
    };
    let best = (-8..=12)
        .map(|i| share(0.25 * f64::from(i)))
        .fold(0.0, f64::max);
    (best >= COPIED_SHARE).then(|| Concern {
        kind: ConcernKind::Circular,
        blocks: true,
        words: format!(
            "{:.0} % of the device's values are those of the reference to the watt: it seems to \
             report the reference; switch power matching off and ride again",
            100.0 * best
        ),
    })
}

/// A device that holds the reference, not itself, on the target regulates by the reference.
fn steered(given: &Prepared<'_>) -> Option<Concern> {
    let mut levels: Vec<(f64, Vec<[f64; 2]>)> = Vec::new();
    for window in given.windows {
        let Some(step) = window
            .step
            .and_then(|index| given.evidence.steps.get(index))
        else {
            continue;
        };
        let Some(target_w) = step.target_w.filter(|target| *target >= 80.0) else {
            continue;
        };
        let error = |watts: f64| 100.0 * (watts / target_w - 1.0);
        let pair = [error(window.reference_w), error(window.under_test_w)];
        match levels.iter_mut().find(|(level, _)| *level == target_w) {
            Some((_, pairs)) => pairs.push(pair),
            None => levels.push((target_w, vec![pair])),
        }
    }
    levels.retain(|(_, pairs)| pairs.len() >= 3);
    if levels.len() < 3 {
        return None;
    }
    let mean = |pairs: &[[f64; 2]], i: usize| {
        pairs.iter().map(|pair| pair[i]).sum::<f64>() / pairs.len() as f64
    };
    let suspicious = levels.iter().all(|(_, pairs)| {
        mean(pairs, 0).abs() < STEERED_PCT && mean(pairs, 1).abs() > OWN_WORD_OFF_PCT
    });
    suspicious.then(|| Concern {
        kind: ConcernKind::Circular,
        blocks: true,
        words: format!(
            "at {} levels the reference lies within {STEERED_PCT} % of the target while the \
             device's own word is off by more than {OWN_WORD_OFF_PCT} %: the device seems to be \
             steered by the reference, so that its agreement is circular",
            levels.len()
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session, TestWindow, at};
    use super::*;
    use crate::evidence::{Feeds, ZeroOffset};

    fn ride(seed: u64) -> Session {
        let mut noise = Noise::new(seed);
        let mut session = Session::pair(
            1200,
            |_| {
                let truth = 200.0 + 8.0 * noise.normal();
                (
                    (truth + 3.0 * noise.normal()).round(),
                    (0.98 * truth + 3.0 * noise.normal()).round(),
                )
            },
            Session::usual_motion,
        );
        zero(&mut session, &[(0.0, 0.0), (1190.0, 0.1)]);
        session
    }

    fn zero(session: &mut Session, readings: &[(f64, f64)]) {
        session.evidence.streams[1].zero_offsets = readings
            .iter()
            .map(|(t, torque_nm)| ZeroOffset {
                at: at(*t),
                torque_nm: *torque_nm,
            })
            .collect();
    }

    fn kinds(session: &Session) -> Vec<ConcernKind> {
        assurance(&session.given())
            .unwrap()
            .result
            .concerns
            .iter()
            .map(|c| c.kind)
            .collect()
    }

    #[test]
    fn a_sound_reference_raises_no_concern() {
        for seed in 0..10 {
            assert_eq!(kinds(&ride(seed)), vec![]);
        }
    }

    /// 0.5 N·m at 90 rpm are 4.7 W (practice text, computed there).
    #[test]
    fn zeros_are_watched() {
        let mut session = ride(1);
        zero(&mut session, &[(0.0, 0.0), (1190.0, 0.5)]);
        let found = assurance(&session.given()).unwrap().result;
        assert_eq!(found.concerns[0].kind, ConcernKind::ZeroMoved);
        assert!((found.zeros[0].change_w - 4.71).abs() < 0.01);
        assert!((found.zeros[0].u_pct - 0.5 * 4.71 / 2.0).abs() < 0.02);
        zero(&mut session, &[]);
        assert_eq!(kinds(&session), vec![ConcernKind::ZeroNotChecked]);
        zero(&mut session, &[(0.0, 0.0), (600.0, 0.25), (1190.0, 0.25)]);
        assert_eq!(kinds(&session), vec![ConcernKind::AutomaticZero]);
    }

    #[test]
    fn one_side_blocks_a_primary_reference() {
        let mut session = ride(1);
        session.evidence.streams[1].place = Place::OneSide;
        let found = assurance(&session.given()).unwrap();
        assert!(found.result.concerns[0].blocks);
        assert!(found.sentence.starts_with("No verdict"));
    }

    #[test]
    fn a_copied_reference_is_circular() {
        let mut session = ride(2);
        let copied = session.evidence.streams[1].power_w.clone();
        session.evidence.streams[0].power_w = copied
            .map_time(|t| t + units::Span::from_millis(700))
            .unwrap();
        assert_eq!(kinds(&session), vec![ConcernKind::Circular]);
    }

    fn levels(reference_pct: f64, device_pct: f64) -> Session {
        let mut session = ride(3);
        for (i, level_w) in [100.0, 200.0, 300.0].into_iter().enumerate() {
            let step = session.step(
                Feeds::Steady,
                300.0 * i as f64,
                300.0 * (i + 1) as f64,
                level_w,
            );
            for window in 0..5 {
                session.window(TestWindow {
                    from_s: 300.0 * i as f64 + 30.0 * f64::from(window),
                    step,
                    level_w,
                    reference_w: level_w * (1.0 + reference_pct / 100.0),
                    under_test_w: level_w * (1.0 + device_pct / 100.0),
                    cadence_rpm: 90.0,
                    speed_kmh: 33.0,
                    u_pct: 0.3,
                });
            }
        }
        session
    }

    #[test]
    fn a_steered_device_is_circular_and_a_regulated_one_is_not() {
        assert_eq!(kinds(&levels(0.1, 2.5)), vec![ConcernKind::Circular]);
        assert_eq!(kinds(&levels(-2.5, 0.1)), vec![]);
        assert_eq!(kinds(&levels(0.1, 0.1)), vec![]);
    }

    #[test]
    fn a_jump_after_coasting_is_noticed() {
        let mut session = ride(4);
        let series = Series::from_pairs(
            (0..1200).map(|t| {
                let coasting = (600..606).contains(&t);
                (
                    f64::from(t),
                    if coasting {
                        0.0
                    } else {
                        200.0 + f64::from(t % 7)
                    },
                )
            }),
            Series::DEFAULT_HOLD,
        )
        .unwrap();
        session.evidence.streams[1].power_w = series;
        let step = session.step(Feeds::Steady, 0.0, 1200.0, 0.0);
        let mut noise = Noise::new(9);
        for window in 0..36 {
            let t = 30.0 * f64::from(window);
            let jump = if t > 606.0 { 6.0 } else { 0.0 };
            session.window(TestWindow {
                from_s: t,
                step,
                level_w: 200.0,
                reference_w: 200.0,
                under_test_w: 200.0 + jump + noise.normal(),
                cadence_rpm: 90.0,
                speed_kmh: 33.0,
                u_pct: 0.3,
            });
        }
        assert_eq!(kinds(&session), vec![ConcernKind::AutomaticZero]);
        assert!(assurance(&Session::empty().given()).is_err());
    }
}
