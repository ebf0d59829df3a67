//! Fitness Machine Service: indoor bike data and features.

use crate::table::{BY_HAND, LIBRARY_TESTS, Vector, check, ids_of, vector};
use sensor::fitness_machine::ResistanceWidth;
use sensor::fitness_machine::feature::{FitnessMachineFeature, MachineFeatures, TargetFeatures};
use sensor::fitness_machine::indoor_bike_data::{ExpendedEnergy, IndoorBikeData, ResistanceLevel};
use sensor::{DecodeError, Decoded};

/// The vectors of this file.
pub fn ids() -> Vec<&'static str> {
    [ids_of(&bike_vectors()), ids_of(&feature_vectors())].concat()
}

fn bike_vectors() -> Vec<Vector<IndoorBikeData>> {
    vec![
        vector(
            "I1",
            "0402 C409 B400 9B",
            IndoorBikeData {
                speed_kmh: Some(25.0),
                cadence_rpm: Some(90.0),
                heart_rate_bpm: Some(155),
                ..Default::default()
            },
            LIBRARY_TESTS,
        ),
        vector(
            "I2",
            "0500 9100",
            IndoorBikeData {
                cadence_rpm: Some(72.5),
                ..Default::default()
            },
            LIBRARY_TESTS,
        ),
        vector(
            "I3",
            "C100 CEFF E7FF",
            IndoorBikeData {
                power_w: Some(-50),
                average_power_w: Some(-25),
                ..Default::default()
            },
            LIBRARY_TESTS,
        ),
        vector(
            "I4",
            "4400 B80B B400 FA00",
            IndoorBikeData {
                speed_kmh: Some(30.0),
                cadence_rpm: Some(90.0),
                power_w: Some(250),
                ..Default::default()
            },
            BY_HAND,
        ),
        vector(
            "I5",
            "6400 B80B B400 1400 FA00",
            IndoorBikeData {
                speed_kmh: Some(30.0),
                cadence_rpm: Some(90.0),
                resistance: Some(ResistanceLevel {
                    raw: 20,
                    width: ResistanceWidth::TwoOctets,
                }),
                power_w: Some(250),
                ..Default::default()
            },
            BY_HAND,
        ),
        vector(
            "I6",
            "6400 B80B B400 14 FA00",
            IndoorBikeData {
                speed_kmh: Some(30.0),
                cadence_rpm: Some(90.0),
                resistance: Some(ResistanceLevel {
                    raw: 20,
                    width: ResistanceWidth::OneOctet,
                }),
                power_w: Some(250),
                ..Default::default()
            },
            BY_HAND,
        ),
        vector(
            "I7",
            "FE1F B80B F00A A000 9600 102700 0700 C800 B900 2003 9001 07 91 50 1815 5802",
            IndoorBikeData {
                speed_kmh: Some(30.0),
                average_speed_kmh: Some(28.0),
                cadence_rpm: Some(80.0),
                average_cadence_rpm: Some(75.0),
                distance_m: Some(10000),
                resistance: Some(ResistanceLevel {
                    raw: 7,
                    width: ResistanceWidth::TwoOctets,
                }),
                power_w: Some(200),
                average_power_w: Some(185),
                energy: Some(ExpendedEnergy {
                    total_kcal: Some(800),
                    per_hour_kcal: Some(400),
                    per_minute_kcal: Some(7),
                }),
                heart_rate_bpm: Some(145),
                metabolic_equivalent: Some(8.0),
                elapsed_s: Some(5400),
                remaining_s: Some(600),
            },
            BY_HAND,
        ),
        vector(
            "I8",
            "FE1F B80B F00A A000 9600 102700 07 C800 B900 2003 9001 07 91 50 1815 5802",
            IndoorBikeData {
                speed_kmh: Some(30.0),
                average_speed_kmh: Some(28.0),
                cadence_rpm: Some(80.0),
                average_cadence_rpm: Some(75.0),
                distance_m: Some(10000),
                resistance: Some(ResistanceLevel {
                    raw: 7,
                    width: ResistanceWidth::OneOctet,
                }),
                power_w: Some(200),
                average_power_w: Some(185),
                energy: Some(ExpendedEnergy {
                    total_kcal: Some(800),
                    per_hour_kcal: Some(400),
                    per_minute_kcal: Some(7),
                }),
                heart_rate_bpm: Some(145),
                metabolic_equivalent: Some(8.0),
                elapsed_s: Some(5400),
                remaining_s: Some(600),
            },
            LIBRARY_TESTS,
        ),
        vector(
            "I9a",
            "9509 A000 102700 B900 2003 FFFF FF 1815",
            IndoorBikeData {
                cadence_rpm: Some(80.0),
                distance_m: Some(10000),
                average_power_w: Some(185),
                energy: Some(ExpendedEnergy {
                    total_kcal: Some(800),
                    per_hour_kcal: None,
                    per_minute_kcal: None,
                }),
                elapsed_s: Some(5400),
                ..Default::default()
            },
            BY_HAND,
        ),
        vector(
            "I9b",
            "4000 B80B C800",
            IndoorBikeData {
                speed_kmh: Some(30.0),
                power_w: Some(200),
                ..Default::default()
            },
            BY_HAND,
        ),
    ]
}

#[test]
fn indoor_bike_data() {
    let odd = check(
        &bike_vectors(),
        IndoorBikeData::decode,
        IndoorBikeData::encode,
        &[],
    );
    assert_eq!(odd, ["I6", "I8"]);
}

fn feature_vectors() -> Vec<Vector<Features>> {
    vec![
        vector(
            "A1",
            "82400000 0CE00000",
            (vec![1, 7, 14], vec![2, 3, 13, 14, 15]),
            BY_HAND,
        ),
        vector(
            "A2",
            "80740000 1F200000",
            (vec![7, 10, 12, 13, 14], vec![0, 1, 2, 3, 4, 13]),
            LIBRARY_TESTS,
        ),
    ]
}

#[test]
fn features() {
    let odd = check(&feature_vectors(), decode_feature, encode_feature, &[]);
    assert!(odd.is_empty(), "{odd:?}");
}

fn bits_set(set: u32) -> Vec<u32> {
    (0..32).filter(|bit| set >> bit & 1 == 1).collect()
}

fn set_of(bits: &[u32]) -> u32 {
    bits.iter().fold(0, |set, bit| set | 1 << bit)
}

fn decode_feature(bytes: &[u8]) -> Result<Decoded<Features>, DecodeError> {
    Ok(FitnessMachineFeature::decode(bytes)?.map(|feature| {
        let settable = feature.settable.expect("both halves are in the vectors");
        (bits_set(feature.measures.0), bits_set(settable.0))
    }))
}

/// The bits set in what is measured and in what can be set.
type Features = (Vec<u32>, Vec<u32>);

fn encode_feature((measures, settable): &Features) -> Vec<u8> {
    let measures = MachineFeatures(set_of(measures));
    let settable = Some(TargetFeatures(set_of(settable)));
    FitnessMachineFeature { measures, settable }.encode()
}
