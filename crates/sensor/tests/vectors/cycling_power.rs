//! Cycling Power Service: measurement, feature, vector and sensor location.

use crate::table::{BY_HAND, LIBRARY_TESTS, PROFILE_TESTS, Vector, check, ids_of, vector};
use sensor::cycling_power::feature::CyclingPowerFeature;
use sensor::cycling_power::location::SensorLocation;
use sensor::cycling_power::measurement::{
    AccumulatedTorque, BalanceReference, CrankRevolutions, CyclingPowerMeasurement, ExtremeAngles,
    ExtremeForce, ExtremeTorque, PedalPowerBalance, TorqueSource, WheelRevolutions,
};
use sensor::cycling_power::vector::{CyclingPowerVector, MeasurementDirection, VectorSamples};

/// The vectors of this file.
pub fn ids() -> Vec<&'static str> {
    [
        ids_of(&measurement_vectors()),
        ids_of(&feature_vectors()),
        ids_of(&sample_vectors()),
        ids_of(&location_vectors()),
    ]
    .concat()
}

fn measurement_vectors() -> Vec<Vector<CyclingPowerMeasurement>> {
    vec![
        vector(
            "P1",
            "0000 FA00",
            CyclingPowerMeasurement {
                power_w: 250,
                ..Default::default()
            },
            LIBRARY_TESTS,
        ),
        vector(
            "P2",
            "0100 2C01 64",
            CyclingPowerMeasurement {
                power_w: 300,
                balance: Some(PedalPowerBalance {
                    percent: 50.0,
                    reference: BalanceReference::Unknown,
                }),
                ..Default::default()
            },
            LIBRARY_TESTS,
        ),
        vector(
            "P3",
            "0008 4001 0A00",
            CyclingPowerMeasurement {
                power_w: 320,
                energy_kj: Some(10),
                ..Default::default()
            },
            LIBRARY_TESTS,
        ),
        vector(
            "P4",
            "1000 4B01 39300000 0008",
            CyclingPowerMeasurement {
                power_w: 331,
                wheel: Some(WheelRevolutions {
                    revolutions: 12345,
                    event_time_2048: 2048,
                }),
                ..Default::default()
            },
            LIBRARY_TESTS,
        ),
        vector(
            "P5",
            "2000 7001 9001 0004",
            CyclingPowerMeasurement {
                power_w: 368,
                crank: Some(CrankRevolutions {
                    revolutions: 400,
                    event_time_1024: 1024,
                }),
                ..Default::default()
            },
            LIBRARY_TESTS,
        ),
        vector(
            "P6",
            "3108 9401 6E 39300000 0010 9001 0008 1500",
            CyclingPowerMeasurement {
                power_w: 404,
                balance: Some(PedalPowerBalance {
                    percent: 55.0,
                    reference: BalanceReference::Unknown,
                }),
                wheel: Some(WheelRevolutions {
                    revolutions: 12345,
                    event_time_2048: 4096,
                }),
                crank: Some(CrankRevolutions {
                    revolutions: 400,
                    event_time_1024: 2048,
                }),
                energy_kj: Some(21),
                ..Default::default()
            },
            LIBRARY_TESTS,
        ),
        vector(
            "P7",
            "3F01 6400 32 4001 E8030000 0008 6400 0004 CDAB00",
            CyclingPowerMeasurement {
                power_w: 100,
                balance: Some(PedalPowerBalance {
                    percent: 25.0,
                    reference: BalanceReference::Left,
                }),
                accumulated_torque: Some(AccumulatedTorque {
                    ticks_32: 320,
                    source: TorqueSource::Crank,
                }),
                wheel: Some(WheelRevolutions {
                    revolutions: 1000,
                    event_time_2048: 2048,
                }),
                crank: Some(CrankRevolutions {
                    revolutions: 100,
                    event_time_1024: 1024,
                }),
                extreme_angles: Some(ExtremeAngles {
                    max_deg: 0xBCD,
                    min_deg: 0x00A,
                }),
                ..Default::default()
            },
            PROFILE_TESTS,
        ),
        vector(
            "P8",
            "0000 F6FF",
            CyclingPowerMeasurement {
                power_w: -10,
                ..Default::default()
            },
            PROFILE_TESTS,
        ),
        vector(
            "P9",
            "0010 3200",
            CyclingPowerMeasurement {
                power_w: 50,
                offset_compensation_requested: true,
                ..Default::default()
            },
            PROFILE_TESTS,
        ),
        vector(
            "P10",
            "2C00 C800 0020 FFFF 00FC",
            CyclingPowerMeasurement {
                power_w: 200,
                accumulated_torque: Some(AccumulatedTorque {
                    ticks_32: 8192,
                    source: TorqueSource::Crank,
                }),
                crank: Some(CrankRevolutions {
                    revolutions: 65535,
                    event_time_1024: 64512,
                }),
                ..Default::default()
            },
            BY_HAND,
        ),
        vector(
            "P11",
            "2C00 D200 4020 0100 8403",
            CyclingPowerMeasurement {
                power_w: 210,
                accumulated_torque: Some(AccumulatedTorque {
                    ticks_32: 8256,
                    source: TorqueSource::Crank,
                }),
                crank: Some(CrankRevolutions {
                    revolutions: 1,
                    event_time_1024: 900,
                }),
                ..Default::default()
            },
            BY_HAND,
        ),
        vector(
            "P12",
            "C001 6400 2C01 D4FE 4006 C0F9 BC3A12",
            CyclingPowerMeasurement {
                power_w: 100,
                extreme_force: Some(ExtremeForce {
                    max_n: 300,
                    min_n: -300,
                }),
                extreme_torque: Some(ExtremeTorque {
                    max_nm: 50.0,
                    min_nm: -50.0,
                }),
                extreme_angles: Some(ExtremeAngles {
                    max_deg: 0xABC,
                    min_deg: 0x123,
                }),
                ..Default::default()
            },
            BY_HAND,
        ),
        vector(
            "P13",
            "0006 6400 0A00 BE00",
            CyclingPowerMeasurement {
                power_w: 100,
                top_dead_spot_deg: Some(10),
                bottom_dead_spot_deg: Some(190),
                ..Default::default()
            },
            BY_HAND,
        ),
    ]
}

