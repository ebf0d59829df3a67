//! What changes quickly: response, steadiness, disturbance, delay, smoothing, echo, bursts.

use crate::levels::{CLEAN, LADDERS, LADDERS_CLEAN};
use acceptance::rides::{Ride, built_in, clean, crossing, device, holds, interval, ride, trainer};
use analysis::examinations::echo::EchoJudgement;
use rig::Fault;
use rig::spec::Smoothing;
use std::f64::consts::TAU;
use std::sync::LazyLock;

/// Changes of target in both directions, and one long hold.
pub const STEPS: &str = r#"Script(
    title: "changes", cadence_rpm: 90,
    steps: [
        Ramp(from_w: 100, to_w: 150, seconds: 60, feeds: Warmup),
        Alternate(levels_w: [150, 250], seconds_each: [25.3, 25.6], times: 7),
        Hold(power_w: 220, seconds: 270),
        CoolDown(seconds: 60),
    ],
)"#;

static QUICK: LazyLock<Ride> = LazyLock::new(|| {
    let mut file = clean();
    file.brake.loop_per_s = 0.15;
    ride(STEPS, file, 11)
});

/// A brake that follows slowly and a word that is late and smoothed, renewed once a second.
static SLOW: LazyLock<Ride> = LazyLock::new(|| {
    let mut file = clean();
    file.brake.loop_per_s = 0.15;
    file.brake.rise_w_per_s = 20.0;
    file.brake.fall_w_per_s = 20.0;
    file.brake.dead_time_s = 1.5;
    device(&mut file).signal.smoothing = Smoothing::Mean(5.0);
    device(&mut file).signal.delay_s = 1.0;
    trainer(&mut file).renew_ms = Some(1000);
    ride(STEPS, file, 12)
});

/// A control loop so fast that it hunts.
static HUNTING: LazyLock<Ride> = LazyLock::new(|| {
    let mut file = clean();
    file.brake.loop_per_s = 0.9;
    file.brake.listen_s = 1.2;
    ride(STEPS, file, 13)
});

/// The rise of the true power as a meter sees it that averages over a second, from 10 to 90 % of
/// the change, s.
fn true_rise_s(ride: &Ride, change_w: f64) -> f64 {
    let moments = ride.target_changes(change_w);
    assert!(moments.len() >= 6, "{} changes", moments.len());
    let course = Ride::course(&ride.rig.truth().crank_power_w, &moments, 1.0, 24.0);
    let mean = |from: f64, to: f64| {
        let within: Vec<f64> = course
            .iter()
            .filter(|[t, _]| (from..to).contains(t))
            .map(|[_, w]| *w)
            .collect();
        within.iter().sum::<f64>() / within.len() as f64
    };
    let (before, after) = (mean(-5.0, 0.0), mean(16.0, 24.0));
    let at = |share: f64| crossing(&course, before + share * (after - before)).unwrap();
    at(0.9) - at(0.1)
}

#[test]
fn the_rise_after_a_new_target_is_that_of_the_true_power() {
    for (what, ride) in [("quick", &*QUICK), ("slow", &*SLOW)] {
        let found = &ride.findings.examinations.response.as_ref().unwrap().result;
        for group in &found.groups {
            let truth = true_rise_s(ride, group.change_w);
            let rise = group.on_reference.rise_s.as_ref().expect("it is resolved");
            holds(
                &format!("{what}: rise by {:.0} W, s", group.change_w),
                interval(rise),
                truth,
            );
        }
        assert_eq!(found.groups.len(), 2, "{what}: up and down");
    }
    let rise = |ride: &Ride| {
        let found = &ride.findings.examinations.response.as_ref().unwrap().result;
        found.groups[0].on_reference.rise_s.unwrap()
    };
    assert!(interval(&rise(&SLOW))[0] > interval(&rise(&QUICK))[1]);
}

/// Amplitude of the true power's sine of one period over a hold, by least squares, W.
fn true_amplitude_w(ride: &Ride, from_s: f64, to_s: f64, period_s: f64) -> f64 {
    let count = (to_s - from_s) as usize;
    let values: Vec<f64> = (0..count)
        .map(|i| {
            let at = from_s + i as f64;
            Ride::true_mean(&ride.rig.truth().crank_power_w, at, at + 1.0)
        })
        .collect();
    let mean = values.iter().sum::<f64>() / count as f64;
    let (mut sine, mut cosine) = (0.0, 0.0);
    for (i, value) in values.iter().enumerate() {
        let angle = TAU * (from_s + i as f64) / period_s;
        sine += (value - mean) * angle.sin();
        cosine += (value - mean) * angle.cos();
    }
    2.0 / count as f64 * sine.hypot(cosine)
}

