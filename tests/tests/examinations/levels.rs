//! Steady comparison: offset and scale, hysteresis, cadence, flywheel speed, heat, agreement, work.

use acceptance::rides::{Ride, clean, device, holds, interval, ride};
use analysis::examinations::dependence::Dependence;
use analysis::outcome::Tested;
use std::sync::LazyLock;

/// Levels up and down again, and the middle one at the end.
pub const SWEEP: &str = r#"Script(
    title: "levels up and down", cadence_rpm: 90,
    steps: [
        Ramp(from_w: 100, to_w: 160, seconds: 60, feeds: Warmup),
        Hold(power_w: 200, seconds: 120),
        Staircase(from_w: 100, to_w: 300, levels: 5, seconds: 120, order: Up),
        Staircase(from_w: 300, to_w: 100, levels: 5, seconds: 120, order: Down),
        Hold(power_w: 200, seconds: 120),
        CoolDown(seconds: 60),
    ],
)"#;

/// Nothing wrong at all.
pub static CLEAN: LazyLock<Ride> = LazyLock::new(|| ride(SWEEP, clean(), 1));

const OFFSET_W: f64 = 8.0;
const GAIN_PCT: f64 = -4.0;

static OFF: LazyLock<Ride> = LazyLock::new(|| {
    let mut file = clean();
    device(&mut file).signal.offset_w = OFFSET_W;
    device(&mut file).signal.gain_pct = GAIN_PCT;
    ride(SWEEP, file, 2)
});

const HYSTERESIS_PCT: f64 = 1.5;

static TWO_SIDED: LazyLock<Ride> = LazyLock::new(|| {
    let mut file = clean();
    device(&mut file).signal.hysteresis_pct = HYSTERESIS_PCT;
    ride(SWEEP, file, 3)
});

static WARMING: LazyLock<Ride> = LazyLock::new(|| {
    let mut file = clean();
    device(&mut file).signal.drift_pct = 3.0;
    device(&mut file).signal.drift_tau_s = 600.0;
    ride(SWEEP, file, 4)
});

/// The ideal word of the device against the true power, %, over a span of the session.
fn true_error_pct(ride: &Ride, from_s: f64, to_s: f64) -> f64 {
    let truth = ride.rig.truth();
    let ideal = Ride::true_mean(&truth.ideal_power_w[&ride.under_test], from_s, to_s);
    100.0 * (ideal / Ride::true_mean(&truth.crank_power_w, from_s, to_s) - 1.0)
}

#[test]
fn offset_and_scale_are_told_apart() {
    for (what, ride, offset_w, scale_pct) in [
        ("clean", &*CLEAN, 0.0, 0.0),
        ("off", &*OFF, OFFSET_W, GAIN_PCT),
    ] {
        let found = &ride.findings.examinations.level.as_ref().unwrap().result;
        holds(
            &format!("{what}: offset, W"),
            found.offset_interval_w,
            offset_w,
        );
        holds(
            &format!("{what}: scale, %"),
            found.scale_interval_pct,
            scale_pct,
        );
        let shown = found.offset_interval_w[0] > 0.0 && found.scale_interval_pct[1] < 0.0;
        assert_eq!(shown, offset_w > 0.0, "{what}: {found:?}");
    }
}

/// The interval of every cell holds the injected difference, as indicated; and what is far beyond
/// is shown to be.
#[test]
fn every_cell_holds_its_injected_difference() {
    for (what, ride) in [
        ("clean", &*CLEAN),
        ("off", &*OFF),
        ("two-sided", &*TWO_SIDED),
    ] {
        let cells = ride.findings.cells.iter();
        let cells: Vec<_> = cells
            .filter(|cell| cell.treatment.name() == "as_indicated")
            .collect();
        assert!(cells.len() >= 5, "{what}: {} cells", cells.len());
        for cell in cells {
            let (mut sum, mut seconds) = (0.0, 0.0);
            for window in &ride.findings.windows {
                if (window.level_w - cell.level_w).abs() < 1.0 {
                    let length_s = window.to_s - window.from_s;
                    sum += length_s * true_error_pct(ride, window.from_s, window.to_s);
                    seconds += length_s;
                }
            }
            let span = [
                cell.bias_pct - cell.expanded_pct,
                cell.bias_pct + cell.expanded_pct,
            ];
            holds(
                &format!("{what}: bias at {} W, %", cell.level_w),
                span,
                sum / seconds,
            );
        }
    }
}

