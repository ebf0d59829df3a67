//! Recorders with clocks of their own, against constructed truth. The seeds are fixed and none of
//! them was used to choose a number of the method; the study behind it is
//! `examples/placing_study.rs`.

#![allow(
    clippy::unwrap_used,
    reason = "a test may stop where its own data are wrong"
)]

mod common;
mod recorders;

use analysis::align::Agreement;
use recorders::{Course, Legs, Pause, Record, Recorder, Riding, Stamps, placed};
use units::{Series, Span};

const FIRST: u64 = 700_001;
const RIDES: u64 = 24;

/// The pause of the issue, a minute long.
fn pause(is_counted: bool) -> Vec<Pause> {
    vec![Pause {
        from_s: 1500.0,
        to_s: 1560.0,
        is_counted,
    }]
}

fn pair(riding: Riding, seed: u64, device: &Recorder) -> (Record, Record) {
    let legs = Legs::ride(&Course::new(riding, seed, 3700), seed);
    (
        Recorder::reference().record(&legs, 10.0, 3600.0, seed + 1),
        device.record(&legs, 120.0, 3500.0, seed + 2),
    )
}

/// Places a pair; the largest error of all moments that may be judged, how many of them lie within
/// twice the stated uncertainty, and how many there are.
fn worst(riding: Riding, seed: u64, device: &Recorder) -> (f64, usize, usize) {
    let (reference, stream) = pair(riding, seed, device);
    let placement = placed(&reference, &stream).unwrap();
    let found = placement.jumps();
    assert_eq!(
        found.len(),
        stream.hidden.len(),
        "{riding:?}, {seed}: {found:?}"
    );
    for (jump, (from_s, to_s)) in found.iter().zip(&stream.hidden) {
        assert!((jump.by_s - (to_s - from_s)).abs() < 0.2, "{jump:?}");
        let inside = jump.from.as_secs_f64() <= *from_s && *to_s <= jump.to.as_secs_f64();
        assert!(inside, "{riding:?}, {seed}: {jump:?}");
        // What nobody is sure of is the pause and less than a minute beside it.
        let unsure_s = (jump.to - jump.from).as_secs_f64() - (to_s - from_s);
        assert!(unsure_s < 60.0, "{riding:?}, {seed}: {unsure_s}");
    }
    assert_eq!(
        placement.agreement(),
        Agreement::Details,
        "{riding:?}, {seed}"
    );
    let errors = stream.errors(&placement, &reference);
    assert!(errors.len() > 3000, "{}", errors.len());
    let worst = errors.iter().map(|error| error.2.abs());
    let covered = errors
        .iter()
        .filter(|(own, _, error)| error.abs() <= 2.0 * placement.u_s(*own))
        .count();
    (worst.fold(0.0, f64::max), covered, errors.len())
}

/// The numbers: −417.3 s, 35 ppm, 1 Hz beside 4 Hz and a pause of 60 s, whether the
/// recorder's clock counts it or not. Every moment lies within 0.1 s of where it belongs.
#[test]
fn two_recorders_lie_within_a_tenth_of_a_second_throughout() {
    for (what, pauses) in [
        ("no pause", Vec::new()),
        ("a pause that its clock counts", pause(true)),
        ("a pause that its clock does not count", pause(false)),
    ] {
        let device = Recorder {
            pauses,
            ..Recorder::device()
        };
        for seed in FIRST..FIRST + RIDES {
            let (worst, ..) = worst(Riding::Steps, seed, &device);
            assert!(worst <= 0.1, "{what}, ride {seed}: {worst}");
        }
    }
}

/// Other rides and other recorders, some of which tell less: the stated uncertainty says so. Twice
/// of it covers nineteen moments in twenty, within what so many rides can show.
#[test]
fn the_stated_uncertainty_covers_the_error() {
    let base = Recorder::device;
    let devices = [
        Recorder {
            pauses: pause(false),
            ..base()
        },
        Recorder {
            delay_s: 3.0,
            smoothing_s: 3.0,
            ..base()
        },
        Recorder {
            stamps: Stamps::WholeSeconds,
            lost: 0.05,
            ..base()
        },
        Recorder {
            has_cadence: false,
            ..base()
        },
    ];
    let (mut covered, mut moments) = (0, 0);
    for riding in Riding::ALL {
        for (kind, device) in devices.iter().enumerate() {
            for seed in 0..4 {
                let seed = FIRST + 1000 + 10 * kind as u64 + seed;
                let (_, within, of) = worst(riding, seed, device);
                covered += within;
                moments += of;
            }
        }
    }
    let share = covered as f64 / f64::from(u32::try_from(moments).unwrap());
    assert!((0.90..=1.0).contains(&share), "{share}");
}

/// Rides of the study in which the pause was once said to lie where it was not, so that a few moments
/// beside it were wrong by the whole pause: in two of them a lag of chance held for less than a
/// minute between the stretches, in the third the span was narrower than what was known, and in the
/// last the levels beside the pause did not tell the gain for those within it.
#[test]
fn no_moment_beside_a_pause_is_wrong_by_the_pause() {
    let device = Recorder {
        pauses: pause(false),
        ..Recorder::device()
    };
    for seed in [10_120, 10_123, 10_143, 300_014] {
        let (reference, stream) = pair(Riding::Steps, seed, &device);
        let placement = placed(&reference, &stream).unwrap();
        let jumps = placement.jumps();
        assert_eq!(jumps.len(), 1, "{seed}: {jumps:?}");
        let (from_s, to_s) = (jumps[0].from.as_secs_f64(), jumps[0].to.as_secs_f64());
        assert!(from_s <= 1500.0 && 1560.0 <= to_s, "{seed}: {jumps:?}");
        let errors = stream.errors(&placement, &reference);
        let worst = (errors.iter()).fold(0.0, |worst: f64, error| worst.max(error.2.abs()));
        assert!(worst <= 0.1, "{seed}: {worst}");
        // Of 3320 records no more than two minutes and a half are left out for it.
        assert!(errors.len() > 3170, "{seed}: {}", errors.len());
    }
}

