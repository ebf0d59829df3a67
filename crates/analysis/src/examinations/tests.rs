//! All examinations at once on sessions that are broken in some way: each must answer with a
//! reason or with numbers, never with a panic and never with a number that is none.

use super::given::{DropOut, DropOutKind, StreamFacts, Tolerance};
use super::synthetic::{Session, TestWindow, at, stream};
use super::{Examinations, examine};
use crate::evidence::{Arrival, Feeds, InvalidSpan, Load, Place, Role, ZeroOffset};
use proptest::prelude::*;
use units::Series;

/// Whether the text of a value holds a number that is none. Derived `Debug` shows every field.
fn numbers_are_numbers(found: &Examinations) -> Result<(), String> {
    let text = format!("{found:?}");
    for word in ["NaN", "inf"] {
        // "inf" as a whole word only: field names and sentences may contain it.
        for (place, _) in text.match_indices(word) {
            let before = text[..place].chars().next_back().unwrap_or(' ');
            let after = text[place + word.len()..].chars().next().unwrap_or(' ');
            if !before.is_alphanumeric() && !after.is_alphanumeric() {
                let from = place.saturating_sub(160);
                let context = text.get(from..place + 20).unwrap_or(word);
                return Err(format!("{word} in …{context}"));
            }
        }
    }
    Ok(())
}

/// Feeds in turn, so that every examination has a step of its own.
const FEEDS: [Feeds; 10] = [
    Feeds::Steady,
    Feeds::Response,
    Feeds::Drift,
    Feeds::Burst,
    Feeds::Slope,
    Feeds::DropOut,
    Feeds::Cadence,
    Feeds::FlywheelSpeed,
    Feeds::CoastDown,
    Feeds::Nothing,
];

fn session(
    seconds: usize,
    power: impl FnMut(f64) -> (f64, f64),
    motion: impl FnMut(f64) -> (f64, f64),
) -> Session {
    let mut session = Session::pair(seconds, power, motion);
    let length = seconds as f64 / FEEDS.len() as f64;
    for (i, feeds) in FEEDS.into_iter().enumerate() {
        let from = length * i as f64;
        let step = session.step(feeds, from, from + length, 100.0 + 10.0 * i as f64);
        session.evidence.steps[step].cadence_rpm = Some(80.0 + 10.0 * (i % 2) as f64);
        let load = if feeds == Feeds::Slope {
            Load::Slope {
                grade_pct: 2.0,
                wind_m_per_s: 0.0,
                crr: 0.004,
                cw_kg_per_m: 0.4,
            }
        } else {
            Load::PowerW(100.0 + 50.0 * (i % 3) as f64)
        };
        session.command(from, load);
        for window in 0..(length / 30.0) as usize {
            let begin = from + 30.0 * window as f64;
            let mean = |index: usize, series: fn(&crate::evidence::Stream) -> &Series| {
                series(&session.evidence.streams[index])
                    .mean_over(at(begin), at(begin + 30.0))
                    .map_or(0.0, |mean| mean.value)
            };
            let window = TestWindow {
                from_s: begin,
                step,
                level_w: 100.0 + 10.0 * i as f64,
                reference_w: mean(1, |s| &s.power_w),
                under_test_w: mean(0, |s| &s.power_w),
                cadence_rpm: mean(1, |s| &s.cadence_rpm),
                speed_kmh: mean(0, |s| &s.speed_kmh),
                u_pct: 0.3,
            };
            session.window(window);
        }
    }
    session.bench.tolerance = Some(Tolerance {
        pct: 2.0,
        floor_w: 3.0,
    });
    session
}

