//! Fitness Machine Service: supported ranges.

use crate::table::{BY_HAND, LIBRARY_TESTS, Vector, check, ids_of, vector};
use sensor::fitness_machine::ResistanceWidth;
use sensor::fitness_machine::ranges::{
    HeartRateRange, InclinationRange, PowerRange, ResistanceRange, SpeedRange,
};

/// The vectors of this file.
pub fn ids() -> Vec<&'static str> {
    [
        ids_of(&power_vectors()),
        ids_of(&resistance_vectors()),
        ids_of(&inclination_vectors()),
        ids_of(&speed_vectors()),
        ids_of(&heart_rate_vectors()),
    ]
    .concat()
}

fn power_vectors() -> Vec<Vector<PowerRange>> {
    vec![
        vector(
            "G1",
            "0100 E803 0500",
            PowerRange {
                min_w: 1,
                max_w: 1000,
                step_w: 5,
            },
            LIBRARY_TESTS,
        ),
        vector(
            "G2",
            "9CFF D007 0100",
            PowerRange {
                min_w: -100,
                max_w: 2000,
                step_w: 1,
            },
            BY_HAND,
        ),
    ]
}

#[test]
fn power() {
    let odd = check(
        &power_vectors(),
        PowerRange::decode,
        PowerRange::encode,
        &[],
    );
    assert!(odd.is_empty(), "{odd:?}");
}

fn resistance_vectors() -> Vec<Vector<ResistanceRange>> {
    vec![
        vector(
            "G3",
            "0000 E803 0A00",
            ResistanceRange {
                min: 0.0,
                max: 100.0,
                step: 1.0,
                width: ResistanceWidth::TwoOctets,
            },
            BY_HAND,
        ),
        vector(
            "G4",
            "01 14 01",
            ResistanceRange {
                min: 1.0,
                max: 20.0,
                step: 1.0,
                width: ResistanceWidth::OneOctet,
            },
            LIBRARY_TESTS,
        ),
    ]
}

#[test]
fn resistance() {
    let odd = check(
        &resistance_vectors(),
        ResistanceRange::decode,
        ResistanceRange::encode,
        &[],
    );
    assert_eq!(odd, ["G4"]);
}

fn inclination_vectors() -> Vec<Vector<InclinationRange>> {
    vec![vector(
        "G5",
        "9CFF C800 0500",
        InclinationRange {
            min_pct: -10.0,
            max_pct: 20.0,
            step_pct: 0.5,
        },
        BY_HAND,
    )]
}

#[test]
fn inclination() {
    let odd = check(
        &inclination_vectors(),
        InclinationRange::decode,
        InclinationRange::encode,
        &[],
    );
    assert!(odd.is_empty(), "{odd:?}");
}

fn speed_vectors() -> Vec<Vector<SpeedRange>> {
    vec![vector(
        "G6",
        "0000 8813 0A00",
        SpeedRange {
            min_kmh: 0.0,
            max_kmh: 50.0,
            step_kmh: 0.1,
        },
        BY_HAND,
    )]
}

#[test]
fn speed() {
    let odd = check(
        &speed_vectors(),
        SpeedRange::decode,
        SpeedRange::encode,
        &[],
    );
    assert!(odd.is_empty(), "{odd:?}");
}

fn heart_rate_vectors() -> Vec<Vector<HeartRateRange>> {
    vec![vector(
        "G7",
        "3C DC 01",
        HeartRateRange {
            min_bpm: 60,
            max_bpm: 220,
            step_bpm: 1,
        },
        BY_HAND,
    )]
}

#[test]
fn heart_rate() {
    let odd = check(
        &heart_rate_vectors(),
        HeartRateRange::decode,
        HeartRateRange::encode,
        &[],
    );
    assert!(odd.is_empty(), "{odd:?}");
}
