//! Recorders with clocks of their own, against constructed truth.

#![allow(
    clippy::unwrap_used,
    reason = "a test may stop where its own data are wrong"
)]

mod common;

use analysis::align::{JUMP_MARGIN_S, Placement, Recorded, place};
use analysis::settings::AlignSettings;
use common::Noise;
use units::{Series, Timestamp};

/// What the legs do, ten times a second: steps of random length and height, and the scatter of a
/// person about them, which both instruments see.
struct Legs {
    power_w: Vec<f64>,
    cadence_rpm: Vec<f64>,
}

impl Legs {
    fn ride(seed: u64, seconds: usize) -> Self {
        let mut noise = Noise::new(seed);
        let (mut level, mut until, mut slow, mut rpm, mut held) = (180.0, 0, 0.0, 0.0, 180.0);
        let (mut power_w, mut cadence_rpm) = (Vec::new(), Vec::new());
        for tenth in 0..10 * seconds {
            if tenth >= until {
                level = 120.0 + 200.0 * noise.uniform();
                until = tenth + 600 + (2400.0 * noise.uniform()) as usize;
            }
            slow = 0.99 * slow + 1.4 * noise.normal();
            rpm = 0.995 * rpm + 0.2 * noise.normal();
            // Nobody's legs change level within an instant.
            held += (level - held) * 0.1 / 1.5;
            power_w.push(held + slow);
            cadence_rpm.push(88.0 + rpm);
        }
        Self {
            power_w,
            cadence_rpm,
        }
    }

    fn at(values: &[f64], true_s: f64) -> Option<f64> {
        let tenth = (10.0 * true_s).floor();
        (tenth >= 0.0).then(|| values.get(tenth as usize).copied())?
    }
}

/// A recorder: one value every `interval_s` of its own clock.
struct Recorder {
    /// What its clock says at the true moment zero, s.
    offset_s: f64,
    drift_ppm: f64,
    interval_s: f64,
    /// True moments between which it records nothing.
    pause_s: Option<(f64, f64)>,
    /// Whether its clock counts the pause.
    counts_pause: bool,
    gain: f64,
}

impl Recorder {
    /// What its clock says at a true moment.
    fn clock(&self, true_s: f64) -> f64 {
        let skipped = match self.pause_s {
            Some((from, to)) if !self.counts_pause && true_s >= to => to - from,
            _ => 0.0,
        };
        self.offset_s + (true_s - skipped) * (1.0 + self.drift_ppm * 1e-6)
    }

    fn record(
        &self,
        legs: &Legs,
        true_s: std::ops::Range<f64>,
        seed: u64,
    ) -> (Series, Series, Vec<f64>) {
        let mut noise = Noise::new(seed);
        let (mut power, mut cadence) = (Series::new(), Series::new());
        let mut truths = Vec::new();
        let mut at = true_s.start;
        while at < true_s.end {
            let paused = self
                .pause_s
                .is_some_and(|(from, to)| (from..to).contains(&at));
            if !paused
                && let (Some(watts), Some(rpm)) =
                    (Legs::at(&legs.power_w, at), Legs::at(&legs.cadence_rpm, at))
            {
                let own = Timestamp::from_secs_f64(self.clock(at));
                let watts = (self.gain * watts + 2.5 * noise.normal()).round().max(0.0);
                if power.push(own, watts).is_ok() {
                    cadence
                        .push(own, (rpm + 0.5 * noise.normal()).round())
                        .unwrap();
                    truths.push(at);
                }
            }
            at += self.interval_s;
        }
        (power, cadence, truths)
    }
}

fn reference(legs: &Legs) -> (Series, Series) {
    let recorder = Recorder {
        offset_s: 0.0,
        drift_ppm: 0.0,
        interval_s: 0.25,
        pause_s: None,
        counts_pause: true,
        gain: 1.0,
    };
    let (power, cadence, _) = recorder.record(legs, 0.0..3600.0, 71);
    (power, cadence)
}

fn placed(
    (power, cadence): &(Series, Series),
    stream: &(Series, Series, Vec<f64>),
) -> Result<Placement, String> {
    let recorded = |power_w, cadence_rpm| Recorded {
        power_w,
        cadence_rpm,
    };
    place(
        "device",
        recorded(power, cadence),
        recorded(&stream.0, &stream.1),
        &AlignSettings::default(),
    )
    .map_err(|refused| refused.reason)
}