/// A recorder that loses a second here and there without counting it: seconds, not pauses.
#[test]
fn seconds_that_no_clock_counted_are_found() {
    let device = Recorder {
        pauses: vec![Pause {
            from_s: 2000.0,
            to_s: 2003.0,
            is_counted: false,
        }],
        ..Recorder::device()
    };
    for seed in FIRST + 2000..FIRST + 2006 {
        let (worst, ..) = worst(Riding::Steps, seed, &device);
        assert!(worst <= 0.1, "{seed}: {worst}");
    }
}

/// A record once a second stands for the second behind it, one four times a second for a quarter:
/// held values of both are laid together.
#[test]
fn held_values_of_different_rates_are_laid_together() {
    let (reference, stream) = pair(Riding::Steps, FIRST, &Recorder::device());
    let placement = placed(&reference, &stream).unwrap();
    assert!(
        (placement.held_s - 0.375).abs() < 1e-6,
        "{}",
        placement.held_s
    );
    let own = stream.power_w.times()[100];
    let moved = placement.series(&stream.power_w).times()[100];
    let early = placement.on_reference_clock(own) - moved;
    assert_eq!(early, Span::from_millis(375));
    let alignment = placement.alignment("device");
    assert!((alignment.shift_s - alignment.lag_s - 0.375).abs() < 1e-6);
    assert_eq!(alignment.stretches.len(), 1);
}

/// Rides of other courses: nothing may be guessed.
#[test]
fn unrelated_rides_are_refused() {
    for riding in Riding::ALL {
        for seed in FIRST..FIRST + 6 {
            let legs = Legs::ride(&Course::new(riding, seed, 3700), seed);
            let other = Legs::ride(&Course::new(riding, seed + 500, 3700), seed + 500);
            let reference = Recorder::reference().record(&legs, 10.0, 3600.0, seed);
            let stream = Recorder::device().record(&other, 0.0, 3500.0, seed);
            let refused = placed(&reference, &stream).unwrap_err().reason;
            assert!(
                refused.contains("device") && refused.contains(';'),
                "{refused}"
            );
        }
    }
}

/// One script on two days: its steps are at the same moments, and nothing else is. Either no place is
/// found, or what is found agrees in steps only.
#[test]
fn one_script_on_two_days_is_not_one_ride() {
    let mut steps_only = 0;
    for riding in [Riding::Steps, Riding::Sprints] {
        for seed in FIRST + 3000..FIRST + 3000 + RIDES {
            let course = Course::new(riding, seed, 3700);
            let (one, other) = (Legs::ride(&course, seed), Legs::ride(&course, seed + 100));
            let reference = Recorder::reference().record(&one, 10.0, 3600.0, seed);
            let stream = Recorder::device().record(&other, 120.0, 3500.0, seed + 1);
            if let Ok(placement) = placed(&reference, &stream) {
                assert_eq!(
                    placement.agreement(),
                    Agreement::StepsOnly,
                    "{riding:?}, {seed}"
                );
                steps_only += 1;
            }
        }
    }
    // Without the details most of them would pass for one ride.
    assert!(steps_only > RIDES, "{steps_only}");
}

/// A device that shows its target has no details: nobody can say, and that is what is said.
#[test]
fn a_device_that_shows_its_target_says_nothing_of_details() {
    let course = Course::new(Riding::Steps, FIRST, 3700);
    let reference = Recorder::reference().record(&Legs::ride(&course, 1), 10.0, 3600.0, 2);
    let echo = Recorder {
        noise_w: 0.0,
        has_cadence: false,
        ..Recorder::device()
    };
    let stream = echo.record(&Legs::target(&course), 120.0, 3500.0, 3);
    let placement = placed(&reference, &stream).unwrap();
    assert_eq!(
        placement.agreement(),
        Agreement::NoDetails,
        "{:?}",
        placement.details
    );
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
        Record::of(Series::from_pairs(pairs, Series::DEFAULT_HOLD).unwrap())
    };
    let refused = placed(&series(0.0), &series(50.0)).unwrap_err().reason;
    assert!(refused.contains("two places"), "{refused}");
}

/// Too short, too quiet, empty: refused with what to do, never a panic.
#[test]
fn what_cannot_be_placed_is_refused() {
    let (reference, _) = pair(Riding::Steps, FIRST, &Recorder::device());
    let held = |count, watts| {
        let pairs = (0..count).map(|i| (f64::from(i), watts));
        Series::from_pairs(pairs, Series::DEFAULT_HOLD).unwrap()
    };
    for series in [Series::new(), held(100, 200.0), held(3000, 0.0)] {
        let refused = placed(&reference, &Record::of(series)).unwrap_err().reason;
        assert!(refused.contains("record longer"), "{refused}");
    }
}