#[test]
fn broken_sessions_give_reasons() {
    let steady = |_: f64| (90.0, 33.0);
    let still = |_: f64| (0.0, 0.0);
    let cases: [(&str, Session); 8] = [
        ("empty", Session::empty()),
        ("one sample", Session::pair(1, |_| (200.0, 200.0), steady)),
        ("constant", session(1200, |_| (200.0, 200.0), steady)),
        ("nothing ridden", session(1200, |_| (0.0, 0.0), still)),
        ("negative", session(1200, |_| (-50.0, -40.0), steady)),
        (
            "single zeros",
            session(
                1200,
                |t| {
                    let zero = (t as usize).is_multiple_of(5);
                    (200.0, if zero { 0.0 } else { 200.0 })
                },
                steady,
            ),
        ),
        (
            "huge",
            session(600, |t| (1e12 * (t % 3.0), 1e12), |t| (t, 1e6)),
        ),
        (
            "unrelated",
            session(1200, |t| (200.0 + t % 7.0, 90.0 + (t * 1.7) % 11.0), steady),
        ),
    ];
    for (name, session) in &cases {
        let found = examine(&session.given());
        numbers_are_numbers(&found).unwrap_or_else(|text| panic!("{name}: {text}"));
    }
    let nothing = examine(&cases[0].1.given());
    assert_eq!(nothing.not_tested().len(), 24);
    for reason in nothing.not_tested() {
        assert!(
            reason.reason.len() > 20 && !reason.examination.is_empty(),
            "{reason}"
        );
    }
}

#[test]
fn recordings_that_do_not_overlap() {
    let mut session = session(600, |_| (200.0, 200.0), |_| (90.0, 33.0));
    let power = &mut session.evidence.streams[0].power_w;
    *power = power
        .map_time(|t| t + units::Span::from_secs(10_000))
        .unwrap();
    let found = examine(&session.given());
    numbers_are_numbers(&found).unwrap();
    assert!(found.energy.is_err() && found.smoothing.is_err() && found.best_means.is_err());
}

#[test]
fn a_day_of_gaps() {
    let mut session = session(400, |_| (200.0, 199.0), |_| (90.0, 33.0));
    for stream in &mut session.evidence.streams {
        // One value every ten minutes for a day, each held for 2.5 s.
        stream.power_w = Series::from_pairs(
            (0..144).map(|i| (600.0 * f64::from(i), 200.0)),
            Series::DEFAULT_HOLD,
        )
        .unwrap();
    }
    session.evidence.end = at(86_400.0);
    let found = examine(&session.given());
    numbers_are_numbers(&found).unwrap();
    assert!(found.smoothing.is_err() && found.response.is_err() && found.warm_up.is_err());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn whatever_comes_is_answered(
        powers in proptest::collection::vec((-200.0f64..1500.0, -200.0f64..1500.0), 40..400),
        speeds in proptest::collection::vec(0.0f64..80.0, 40..400),
        stretch in 1.0f64..6.0,
        extra in any::<bool>(),
    ) {
        let pick = |t: f64| powers[(t / stretch) as usize % powers.len()];
        let mut session = session(
            700,
            pick,
            |t| (60.0 + speeds[(t / 9.0) as usize % speeds.len()], speeds[t as usize % speeds.len()]),
        );
        if extra {
            let mut second = stream("second", Role::SecondReference, Place::Pedals);
            for (i, (a, b)) in powers.iter().enumerate() {
                second.power_w.push(at(i as f64), 0.5 * (a + b)).unwrap();
                second.arrivals.push(Arrival { at: at(i as f64), epoch: (i / 50) as u32 });
            }
            second.zero_offsets = vec![
                ZeroOffset { at: at(0.0), torque_nm: 0.0 },
                ZeroOffset { at: at(9.0), torque_nm: powers[0].0 },
            ];
            session.evidence.streams.push(second);
            session.facts = vec![
                StreamFacts { removed_lag_s: 1.3, removed_shift_s: 1.3, removed_lag_u_s: 0.1, expanded_pct: Some(2.0) };
                3
            ];
            session.evidence.invalid.push(InvalidSpan {
                from: at(100.0),
                to: at(50.0 + powers[0].0.abs()),
                reason: "stall".into(),
            });
            session.dropouts.push(DropOut {
                kind: DropOutKind::Frozen,
                from: at(200.0),
                to: at(210.0),
                lost_kj: 1.0,
            });
        }
        let found = examine(&session.given());
        prop_assert_eq!(numbers_are_numbers(&found), Ok(()));
    }
}
