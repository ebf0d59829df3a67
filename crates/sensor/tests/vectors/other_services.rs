//! Speed and cadence, heart rate and battery.

use crate::table::{BY_HAND, LIBRARY_TESTS, PROFILE_TESTS, Vector, check, ids_of, vector};
use sensor::battery::BatteryLevel;
use sensor::cycling_power::measurement::CrankRevolutions;
use sensor::heart_rate::{HeartRateMeasurement, SensorContact};
use sensor::speed_cadence::{SlowWheelRevolutions, SpeedCadenceMeasurement};

/// The vectors of this file.
pub fn ids() -> Vec<&'static str> {
    [
        ids_of(&speed_cadence_vectors()),
        ids_of(&heart_rate_vectors()),
        ids_of(&battery_vectors()),
    ]
    .concat()
}

fn speed_cadence_vectors() -> Vec<Vector<SpeedCadenceMeasurement>> {
    vec![
        vector(
            "S1",
            "03 0A000000 0004 0500 0002",
            SpeedCadenceMeasurement {
                wheel: Some(SlowWheelRevolutions {
                    revolutions: 10,
                    event_time_1024: 1024,
                }),
                crank: Some(CrankRevolutions {
                    revolutions: 5,
                    event_time_1024: 512,
                }),
            },
            PROFILE_TESTS,
        ),
        vector(
            "S2",
            "02 0700 0001",
            SpeedCadenceMeasurement {
                crank: Some(CrankRevolutions {
                    revolutions: 7,
                    event_time_1024: 256,
                }),
                ..Default::default()
            },
            PROFILE_TESTS,
        ),
        vector(
            "S3",
            "03 F2FFFFFF FEFF 0100 0200",
            SpeedCadenceMeasurement {
                wheel: Some(SlowWheelRevolutions {
                    revolutions: 4294967282,
                    event_time_1024: 65534,
                }),
                crank: Some(CrankRevolutions {
                    revolutions: 1,
                    event_time_1024: 2,
                }),
            },
            BY_HAND,
        ),
    ]
}

#[test]
fn speed_and_cadence() {
    let odd = check(
        &speed_cadence_vectors(),
        SpeedCadenceMeasurement::decode,
        SpeedCadenceMeasurement::encode,
        &[],
    );
    assert!(odd.is_empty(), "{odd:?}");
}

fn heart_rate_vectors() -> Vec<Vector<HeartRateMeasurement>> {
    vec![
        vector(
            "H1",
            "00 50",
            HeartRateMeasurement {
                heart_rate_bpm: 80,
                contact: SensorContact::NotSupported,
                ..Default::default()
            },
            LIBRARY_TESTS,
        ),
        vector(
            "H2",
            "01 C800",
            HeartRateMeasurement {
                heart_rate_bpm: 200,
                contact: SensorContact::NotSupported,
                ..Default::default()
            },
            LIBRARY_TESTS,
        ),
        vector(
            "H3",
            "0E 4B 8000",
            HeartRateMeasurement {
                heart_rate_bpm: 75,
                contact: SensorContact::Detected,
                energy_kj: Some(128),
                ..Default::default()
            },
            LIBRARY_TESTS,
        ),
        vector(
            "H4",
            "1F 2C01 6400 0001 0002",
            HeartRateMeasurement {
                heart_rate_bpm: 300,
                contact: SensorContact::Detected,
                energy_kj: Some(100),
                intervals_1024: vec![256, 512],
            },
            PROFILE_TESTS,
        ),
        vector(
            "H5",
            "04 3C",
            HeartRateMeasurement {
                heart_rate_bpm: 60,
                contact: SensorContact::NotDetected,
                ..Default::default()
            },
            PROFILE_TESTS,
        ),
    ]
}

#[test]
fn heart_rates() {
    let odd = check(
        &heart_rate_vectors(),
        HeartRateMeasurement::decode,
        HeartRateMeasurement::encode,
        &["H2"],
    );
    assert!(odd.is_empty(), "{odd:?}");
}

fn battery_vectors() -> Vec<Vector<BatteryLevel>> {
    vec![vector(
        "Y1",
        "58",
        BatteryLevel { percent: Some(88) },
        PROFILE_TESTS,
    )]
}

#[test]
fn batteries() {
    let odd = check(
        &battery_vectors(),
        BatteryLevel::decode,
        BatteryLevel::encode,
        &[],
    );
    assert!(odd.is_empty(), "{odd:?}");
}
