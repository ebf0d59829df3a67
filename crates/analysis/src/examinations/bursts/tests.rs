use super::super::synthetic::{Noise, Session, at, stream};
use super::*;
use crate::evidence::{Place, Role};
use crate::stats::intervals::excludes;

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
