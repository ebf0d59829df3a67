//! From packets to readings: split records, two services of one device, roll-over, gaps, zeros at
//! their moment, and bytes that no instrument should send.

use proptest::collection::vec;
use proptest::prelude::*;
use sensor::assigned;
use sensor::stream::{Oddity, Quantity, Reading, StreamDecoder};
use units::{Characteristic, Packet, SourceId, Timestamp};

const POWER: Characteristic = assigned::CYCLING_POWER_MEASUREMENT;
const BIKE: Characteristic = assigned::INDOOR_BIKE_DATA;

fn at(millis: i64) -> Timestamp {
    Timestamp::from_millis(millis)
}

fn packet(millis: i64, epoch: u32, characteristic: Characteristic, hex: &str) -> Packet {
    let byte = |text: &str| u8::from_str_radix(text, 16).expect("hexadecimal bytes");
    Packet {
        at: at(millis),
        source: SourceId(7),
        epoch,
        characteristic,
        bytes: hex.split_whitespace().map(byte).collect(),
    }
}

/// Readings as origin, quantity and value.
fn values(readings: &[Reading]) -> Vec<(Characteristic, Quantity, f64)> {
    readings
        .iter()
        .map(|one| (one.origin, one.quantity, one.value))
        .collect()
}

fn words(oddities: &[Oddity]) -> Vec<&str> {
    oddities
        .iter()
        .map(|oddity| oddity.words.as_str())
        .collect()
}

/// Vectors I9a and I9b of the shared list, worked by hand from table 4.10 of Fitness Machine
/// Service 1.0: one record in two notifications.
#[test]
fn a_split_record_gives_its_readings_when_it_is_closed() {
    let mut decoder = StreamDecoder::new();
    let first = "95 09 A0 00 10 27 00 B9 00 20 03 FF FF FF 18 15";
    assert_eq!(values(&decoder.handle(&packet(0, 1, BIKE, first))), []);
    let readings = decoder.handle(&packet(40, 1, BIKE, "40 00 B8 0B C8 00"));
    assert_eq!(
        values(&readings),
        [
            (BIKE, Quantity::PowerW, 200.0),
            (BIKE, Quantity::CadenceRpm, 80.0),
            (BIKE, Quantity::SpeedKmh, 30.0),
            (BIKE, Quantity::DistanceM, 10_000.0),
            (BIKE, Quantity::ElapsedS, 5400.0),
        ]
    );
    assert!(readings.iter().all(|reading| reading.at == at(40)));
    assert!(decoder.take_oddities().is_empty());
}

#[test]
fn a_record_that_a_link_loss_cut_in_two_is_not_mended_by_the_next_link() {
    let mut decoder = StreamDecoder::new();
    decoder.handle(&packet(0, 1, BIKE, "05 00 91 00"));
    let readings = decoder.handle(&packet(9000, 2, BIKE, "40 00 B8 0B C8 00"));
    let cadence = |reading: &Reading| reading.quantity == Quantity::CadenceRpm;
    assert!(!readings.iter().any(cadence));
}

/// Vectors P5 and I4: both services of one device are kept, each with its origin.
#[test]
fn two_services_of_one_device_are_two_streams() {
    let mut decoder = StreamDecoder::new();
    let meter = decoder.handle(&packet(0, 1, POWER, "20 00 70 01 90 01 00 04"));
    let bike = decoder.handle(&packet(10, 1, BIKE, "44 00 B8 0B B4 00 FA 00"));
    assert_eq!(values(&meter), [(POWER, Quantity::PowerW, 368.0)]);
    assert_eq!(values(&bike)[0], (BIKE, Quantity::PowerW, 250.0));
    assert_eq!(values(&bike)[1], (BIKE, Quantity::CadenceRpm, 90.0));
    // The cadence of the other service has no record of its own, so its zero is due alone.
    assert_eq!(decoder.poll_timeout(), Some(at(3000)));
    let zeros = decoder.handle_time(at(60_000));
    assert_eq!(values(&zeros), [(POWER, Quantity::CadenceRpm, 0.0)]);
    assert_eq!(zeros[0].at, at(3000));
    assert_eq!(decoder.poll_timeout(), None);
}

/// Vectors P10 and P11: 63.867 rpm and 1 N·m across the roll-over of every counter.
#[test]
fn cadence_and_torque_go_on_across_the_roll_over() {
    let mut decoder = StreamDecoder::new();
    decoder.handle(&packet(0, 1, POWER, "2C 00 C8 00 00 20 FF FF 00 FC"));
    let readings = decoder.handle(&packet(1900, 1, POWER, "2C 00 D2 00 40 20 01 00 84 03"));
    let [power, cadence, torque] = &readings[..] else {
        panic!("{readings:?}");
    };
    assert_eq!(power.value, 210.0);
    assert!((cadence.value - 63.867).abs() < 1e-3);
    assert_eq!((torque.quantity, torque.value), (Quantity::TorqueNm, 1.0));
}

#[test]
fn a_torque_counted_at_the_wheel_is_not_divided_by_crank_turns() {
    let mut decoder = StreamDecoder::new();
    decoder.handle(&packet(0, 1, POWER, "24 00 C8 00 00 20 01 00 00 04"));
    let readings = decoder.handle(&packet(1000, 1, POWER, "24 00 C8 00 40 20 02 00 00 08"));
    assert_eq!(readings.len(), 2, "{readings:?}");
}

