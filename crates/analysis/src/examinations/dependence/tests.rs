use super::super::synthetic::{Noise, Session, TestWindow};
use super::*;
use crate::evidence::Feeds;
use crate::stats::intervals::excludes;

/// Three gears at one cadence and three cadences in one gear, at 200 W, two rides of each.
fn arms(seed: u64, effect: impl Fn(f64, f64) -> f64) -> Session {
    let mut noise = Noise::new(seed);
    let mut session = Session::empty();
    let conditions = [
        (90.0, 20.0),
        (90.0, 30.0),
        (90.0, 40.0),
        (70.0, 23.3),
        (80.0, 26.7),
        (100.0, 33.3),
    ];
    let mut t = 0.0;
    for _ in 0..2 {
        for (cadence, speed) in conditions {
            let step = session.step(Feeds::FlywheelSpeed, t, t + 150.0, 200.0);
            let own = 0.1 * noise.normal();
            for window in 0..5 {
                let reference = 200.0 + 2.0 * noise.normal();
                let error = 1.0 + effect(cadence, speed) + own + 0.3 * noise.normal();
                session.window(TestWindow {
                    from_s: t + 30.0 * f64::from(window),
                    step,
                    level_w: 200.0,
                    reference_w: reference,
                    under_test_w: reference * (1.0 + error / 100.0),
                    cadence_rpm: cadence + 0.5 * noise.normal(),
                    speed_kmh: speed * (1.0 + 0.005 * noise.normal()),
                    u_pct: 0.3,
                });
            }
            t += 150.0;
        }
    }
    session
}

#[test]
fn a_dependence_on_speed_is_found_and_not_put_down_to_cadence() {
    let (mut covered, mut false_claims) = (0, 0);
    for seed in 0..60 {
        let session = arms(seed, |_, speed| 0.8 * (speed - 30.0) / 10.0);
        let speed = dependence(&session.given(), Driver::FlywheelSpeed)
            .unwrap()
            .result;
        assert!(speed.claimed, "seed {seed}: {speed:?}");
        covered += usize::from(!excludes(speed.interval_pct_per_10, 0.8));
        let cadence = dependence(&session.given(), Driver::Cadence)
            .unwrap()
            .result;
        assert!(cadence.held_apart.contains(&"flywheel speed"));
        false_claims += usize::from(cadence.claimed);
    }
    assert!(covered >= 54, "{covered} of 60 intervals hold the truth");
    assert!(false_claims <= 7, "{false_claims} of 60");
}

#[test]
fn nothing_is_claimed_where_nothing_is() {
    let claims = (200..260)
        .filter(|&seed| {
            let session = arms(seed, |_, _| 0.0);
            dependence(&session.given(), Driver::FlywheelSpeed)
                .unwrap()
                .result
                .claimed
        })
        .count();
    assert!(claims <= 7, "{claims} of 60");
}

#[test]
fn one_gear_alone_cannot_tell_them_apart() {
    let mut session = arms(1, |_, _| 0.0);
    for window in &mut session.windows {
        window.speed_kmh = window.cadence_rpm.map(|cadence| cadence * 0.35);
    }
    let refused = dependence(&session.given(), Driver::Cadence).unwrap_err();
    assert!(refused.reason.contains("told apart"), "{refused}");
    assert!(dependence(&Session::empty().given(), Driver::FlywheelSpeed).is_err());
    for window in &mut session.windows {
        window.speed_kmh = Some(33.0);
    }
    assert!(dependence(&session.given(), Driver::FlywheelSpeed).is_err());
}