#[test]
fn a_hunting_brake_oscillates_and_a_calm_one_does_not() {
    let hold = |ride: &Ride| {
        let found = &ride
            .findings
            .examinations
            .stability
            .as_ref()
            .unwrap()
            .result;
        found.holds.last().expect("the hold").clone()
    };
    let calm = hold(&QUICK);
    assert!(calm.oscillation.is_none(), "{calm:?}");
    let hunting = hold(&HUNTING);
    let swing = hunting.oscillation.expect("it hunts");
    let (from_s, to_s) = (hunting.from.as_secs_f64(), hunting.to.as_secs_f64());
    let truth = |period_s| true_amplitude_w(&HUNTING, from_s, to_s, period_s);
    let strongest = (50..400)
        .map(|tenths| f64::from(tenths) / 10.0)
        .max_by(|a, b| truth(*a).total_cmp(&truth(*b)))
        .unwrap();
    assert!(
        (swing.period_s / strongest - 1.0).abs() < 0.1,
        "{swing:?}, truly {strongest} s"
    );
    assert!(hunting.reference_sd_w.value > calm.reference_sd_w.value);
}

/// A light flywheel hardly resists a change of cadence; a heavy one throws the held power off.
#[test]
fn a_change_of_cadence_disturbs_a_heavy_flywheel() {
    let heavy = &LADDERS_CLEAN.findings.examinations.disturbance;
    let heavy = &heavy.as_ref().unwrap().result;
    assert!(heavy.claimed, "{heavy:?}");
    // The peaks are those of the true power, averaged over the same three seconds.
    let truth: Vec<f64> = heavy
        .changes
        .iter()
        .map(|change| {
            let at_s = LADDERS_CLEAN.evidence.steps[change.step].from.as_secs_f64();
            let crank = &LADDERS_CLEAN.rig.truth().crank_power_w;
            let before = Ride::true_mean(crank, at_s - 15.0, at_s - 1.0);
            (0..=34)
                .map(|i| at_s + 0.5 * f64::from(i))
                .map(|at| (Ride::true_mean(crank, at, at + 3.0) - before).abs())
                .fold(0.0, f64::max)
        })
        .collect();
    holds(
        "peak, W",
        interval(&heavy.peak_w),
        truth.iter().sum::<f64>() / truth.len() as f64,
    );
    let mut file = clean();
    file.brake.equivalent_mass_kg = 2.0;
    file.brake.loop_per_s = 0.15;
    let light = ride(LADDERS, file, 14);
    let light = &light
        .findings
        .examinations
        .disturbance
        .as_ref()
        .unwrap()
        .result;
    assert!(
        light.peak_w.value < 0.5 * heavy.peak_w.value,
        "{} against {} W",
        light.peak_w.value,
        heavy.peak_w.value
    );
}

/// Group delay of an instrument, s.
fn delay_s(ride: &Ride, wanted: units::SourceId) -> f64 {
    let faults = ride.rig.truth().faults().iter();
    let mut found = faults.filter_map(|fault| match *fault {
        Fault::Lag {
            source,
            group_delay_s,
            ..
        } if source == wanted => Some(group_delay_s),
        _ => None,
    });
    found.next().expect("every instrument has a delay")
}

#[test]
fn the_lag_is_the_difference_of_the_delays() {
    for (what, ride) in [("quick", &*QUICK), ("slow", &*SLOW), ("clean", &*CLEAN)] {
        let device = ride.findings.under_test.as_deref().unwrap();
        let mut found = ride.findings.alignment.iter();
        let found = found.find(|it| it.source == device).unwrap();
        let truth = delay_s(ride, ride.under_test) - delay_s(ride, ride.reference);
        // A value that is renewed once a second is late by what the reports in between wait.
        let waits_s = if what == "slow" { 0.375 } else { 0.0 };
        let reach = 2.0 * found.lag_u_s;
        holds(
            &format!("{what}: lag, s"),
            [found.lag_s - reach, found.lag_s + reach],
            truth + waits_s,
        );
    }
}

