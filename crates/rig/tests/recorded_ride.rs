//! The rider repeats a real recorded ride.
//!
//! The ride is the file `tests/fixtures/hrv-activity.fit` of the package fitparser 0.11.0 (MIT):
//! an indoor ride with power and cadence. It is read where cargo keeps the package, not copied.

#![allow(
    clippy::unwrap_used,
    clippy::print_stderr,
    reason = "a test: it panics and says what it skips"
)]

mod common;

use common::{Bench, CRANK, POWER};
use rig::{Instruction, RecordedRide, Rig, built_in};
use std::path::PathBuf;
use std::sync::Arc;
use units::{Span, Timestamp};

/// The recorded ride, or a loud skip where the package is not unpacked.
fn ride() -> Option<RecordedRide> {
    let path = fixture().or_else(|| {
        eprintln!("SKIPPED: the package fitparser 0.11.0 with its recorded ride was not found");
        None
    })?;
    let bytes = std::fs::read(&path).unwrap();
    Some(RecordedRide::from_fit(&bytes, "hrv-activity.fit").unwrap())
}

/// Where cargo unpacks packages: `registry/src/<registry>/fitparser-0.11.0` in its home.
fn fixture() -> Option<PathBuf> {
    let home = std::env::var_os("CARGO_HOME").map(PathBuf::from);
    let home = home.or_else(|| Some(std::env::home_dir()?.join(".cargo")))?;
    std::fs::read_dir(home.join("registry/src"))
        .ok()?
        .flatten()
        .map(|registry| {
            registry
                .path()
                .join("fitparser-0.11.0/tests/fixtures/hrv-activity.fit")
        })
        .find(|path| path.exists())
}

/// Decoded independently with two Python libraries (fitdecode 0.11.0 and fitparse 1.2.0, MIT):
/// 1072 records, 1071 with power, mean 183.7609710550887 W, highest 951 W, one gap of 2 s after
/// record 841, power missing in record 842; means over records 0–99, 100–399 and 400–799 of
/// 156.85, 191.003333 and 200.055 W.
#[test]
fn the_ride_is_read_as_other_readers_read_it() {
    let Some(ride) = ride() else { return };
    assert_eq!((ride.len(), ride.with_power()), (1072, 1071));
    assert!((ride.mean_power() - 183.760_971_055_088_7).abs() < 1e-9);
    assert_eq!(ride.most_power_w(), 951.0);
    assert_eq!(ride.records()[842].power_w, None);
    assert_eq!(
        ride.records()[842].at - ride.records()[841].at,
        Span::from_secs(2)
    );
    let slice_mean = |range: std::ops::Range<usize>| {
        let powers: Vec<f64> = ride.records()[range]
            .iter()
            .filter_map(|record| record.power_w)
            .collect();
        powers.iter().sum::<f64>() / powers.len() as f64
    };
    assert!((slice_mean(0..100) - 156.85).abs() < 1e-9);
    assert!((slice_mean(100..400) - 191.003_333).abs() < 1e-6);
    assert!((slice_mean(400..800) - 200.055).abs() < 1e-9);
    // 16:47:52 to 17:05:44 are 1072 s, and the last record counts for one.
    assert_eq!(ride.duration(), Span::from_secs(1073));
}

/// Independent means again, now at the crank of the rig: what the legs did is what was recorded.
#[test]
fn the_rider_repeats_the_ride_second_by_second() {
    let Some(ride) = ride() else { return };
    let ride = Arc::new(ride);
    let mut rig = Rig::new(built_in("honest").unwrap(), 1);
    rig.connect(Timestamp::ZERO);
    let mut bench = Bench {
        rig,
        now: Timestamp::ZERO,
        packets: Vec::new(),
    };
    bench.run(4.0);
    let begin = bench.now;
    bench.rig.reproduce(begin, Arc::clone(&ride));
    bench.instruct(Instruction::Cadence { rpm: 40.0 });
    bench.run(1080.0);

    let truth = bench.rig.truth();
    let (mut near, mut compared) = (0, 0);
    for record in ride.records().iter().skip(5) {
        let Some(power_w) = record.power_w else {
            continue;
        };
        let from = begin + record.at;
        let to = from + Span::from_secs(1);
        let true_w = truth.crank_power_w.mean_over(from, to).unwrap().value;
        compared += 1;
        near += i32::from((true_w - power_w).abs() <= 1.0 + 0.02 * power_w);
    }
    assert!(
        near * 100 >= compared * 98,
        "{near} of {compared} seconds are as recorded"
    );
    let mean_w = truth
        .crank_power_w
        .mean_over(begin, begin + ride.duration())
        .unwrap()
        .value;
    assert!((mean_w / 183.76 - 1.0).abs() < 0.01, "{mean_w}");
    let rpm = truth
        .cadence_rpm
        .mean_over(begin, begin + ride.duration())
        .unwrap()
        .value;
    // Mean recorded cadence 77.98041 rpm (same independent readers).
    assert!((rpm / 77.98 - 1.0).abs() < 0.02, "{rpm}");
    let seen_w = bench.mean_power(CRANK, POWER, begin, begin + ride.duration());
    assert!((seen_w / 183.76 - 1.0).abs() < 0.02, "{seen_w}");
}
