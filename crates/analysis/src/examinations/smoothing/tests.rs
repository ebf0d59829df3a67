use super::super::synthetic::{Noise, Session, at};
use super::*;
use crate::evidence::{Place, Role};

/// Twenty blocks of 30 s, 150 and 250 W; the reference reports the truth once a second at a
/// phase of its own, the device at `rate_hz` the mean over `window` seconds, `lag` late.
fn blocks(seed: u64, lag: f64, window: f64, rate_hz: f64) -> Session {
    let mut noise = Noise::new(seed);
    let edge = |block: i64| 30.0 * block as f64 + 0.37 * (block % 3) as f64;
    let level = |t: f64| {
        let mut block = (t / 30.0).floor() as i64;
        if t < edge(block) {
            block -= 1;
        }
        if block.rem_euclid(2) == 0 {
            150.0
        } else {
            250.0
        }
    };
    let truth_mean = |from: f64, to: f64| {
        let steps = 40;
        (0..steps)
            .map(|i| level(from + (to - from) * (f64::from(i) + 0.5) / f64::from(steps)))
            .sum::<f64>()
            / f64::from(steps)
    };
    let mut session = Session::empty();
    let mut device = super::super::synthetic::stream("device", Role::UnderTest, Place::Hub);
    let mut reference =
        super::super::synthetic::stream("reference", Role::PrimaryReference, Place::Crank);
    for second in 0..600 {
        let t = f64::from(second) + 0.21;
        let value = truth_mean(t - 1.0, t) + 3.0 * noise.normal();
        reference.power_w.push(at(t), value).unwrap();
    }
    for sample in 0..(600.0 * rate_hz) as i32 {
        let t = f64::from(sample) / rate_hz + 0.68;
        let w = window.max(0.01);
        let value = truth_mean(t - lag - w, t - lag) + 3.0 * noise.normal();
        device.power_w.push(at(t), value.round()).unwrap();
    }
    session.evidence.streams = vec![device, reference];
    session.evidence.end = at(600.0);
    session
}

/// The reference averages over one second itself; what is found is relative to it.
#[test]
fn a_window_of_five_seconds_is_found() {
    let mut covered = 0;
    for seed in 0..12 {
        let found = smoothing(&blocks(seed, 1.0, 5.0, 4.0).given())
            .unwrap()
            .result;
        assert!(found.claimed, "{found:?}");
        assert!((found.window_s.value - 5.0).abs() < 0.8, "{found:?}");
        assert!((found.mean_delay_s.value - 3.0).abs() < 0.5, "{found:?}");
        let [low, high] = found.window_interval_s;
        covered += usize::from(low <= 5.0 && 5.0 <= high);
    }
    assert!(covered >= 11, "{covered} of 12");
}

#[test]
fn no_window_is_not_claimed() {
    for (seed, rate_hz) in [(1, 1.0), (2, 4.0), (3, 1.0), (4, 4.0)] {
        let found = smoothing(&blocks(seed, 0.5, 1.0, rate_hz).given())
            .unwrap()
            .result;
        assert!(!found.claimed, "{found:?}");
    }
}

#[test]
fn a_lag_removed_before_is_added_again() {
    let mut session = blocks(9, 2.0, 3.0, 4.0);
    let before = smoothing(&session.given()).unwrap().result;
    session.facts = vec![super::super::given::StreamFacts {
        removed_lag_s: 2.5,
        removed_shift_s: 2.5,
        ..Default::default()
    }];
    let device = &mut session.evidence.streams[0];
    device.power_w = device
        .power_w
        .map_time(|t| t - units::Span::from_millis(2500))
        .unwrap();
    let after = smoothing(&session.given()).unwrap().result;
    assert!(
        (before.lag_s.value - after.lag_s.value).abs() < 0.1,
        "{before:?} {after:?}"
    );
}

#[test]
fn steady_riding_shows_no_delay() {
    assert!(smoothing(&Session::empty().given()).is_err());
    let steady = Session::pair(600, |_| (200.0, 200.0), Session::usual_motion);
    assert!(
        smoothing(&steady.given())
            .unwrap_err()
            .reason
            .contains("changes of power")
    );
    let ignored = Session::pair(
        600,
        |t| {
            (
                if (t / 30.0) as i64 % 2 == 0 {
                    150.0
                } else {
                    250.0
                },
                200.0,
            )
        },
        Session::usual_motion,
    );
    assert!(smoothing(&ignored.given()).is_err());
}