#[test]
fn hysteresis_is_found_where_it_is() {
    for (what, ride, size) in [
        ("clean", &*CLEAN, 0.0),
        ("two-sided", &*TWO_SIDED, HYSTERESIS_PCT),
    ] {
        let found = &ride
            .findings
            .examinations
            .hysteresis
            .as_ref()
            .unwrap()
            .result;
        holds(what, found.interval_pct, size);
        assert_eq!(found.claimed, size > 0.0, "{what}: {found:?}");
    }
}

#[test]
fn anchors_show_a_change_with_heat_and_none_without() {
    for (what, ride, present) in [("clean", &*CLEAN, false), ("warming", &*WARMING, true)] {
        let found = &ride.findings.examinations.anchors.as_ref().unwrap().result;
        let at = |visit: usize| {
            let middle_s = 60.0 * found.visits[visit].minute;
            true_error_pct(ride, middle_s - 40.0, middle_s + 40.0)
        };
        let change_pct = at(found.visits.len() - 1) - at(0);
        holds(what, found.interval_pct, change_pct);
        assert_eq!(found.claimed, present, "{what}: {found:?}");
    }
}

#[test]
fn agreement_of_window_means() {
    for (what, ride, within) in [("clean", &*CLEAN, true), ("off", &*OFF, false)] {
        let found = &ride
            .findings
            .examinations
            .agreement
            .as_ref()
            .unwrap()
            .result;
        let windows = &ride.findings.windows;
        let truth = windows
            .iter()
            .map(|window| true_error_pct(ride, window.from_s, window.to_s))
            .sum::<f64>()
            / windows.len() as f64;
        holds(what, found.bias_interval_pct, truth);
        // A perfect device with this noise lies within ±2 % nearly always; the one with an offset
        // of 8 W at 100 W does not.
        assert!(found.share_within_perfect.unwrap() > 0.97, "{found:?}");
        assert_eq!(
            found.share_within.unwrap() > 0.97,
            within,
            "{what}: {found:?}"
        );
    }
}

#[test]
fn work_of_the_whole_session() {
    for (what, ride) in [("clean", &*CLEAN), ("off", &*OFF)] {
        let found = &ride.findings.examinations.energy.as_ref().unwrap().result;
        let truth = ride.rig.truth();
        let (from_s, to_s) = (5.0, ride.findings.duration_s - 5.0);
        let ratio = Ride::true_mean(&truth.ideal_power_w[&ride.under_test], from_s, to_s)
            / Ride::true_mean(&truth.crank_power_w, from_s, to_s);
        holds(what, interval(&found.ratio_without_zeros), ratio);
        let shown = interval(&found.ratio_without_zeros);
        if what == "clean" {
            holds("nothing is claimed of a clean device", shown, 1.0);
        }
        assert!(
            (found.ratio.value - ratio).abs() < 0.01,
            "{what}: {found:?}"
        );
    }
}

#[test]
fn best_means_at_the_same_moments() {
    for (what, ride) in [("clean", &*CLEAN), ("off", &*OFF)] {
        let found = &ride
            .findings
            .examinations
            .best_means
            .as_ref()
            .unwrap()
            .result;
        let truth = ride.rig.truth();
        let mut long = 0;
        for best in found.durations.iter().filter(|best| best.seconds >= 30.0) {
            long += 1;
            let from_s = best.from.as_secs_f64();
            let ideal = &truth.ideal_power_w[&ride.under_test];
            let ratio = Ride::true_mean(ideal, from_s, from_s + best.seconds)
                / Ride::true_mean(&truth.crank_power_w, from_s, from_s + best.seconds);
            holds(
                &format!("{what}: {} s", best.seconds),
                interval(&best.ratio),
                ratio,
            );
        }
        assert!(long >= 4, "{what}: {found:?}");
    }
}

