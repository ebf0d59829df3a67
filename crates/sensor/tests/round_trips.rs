//! Properties of every record: what is decoded is encoded to bytes that decode to the same record,
//! and no bytes whatsoever make a decoder panic.
//!
//! Records are made by decoding random bytes rather than by a generator for each type, so that
//! every combination of flags a decoder accepts is met. The bytes encoded from such a record are
//! by the letter, so encoding must then be the exact inverse.

use proptest::collection::vec;
use proptest::prelude::*;
use sensor::battery::BatteryLevel;
use sensor::cycling_power::control as power_control;
use sensor::cycling_power::feature::CyclingPowerFeature;
use sensor::cycling_power::location::SensorLocation;
use sensor::cycling_power::measurement::CyclingPowerMeasurement;
use sensor::cycling_power::vector::CyclingPowerVector;
use sensor::device_information::{SystemId, decode_text, encode_text};
use sensor::fitness_machine::RecordAssembler;
use sensor::fitness_machine::advertisement::FitnessMachineAdvertisement;
use sensor::fitness_machine::control as machine_control;
use sensor::fitness_machine::feature::FitnessMachineFeature;
use sensor::fitness_machine::indoor_bike_data::IndoorBikeData;
use sensor::fitness_machine::ranges::{
    HeartRateRange, InclinationRange, PowerRange, ResistanceRange, SpeedRange,
};
use sensor::fitness_machine::status::Status;
use sensor::fitness_machine::training_status::TrainingStatus;
use sensor::heart_rate::{BodySensorLocation, HeartRateMeasurement};
use sensor::speed_cadence::{self, SpeedCadenceFeatures, SpeedCadenceMeasurement};
use sensor::{Anomaly, DecodeError, Decoded};
use std::fmt::Debug;

/// Longer than any record with fixed fields, the longest of which has 34 bytes.
const LONGEST: usize = 40;

/// Any bytes.
fn any_bytes() -> impl Strategy<Value = Vec<u8>> {
    vec(any::<u8>(), 0..=LONGEST)
}

/// Bytes that begin with an op code up to `last`, so that each is met about as often.
fn operations(last: u8) -> impl Strategy<Value = Vec<u8>> {
    (0..=last, any_bytes()).prop_map(|(op_code, rest)| [&[op_code], &rest[..]].concat())
}

/// Bytes that begin as a response does: its op code, that of a request up to `last`, a result.
fn responses(response: u8, last: u8) -> impl Strategy<Value = Vec<u8>> {
    let result = prop_oneof![Just(1), Just(4), any::<u8>()];
    (0..=last, result, any_bytes())
        .prop_map(move |(request, result, rest)| [&[response, request, result], &rest[..]].concat())
}

fn check<T: PartialEq + Debug>(
    bytes: &[u8],
    decode: impl Fn(&[u8]) -> Result<Decoded<T>, DecodeError>,
    encode: impl Fn(&T) -> Vec<u8>,
) -> Result<(), TestCaseError> {
    let decoded = match decode(bytes) {
        Ok(decoded) => decoded,
        Err(DecodeError::TooShort { needed, got, .. }) => {
            prop_assert_eq!(got, bytes.len());
            prop_assert!(needed > got);
            return Ok(());
        }
        Err(DecodeError::UnknownOpCode { op_code, .. }) => {
            prop_assert_eq!(op_code, bytes[0]);
            return Ok(());
        }
    };
    let written = encode(&decoded.value);
    let again = match decode(&written) {
        Ok(again) => again,
        Err(error) => {
            return Err(TestCaseError::fail(format!(
                "{decoded:?} as {written:?}: {error}"
            )));
        }
    };
    prop_assert_eq!(&again.value, &decoded.value);
    let is_surplus = |anomaly: &Anomaly| matches!(anomaly, Anomaly::SurplusOctets { .. });
    prop_assert!(!again.anomalies.iter().any(is_surplus));
    if decoded.anomalies.iter().any(is_surplus) {
        prop_assert!(written.len() < bytes.len());
    }
    prop_assert_eq!(encode(&again.value), written);
    Ok(())
}