/// Wheel counters tick twice as fast in one service as in the other (bluetooth.md §10 D).
#[test]
fn wheel_speed_takes_the_clock_of_its_service() {
    let mut decoder = StreamDecoder::new();
    decoder.handle(&packet(0, 1, POWER, "10 00 00 00 00 00 00 00 00 00"));
    let power = decoder.handle(&packet(1000, 1, POWER, "10 00 00 00 02 00 00 00 00 08"));
    let speed = assigned::CSC_MEASUREMENT;
    decoder.handle(&packet(0, 1, speed, "01 00 00 00 00 00 00"));
    let other = decoder.handle(&packet(1000, 1, speed, "01 02 00 00 00 00 04"));
    assert_eq!(values(&power)[1], (POWER, Quantity::WheelRpm, 120.0));
    assert_eq!(values(&other)[0], (speed, Quantity::WheelRpm, 120.0));
}

#[test]
fn after_a_gap_or_a_new_link_the_first_difference_is_dropped() {
    for (millis, epoch) in [(2500, 1), (1000, 2)] {
        let mut decoder = StreamDecoder::new();
        decoder.handle(&packet(0, 1, POWER, "20 00 C8 00 01 00 00 04"));
        let readings = decoder.handle(&packet(millis, epoch, POWER, "20 00 C8 00 05 00 00 14"));
        assert_eq!(values(&readings), [(POWER, Quantity::PowerW, 200.0)]);
        assert!(decoder.take_oddities().is_empty());
    }
}

#[test]
fn what_cannot_be_read_is_told_with_its_place_and_gives_no_reading() {
    let cases = [
        (
            POWER,
            "",
            "Cycling Power Measurement (2A63) needs 2 bytes but has 0",
        ),
        (
            POWER,
            "20 00 C8 00",
            "Cycling Power Measurement (2A63) needs 8 bytes but has 4",
        ),
        (
            BIKE,
            "44 00 B8",
            "Indoor Bike Data (2AD2) needs 8 bytes but has 3",
        ),
        (
            assigned::FITNESS_MACHINE_CONTROL_POINT,
            "80 05",
            "Fitness Machine Control Point (2AD9) needs 3 bytes but has 2",
        ),
        (
            assigned::FITNESS_MACHINE_STATUS,
            "66",
            "Fitness Machine Status (2ADA) has the unknown op code 0x66",
        ),
        (
            assigned::BATTERY_LEVEL,
            "FF",
            "battery level has the value 255, which is out of its range",
        ),
    ];
    for (characteristic, bytes, expected) in cases {
        let mut decoder = StreamDecoder::new();
        assert!(
            decoder
                .handle(&packet(5, 1, characteristic, bytes))
                .is_empty()
        );
        let oddities = decoder.take_oddities();
        assert_eq!(words(&oddities), [expected]);
        assert_eq!((oddities[0].at, oddities[0].source), (at(5), SourceId(7)));
        assert!(decoder.take_oddities().is_empty());
    }
}

#[test]
fn counters_that_make_no_sense_are_told_and_give_no_rate() {
    let mut decoder = StreamDecoder::new();
    decoder.handle(&packet(0, 1, POWER, "20 00 C8 00 01 00 00 04"));
    let same_time = decoder.handle(&packet(500, 1, POWER, "20 00 C8 00 02 00 00 04"));
    let restarted = decoder.handle(&packet(1000, 1, POWER, "20 00 C8 00 00 00 10 04"));
    assert_eq!((same_time.len(), restarted.len()), (1, 1));
    let oddities = decoder.take_oddities();
    assert_eq!(
        words(&oddities)[0],
        "crank revolutions without any time between them"
    );
    assert!(words(&oddities)[1].contains("they restarted"));
}

/// A left share beyond 100 % is odd and no reading; one without a side is no left share.
#[test]
fn a_balance_is_read_only_where_it_is_the_lefts_and_possible() {
    for (bytes, expected) in [
        ("03 00 C8 00 64", vec![50.0]),
        ("01 00 C8 00 64", vec![]),
        ("03 00 C8 00 FF", vec![]),
    ] {
        let readings = StreamDecoder::new().handle(&packet(0, 1, POWER, bytes));
        let balance: Vec<_> = readings
            .iter()
            .filter(|reading| reading.quantity == Quantity::LeftBalancePct)
            .map(|reading| reading.value)
            .collect();
        assert_eq!(balance, expected, "{bytes}");
    }
}

proptest! {
    /// Any bytes of any characteristic, at any times, over any links.
    #[test]
    fn no_bytes_make_it_panic_and_every_reading_is_finite(
        packets in vec(
            (0..9000i64, 0..3u32, any::<prop::sample::Index>(), vec(any::<u8>(), 0..40)),
            1..60,
        ),
    ) {
        let mut decoder = StreamDecoder::new();
        let mut now = 0;
        for (pause, epoch, which, bytes) in packets {
            now += pause;
            let zeros = decoder.handle_time(at(now));
            prop_assert!(zeros.iter().all(|zero| zero.at <= at(now) && zero.value == 0.0));
            prop_assert!(decoder.poll_timeout().is_none_or(|due| due > at(now)));
            let characteristic = *which.get(assigned::ALL);
            let packet = Packet { at: at(now), source: SourceId(7), epoch, characteristic, bytes };
            let readings = decoder.handle(&packet);
            prop_assert!(readings.len() <= 12);
            for reading in readings {
                prop_assert!(reading.value.is_finite());
                prop_assert_eq!(reading.origin, characteristic);
            }
            // One record has few fields, so few things can be odd about it.
            prop_assert!(decoder.take_oddities().len() <= 8);
        }
    }
}