/// Cadence in one gear and flywheel speed at one cadence, so that the two can be told apart. Every
/// rung of the cadence ladders is a change of cadence at a held target as well.
pub const LADDERS: &str = r#"Script(
    title: "cadence and speed", cadence_rpm: 90,
    steps: [
        Ramp(from_w: 100, to_w: 160, seconds: 60, feeds: Warmup),
        CadenceLadder(power_w: 200, cadences_rpm: [80, 65, 95, 105], seconds: 120),
        FlywheelLadder(power_w: 200, speeds_kmh: [16, 24, 31, 38], seconds: 120),
        CadenceLadder(power_w: 200, cadences_rpm: [105, 95, 65, 80], seconds: 120),
        CoolDown(seconds: 60),
    ],
)"#;

/// Ladders on a bench with nothing wrong.
pub static LADDERS_CLEAN: LazyLock<Ride> = LazyLock::new(|| ride(LADDERS, clean(), 5));

static LADDERS_OFF: LazyLock<Ride> = LazyLock::new(|| {
    let mut file = clean();
    device(&mut file).signal.cadence_pct_per_10_rpm = 0.9;
    device(&mut file).signal.speed_pct_per_10_kmh = -1.2;
    ride(LADDERS, file, 6)
});

#[test]
fn cadence_and_flywheel_speed_are_told_apart() {
    let of = |ride: &'static Ride| {
        let made = &ride.findings.examinations;
        [&made.cadence_dependence, &made.speed_dependence]
    };
    let check = |what: &str, found: &Tested<Dependence>, size: f64| {
        holds(what, found.result.interval_pct_per_10, size);
        assert_eq!(
            found.result.claimed,
            size != 0.0,
            "{what}: {}",
            found.sentence
        );
    };
    for (what, ride, sizes) in [
        ("clean", &*LADDERS_CLEAN, [0.0, 0.0]),
        ("dependent", &*LADDERS_OFF, [0.9, -1.2]),
    ] {
        let [cadence, speed] = of(ride);
        check(
            &format!("{what}: % per 10 rpm"),
            cadence.as_ref().unwrap(),
            sizes[0],
        );
        check(
            &format!("{what}: % per 10 km/h"),
            speed.as_ref().unwrap(),
            sizes[1],
        );
    }
}

/// Long at one power, from cold.
const HEAT: &str = r#"Script(
    title: "heat", cadence_rpm: 90,
    steps: [
        Hold(power_w: 200, seconds: 1500, feeds: Drift),
        CoolDown(seconds: 60),
    ],
)"#;

/// A 95 % interval misses one time in twenty, so several rides are asked: of eight, with two intervals
/// each, two may miss, and
/// of twenty without a drift three may claim one (more would happen in 16 of 1000 such tests).
#[test]
fn warm_up_drift_is_found_where_it_is() {
    let (mut missed, mut invented) = (Vec::new(), 0);
    for (drift_pct, seeds) in [(0.0, 300..320), (2.5, 200..208)] {
        for seed in seeds {
            let mut file = clean();
            device(&mut file).signal.drift_pct = drift_pct;
            device(&mut file).signal.drift_tau_s = 360.0;
            let ride = ride(HEAT, file, seed);
            let found = &ride.findings.examinations.warm_up.as_ref().unwrap().result;
            let step = &ride.evidence.steps[0];
            let (from_s, to_s) = (step.from.as_secs_f64() + 30.0, step.to.as_secs_f64());
            let change_pct = true_error_pct(&ride, to_s - 2.0, to_s)
                - true_error_pct(&ride, from_s, from_s + 2.0);
            let [low, high] = found.interval_pct;
            if drift_pct > 0.0 && !(low..=high).contains(&change_pct) {
                missed.push((seed, found.interval_pct, change_pct));
            }
            if drift_pct == 0.0 {
                invented += u32::from(found.claimed);
            } else {
                assert!(found.claimed, "seed {seed}: {found:?}");
                let tau = found.tau_s.as_ref().expect("a saturating drift");
                let [low, high] = interval(tau);
                if !(low..=high).contains(&360.0) {
                    missed.push((seed, [low, high], 360.0));
                }
            }
        }
    }
    assert!(missed.len() <= 2, "{missed:?}");
    assert!(invented <= 3, "{invented} of 20 drifts were invented");
}