macro_rules! round_trips {
    ($($name:ident: $record:ty, $bytes:expr;)*) => {
        proptest! {
            $(
                #[test]
                fn $name(bytes in $bytes) {
                    check(&bytes, <$record>::decode, <$record>::encode)?;
                }
            )*
        }
    };
}

round_trips! {
    cycling_power_measurement: CyclingPowerMeasurement, any_bytes();
    cycling_power_vector: CyclingPowerVector, any_bytes();
    cycling_power_feature: CyclingPowerFeature, any_bytes();
    cycling_power_request: power_control::Request, operations(0x12);
    cycling_power_response: power_control::Response, responses(0x20, 0x11);
    sensor_location: SensorLocation, any_bytes();
    speed_cadence_measurement: SpeedCadenceMeasurement, any_bytes();
    speed_cadence_features: SpeedCadenceFeatures, any_bytes();
    speed_cadence_request: speed_cadence::Request, operations(0x05);
    speed_cadence_response: speed_cadence::Response, responses(0x10, 0x05);
    indoor_bike_data: IndoorBikeData, any_bytes();
    fitness_machine_feature: FitnessMachineFeature, any_bytes();
    fitness_machine_request: machine_control::Request, operations(0x16);
    fitness_machine_response: machine_control::Response, responses(0x80, 0x15);
    fitness_machine_status: Status, operations(0x17);
    fitness_machine_advertisement: FitnessMachineAdvertisement, any_bytes();
    training_status: TrainingStatus, any_bytes();
    speed_range: SpeedRange, any_bytes();
    inclination_range: InclinationRange, any_bytes();
    resistance_range: ResistanceRange, any_bytes();
    heart_rate_range: HeartRateRange, any_bytes();
    power_range: PowerRange, any_bytes();
    heart_rate_measurement: HeartRateMeasurement, any_bytes();
    body_sensor_location: BodySensorLocation, any_bytes();
    battery_level: BatteryLevel, any_bytes();
    system_id: SystemId, any_bytes();
    cycling_power_request_of_any_bytes: power_control::Request, any_bytes();
    cycling_power_response_of_any_bytes: power_control::Response, any_bytes();
    speed_cadence_request_of_any_bytes: speed_cadence::Request, any_bytes();
    speed_cadence_response_of_any_bytes: speed_cadence::Response, any_bytes();
    fitness_machine_request_of_any_bytes: machine_control::Request, any_bytes();
    fitness_machine_response_of_any_bytes: machine_control::Response, any_bytes();
    fitness_machine_status_of_any_bytes: Status, any_bytes();
}

proptest! {
    #[test]
    fn device_information_text(bytes in vec(any::<u8>(), 0..LONGEST)) {
        let text = decode_text(&bytes).value;
        prop_assert!(!text.ends_with('\0'));
        prop_assert_eq!(decode_text(&encode_text(&text)).value, text);
    }

    /// However a machine splits a record that holds each field once, the whole comes out.
    #[test]
    fn a_record_split_anywhere_is_put_together(
        bytes in vec(any::<u8>(), 30..=30),
        in_first in any::<[bool; 12]>(),
    ) {
        let mut bytes = bytes;
        (bytes[0], bytes[1]) = (0xFE, 0x1F);
        let whole = IndoorBikeData::decode(&bytes).unwrap().value;
        let (mut first, mut last) = (IndoorBikeData::default(), IndoorBikeData::default());
        last.speed_kmh = whole.speed_kmh;
        let mut field = in_first.into_iter();
        macro_rules! split {
            ($($name:ident),*) => {
                $(
                    let part = if field.next().unwrap() { &mut first } else { &mut last };
                    part.$name = whole.$name;
                )*
            };
        }
        split!(
            average_speed_kmh, cadence_rpm, average_cadence_rpm, distance_m, resistance, power_w,
            average_power_w, energy, heart_rate_bpm, metabolic_equivalent, elapsed_s, remaining_s
        );
        let mut assembler = RecordAssembler::new();
        for part in [&first, &last] {
            let received = IndoorBikeData::decode(&part.encode()).unwrap().value;
            prop_assert_eq!(&received, part);
        }
        prop_assert_eq!(assembler.handle(first), None);
        prop_assert_eq!(assembler.handle(last), Some(whole));
    }
}
