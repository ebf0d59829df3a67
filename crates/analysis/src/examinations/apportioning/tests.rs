use super::super::synthetic::{Noise, Session, TestWindow, push, stream};
use super::*;
use crate::evidence::{Feeds, Place};

/// Three crank instruments with own white noise per second and a common rider.
fn three(seed: u64, noise_w: [f64; 3], device_pct: f64) -> Session {
    let mut noise = Noise::new(seed);
    let mut session = Session::empty();
    let mut streams = [
        stream("device", Role::UnderTest, Place::Crank),
        stream("first", Role::PrimaryReference, Place::Crank),
        stream("second", Role::SecondReference, Place::Pedals),
    ];
    for second in 0..1800 {
        let t = f64::from(second);
        let level = 150.0 + 50.0 * f64::from(second / 300 % 3);
        let rider = level + 12.0 * noise.normal();
        for (i, stream) in streams.iter_mut().enumerate() {
            let gain = if i == 0 {
                1.0 + device_pct / 100.0
            } else {
                1.0
            };
            push(
                stream,
                t,
                gain * rider + noise_w[i] * noise.normal(),
                90.0,
                None,
            );
        }
    }
    session.evidence.streams = streams.into();
    for window in 0..60 {
        let t = 30.0 * f64::from(window);
        let level_w = 150.0 + 50.0 * f64::from(window / 10 % 3);
        let step = if window % 10 == 0 {
            session.step(Feeds::Steady, t, t + 300.0, level_w)
        } else {
            session.evidence.steps.len() - 1
        };
        session.window(TestWindow {
            from_s: t,
            step,
            level_w,
            reference_w: level_w,
            under_test_w: level_w,
            cadence_rpm: 90.0,
            speed_kmh: 33.0,
            u_pct: 0.3,
        });
    }
    session
}

#[test]
fn own_noise_is_found_within_its_interval() {
    let mut covered = [0; 3];
    for seed in 0..60 {
        let session = three(seed, [9.0, 5.0, 3.0], 0.0);
        let found = apportioning(&session.given()).unwrap().result;
        for (i, per_second) in [9.0, 5.0, 3.0].into_iter().enumerate() {
            let truth = per_second / MEAN_S.sqrt();
            let [low, high] = found.sources[i].noise_interval_w;
            covered[i] += usize::from(low <= truth && truth <= high);
        }
    }
    assert!(covered.iter().all(|c| *c >= 53), "{covered:?} of 60");
    let clear = apportioning(&three(1, [20.0, 4.0, 4.0], 0.0).given())
        .unwrap()
        .result;
    assert_eq!(clear.alone_in_noise, Some(0));
}

#[test]
fn the_one_that_stands_alone() {
    let mut false_claims = 0;
    for seed in 100..140 {
        let session = three(seed, [5.0, 5.0, 5.0], 3.0);
        let found = apportioning(&session.given()).unwrap().result;
        assert_eq!(found.alone_in_bias, Some(0), "{found:?}");
        let equal = apportioning(&three(seed, [5.0; 3], 0.0).given())
            .unwrap()
            .result;
        assert_eq!(equal.alone_in_noise, None);
        false_claims += usize::from(equal.alone_in_bias.is_some());
    }
    assert!(false_claims <= 4, "{false_claims} of 40");
}

#[test]
fn two_are_not_enough() {
    let mut session = three(1, [5.0; 3], 0.0);
    session.evidence.streams.truncate(2);
    assert!(
        apportioning(&session.given())
            .unwrap_err()
            .reason
            .contains("second reference")
    );
    let constant = three(1, [0.0; 3], 0.0);
    assert!(apportioning(&constant.given()).is_err());
    assert!(apportioning(&Session::empty().given()).is_err());
}
