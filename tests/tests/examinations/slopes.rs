//! Slope simulation, coast-down, and the plausibility of the speed.

use crate::levels::{CLEAN, LADDERS_CLEAN};
use acceptance::rides::{Ride, clean, holds, interval, ride};
use std::sync::LazyLock;

const SLOPES: &str = r#"Script(
    title: "slopes", cadence_rpm: 80, crr: 0.004, cw_kg_per_m: 0.51,
    steps: [
        Ramp(from_w: 100, to_w: 150, seconds: 60, feeds: Warmup),
        SlopeSteps(grades_pct: [0, 2, 4, 6, 8], speed_kmh: 18, seconds: 70, settle_seconds: 25),
        SlopeSteps(grades_pct: [1, 2, 3], speed_kmh: 30, seconds: 70, settle_seconds: 25),
        CoastDown(from_kmh: 36),
        CoastDown(from_kmh: 36),
        CoolDown(seconds: 60),
    ],
)"#;

static WHOLE: LazyLock<Ride> = LazyLock::new(|| ride(SLOPES, clean(), 41));

/// Half of the grade, no force above 50 N, and a wheel that turns heavily.
static HALF: LazyLock<Ride> = LazyLock::new(|| {
    let mut file = clean();
    file.brake.grade_share = 0.5;
    file.brake.floor_n = 5.0;
    ride(SLOPES, file, 42)
});

static WEAK: LazyLock<Ride> = LazyLock::new(|| {
    let mut file = clean();
    file.brake.ceiling_n = 50.0;
    ride(SLOPES, file, 43)
});

#[test]
fn force_against_the_grade() {
    let mass_kg = rig::spec::BrakeSpec::default().simulated_mass_kg;
    for (what, ride, share) in [("whole", &*WHOLE, 1.0), ("half", &*HALF, 0.5)] {
        let found = ride.findings.examinations.slope.as_ref().unwrap();
        let slope = &found.result;
        holds(
            &format!("{what}: mass, kg"),
            slope.mass_interval_kg,
            share * mass_kg,
        );
        // Rolling force is the commanded coefficient times the whole weight, whatever the grade's
        // share; as a coefficient it is referred to the mass that was found.
        let crr = slope.crr.as_ref().expect("a rolling part");
        holds(&format!("{what}: rolling"), interval(crr), 0.004 / share);
        let drag = slope.drag_kg_per_m.as_ref().expect("two speeds");
        holds(&format!("{what}: drag, kg/m"), interval(drag), 0.5 * 0.51);
        let factor = slope.wind_factor.as_ref().expect("two speeds");
        holds(&format!("{what}: factor"), interval(factor), 0.5);
        assert_eq!(slope.ceiling_pct, None, "{what}: {}", found.sentence);
    }
}

#[test]
fn the_ceiling_of_the_force() {
    let found = WEAK.findings.examinations.slope.as_ref().unwrap();
    let ceiling_pct = found.result.ceiling_pct.expect("it was reached");
    // 50 N = 83 kg · g · (sin + 0.004 · cos) + 0.255 kg/m · (5 m/s)².
    let sine: f64 = (50.0 - 0.255 * 25.0) / (83.0 * 9.80665) - 0.004;
    let truth = 100.0 * sine.asin().tan();
    assert!(
        (ceiling_pct - truth).abs() < 0.3,
        "{ceiling_pct} %, truly {truth} %"
    );
}

#[test]
fn the_wheel_slows_as_its_losses_demand() {
    for (what, ride, floor_n) in [("light", &*WHOLE, 3.0), ("heavy", &*HALF, 5.0)] {
        let found = &ride
            .findings
            .examinations
            .coast_down
            .as_ref()
            .unwrap()
            .result;
        assert_eq!(found.runs.len(), 2, "{what}");
        let brake = rig::spec::BrakeSpec::default();
        // Deceleration at 20 km/h from the rig's own numbers; single terms trade against each
        // other over so short a range of speed.
        let v = 20.0 / 3.6;
        let force_n = floor_n + brake.floor_n_per_mps2 * v * v;
        let truth = force_n / brake.equivalent_mass_kg;
        let [a, b, c] = found.deceleration.map(|it| it.map_or(0.0, |it| it.value));
        let decelerates = (a + b * v + c * v * v).abs();
        assert!(
            (decelerates / truth - 1.0).abs() < 0.05,
            "{what}: {decelerates} m/s², truly {truth}"
        );
    }
}

/// One gear gives one distance per turn of the crank, four gears give four.
#[test]
fn the_speed_follows_cadence_and_gear() {
    for (ride, developments_m) in [
        (&*CLEAN, vec![5.4]),
        (&*LADDERS_CLEAN, vec![16.0, 24.0, 31.0, 38.0]),
    ] {
        let found = &ride.findings.examinations.virtual_speed;
        let found = &found.as_ref().unwrap().result;
        assert!(found.follows_gear, "{found:?}");
        for development_m in developments_m {
            // A speed of the ladder stands for the development that gives it at 90 rpm.
            let truth = if development_m > 14.0 {
                development_m / 3.6 / 1.5
            } else {
                development_m
            };
            let near = found
                .gears
                .iter()
                .any(|gear| (gear.development_m.value / truth - 1.0).abs() < 0.02);
            assert!(near, "{truth} m: {found:?}");
        }
    }
}