#[test]
fn smoothing_and_repeated_values() {
    let of = |ride: &Ride| {
        let found = &ride.findings.examinations.smoothing;
        found.as_ref().unwrap().result.clone()
    };
    let (quick, slow) = (of(&QUICK), of(&SLOW));
    assert!(slow.claimed, "{slow:?}");
    holds("window of 5 s", slow.window_interval_s, 5.0);
    // The device averages over a second as the reference does: nothing longer than that is shown.
    assert!(quick.window_interval_s[0] <= 1.0, "{quick:?}");
    assert!(quick.window_s.value < 2.0, "{quick:?}");
    // Three of four reports repeat where values are renewed once a second.
    assert!(slow.repeated[0] > 0.74, "{slow:?}");
    assert!(quick.repeated[0] < 0.5, "{quick:?}");
}

#[test]
fn an_echo_of_the_target_is_told_from_a_measurement() {
    let echo = ride(STEPS, built_in("echo"), 15);
    for (what, ride, expected) in [
        ("echo", &echo, EchoJudgement::Echoes),
        ("quick", &*QUICK, EchoJudgement::Measures),
        ("slow", &*SLOW, EchoJudgement::Measures),
    ] {
        let found = ride.findings.examinations.echo.as_ref().unwrap();
        assert_eq!(
            found.result.judgement, expected,
            "{what}: {}",
            found.sentence
        );
    }
}

/// Short hard efforts with the brake on a slope.
pub const BURSTS: &str = r#"Script(
    title: "efforts", cadence_rpm: 90,
    steps: [
        Ramp(from_w: 100, to_w: 200, seconds: 60, feeds: Warmup),
        Alternate(levels_w: [120, 200], seconds: 25, times: 3),
        Burst(title: "rolling", brake: Slope(2), seconds: 8, times: 4, rest_seconds: 60, rest_w: 150),
        CoolDown(seconds: 60, power_w: 90),
    ],
)"#;

#[test]
fn peaks_work_and_missing_inertia_of_efforts() {
    let whole = ride(BURSTS, clean(), 16);
    let mut file = clean();
    trainer(&mut file).inertia_share = 0.0;
    let mass_kg = file.brake.equivalent_mass_kg;
    let brake_only = ride(BURSTS, file, 17);
    for (what, ride, unreported_kg) in
        [("whole", &whole, 0.0), ("brake only", &brake_only, mass_kg)]
    {
        let made = &ride.findings.examinations;
        let inertia = &made.inertia.as_ref().unwrap().result;
        holds(
            &format!("{what}: unreported mass, kg"),
            inertia.interval_kg,
            unreported_kg,
        );
        assert_eq!(inertia.claimed, unreported_kg > 0.0, "{what}: {inertia:?}");
        let bursts = &made.bursts.as_ref().unwrap().result;
        assert_eq!(bursts.efforts.len(), 4, "{what}");
        let short = bursts.ratios.iter().find(|it| it.seconds == 3.0).unwrap();
        let shown = short.interval.expect("four efforts");
        if unreported_kg > 0.0 {
            assert!(shown[1] < 0.95, "{what}: {short:?}");
        } else {
            holds("peak over 3 s", shown, 1.0);
        }
        // Over a window that closes at its first speed the flywheel gives back what it took: what
        // the device's own word makes of these very windows, which is nearly all of the work.
        let ideal = &ride.rig.truth().ideal_power_w[&ride.under_test];
        let crank = &ride.rig.truth().crank_power_w;
        let ratios: Vec<f64> = bursts
            .efforts
            .iter()
            .filter_map(|effort| effort.work.as_ref())
            .map(|work| {
                let (from_s, to_s) = (work.from.as_secs_f64(), work.to.as_secs_f64());
                Ride::true_mean(ideal, from_s, to_s) / Ride::true_mean(crank, from_s, to_s)
            })
            .collect();
        assert!(ratios.len() >= 2, "{what}: {} closed windows", ratios.len());
        let truth = ratios.iter().sum::<f64>() / ratios.len() as f64;
        let work = bursts.work_ratio.as_ref().expect("closed windows");
        // Brake power runs ahead of the crank's by what the flywheel gives: such a device is placed
        // up to a second off in time, which its two or three windows cannot tell.
        let reach = if unreported_kg > 0.0 { 0.012 } else { 0.0 };
        let [low, high] = interval(work);
        holds(
            &format!("{what}: closed work"),
            [low - reach, high + reach],
            truth,
        );
        assert!((truth - 1.0).abs() < 0.03, "{what}: {truth} is not closed");
        assert!(bursts.efforts.iter().all(|it| it.zero_after_s == 0.0));
    }
}