/// The numbers: −417.3 s, 35 ppm, different rates and a pause of 60 s. Every sample has to
/// lie within 0.1 s of where it was made; those within the margin of a jump are not judged, and
/// are few.
#[test]
fn two_recorders_lie_within_a_tenth_of_a_second_throughout() {
    let pause = Some((1500.0, 1560.0));
    for (what, pause_s, counts_pause, jumps) in [
        ("no pause", None, true, 0),
        ("a pause that its clock counts", pause, true, 0),
        ("a pause that its clock does not count", pause, false, 1),
    ] {
        for seed in [1, 2, 3] {
            let legs = Legs::ride(seed, 3700);
            let recorder = Recorder {
                offset_s: -417.3,
                drift_ppm: 35.0,
                interval_s: 1.0,
                pause_s,
                counts_pause,
                gain: 1.03,
            };
            let stream = recorder.record(&legs, 120.0..3500.0, seed + 10);
            let placement = placed(&reference(&legs), &stream).unwrap();
            let found = placement.jumps();
            assert_eq!(found.len(), jumps, "{what}, ride {seed}: {found:?}");
            let off: Vec<(f64, f64)> = stream
                .0
                .times()
                .iter()
                .zip(&stream.2)
                .map(|(own, truth)| {
                    (
                        *truth,
                        placement.on_reference_clock(*own).as_secs_f64() - truth,
                    )
                })
                .collect();
            // Where a clock jumped, the session says that a few seconds on either side are not
            // judged; the truth of the jump is the pause itself.
            let judged = |truth: f64| {
                jumps == 0 || !(1500.0 - JUMP_MARGIN_S..1560.0 + JUMP_MARGIN_S).contains(&truth)
            };
            let worst = off
                .iter()
                .filter(|(truth, _)| judged(*truth))
                .map(|(_, off)| off.abs())
                .fold(0.0, f64::max);
            println!(
                "{what}, ride {seed}: worst {worst:.3} s, drift {:?}, r {:.2}, rival {:.2}, {found:?}",
                placement.drift_ppm, placement.correlation, placement.rival
            );
            if worst > 0.1 {
                for (truth, off) in off.iter().filter(|(_, off)| off.abs() > 0.1) {
                    println!("  at {truth:.1} s off by {off:+.2} s");
                }
            }
            assert!(worst <= 0.1, "{what}, ride {seed}: {worst}");
            for (at, by) in &found {
                assert!((by - 60.0).abs() < 0.2, "{by}");
                assert!(
                    (1500.0 - JUMP_MARGIN_S..1560.0 + JUMP_MARGIN_S).contains(&at.as_secs_f64()),
                    "{at}"
                );
            }
        }
    }
}

/// Rides of other days, on the same bench: nothing may be guessed.
#[test]
fn unrelated_rides_are_refused() {
    for seed in 1..=12 {
        let legs = Legs::ride(seed, 3700);
        let other = Legs::ride(seed + 100, 3700);
        let recorder = Recorder {
            offset_s: -30.0,
            drift_ppm: 0.0,
            interval_s: 1.0,
            pause_s: None,
            counts_pause: true,
            gain: 1.0,
        };
        let stream = recorder.record(&other, 0.0..3500.0, seed);
        let refused = placed(&reference(&legs), &stream).unwrap_err();
        println!("{refused}");
        assert!(
            refused.contains("device") && refused.contains(';'),
            "{refused}"
        );
    }
}

/// A ride that repeats itself without a person's scatter fits at every repeat.
#[test]
fn a_ride_that_repeats_itself_exactly_is_refused() {
    let square = |at_s: f64| {
        if (at_s / 120.0) as i64 % 2 == 0 {
            150.0
        } else {
            250.0
        }
    };
    let series = |offset_s: f64| {
        let pairs = (0..3000).map(|i| (offset_s + f64::from(i), square(f64::from(i))));
        Series::from_pairs(pairs, Series::DEFAULT_HOLD).unwrap()
    };
    let empty = Series::new();
    let (reference, stream) = (series(0.0), (series(50.0), Series::new(), Vec::new()));
    let refused = placed(&(reference, empty), &stream).unwrap_err();
    println!("{refused}");
    assert!(refused.contains("two places"), "{refused}");
}

/// Too short, too quiet, empty: refused with what to do, never a panic.
#[test]
fn what_cannot_be_placed_is_refused() {
    let legs = Legs::ride(1, 3700);
    let reference = reference(&legs);
    let short = Series::from_pairs(
        (0..100).map(|i| (f64::from(i), 200.0)),
        Series::DEFAULT_HOLD,
    );
    let still = Series::from_pairs((0..3000).map(|i| (f64::from(i), 0.0)), Series::DEFAULT_HOLD);
    for series in [Series::new(), short.unwrap(), still.unwrap()] {
        let refused = placed(&reference, &(series, Series::new(), Vec::new())).unwrap_err();
        assert!(refused.contains("record longer"), "{refused}");
    }
}