#[test]
fn measurements() {
    let odd = check(
        &measurement_vectors(),
        CyclingPowerMeasurement::decode,
        CyclingPowerMeasurement::encode,
        &[],
    );
    assert_eq!(odd, ["P7", "P12"]);
}

fn feature_vectors() -> Vec<Vector<Vec<u32>>> {
    vec![
        vector("F1", "0C000000", vec![2, 3], BY_HAND),
        vector(
            "F2",
            "0F121900",
            vec![0, 1, 2, 3, 9, 12, 16, 19, 20],
            BY_HAND,
        ),
    ]
}

#[test]
fn features() {
    let odd = check(
        &feature_vectors(),
        |bytes| Ok(CyclingPowerFeature::decode(bytes)?.map(|set| bits_set(set.0))),
        |bits| CyclingPowerFeature(set_of(bits)).encode(),
        &[],
    );
    assert!(odd.is_empty(), "{odd:?}");
}

fn bits_set(set: u32) -> Vec<u32> {
    (0..32).filter(|bit| set >> bit & 1 == 1).collect()
}

fn set_of(bits: &[u32]) -> u32 {
    bits.iter().fold(0, |set, bit| set | 1 << bit)
}

fn sample_vectors() -> Vec<Vector<CyclingPowerVector>> {
    vec![
        vector(
            "W1",
            "07 2A01 8007 B400 6400 9600",
            CyclingPowerVector {
                crank: Some(CrankRevolutions {
                    revolutions: 298,
                    event_time_1024: 1920,
                }),
                first_angle_deg: Some(180),
                samples: Some(VectorSamples::ForceN(vec![100, 150])),
                direction: MeasurementDirection::Unknown,
            },
            LIBRARY_TESTS,
        ),
        vector(
            "W2",
            "0B E803 0004 6801 A000 C000",
            CyclingPowerVector {
                crank: Some(CrankRevolutions {
                    revolutions: 1000,
                    event_time_1024: 1024,
                }),
                first_angle_deg: Some(360),
                samples: Some(VectorSamples::TorqueNm(vec![5.0, 6.0])),
                direction: MeasurementDirection::Unknown,
            },
            LIBRARY_TESTS,
        ),
        vector(
            "W3",
            "18 A000 60FF",
            CyclingPowerVector {
                samples: Some(VectorSamples::TorqueNm(vec![5.0, -5.0])),
                direction: MeasurementDirection::Tangential,
                ..Default::default()
            },
            BY_HAND,
        ),
    ]
}

#[test]
fn vectors_of_samples() {
    let odd = check(
        &sample_vectors(),
        CyclingPowerVector::decode,
        CyclingPowerVector::encode,
        &[],
    );
    assert!(odd.is_empty(), "{odd:?}");
}

fn location_vectors() -> Vec<Vector<SensorLocation>> {
    vec![
        vector("L1", "0D", SensorLocation::RearHub, BY_HAND),
        vector("L2", "0F", SensorLocation::Spider, BY_HAND),
    ]
}

#[test]
fn sensor_locations() {
    let odd = check(
        &location_vectors(),
        SensorLocation::decode,
        SensorLocation::encode,
        &[],
    );
    assert!(odd.is_empty(), "{odd:?}");
}
