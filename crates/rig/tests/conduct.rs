//! How the instruments behave on the air: what can be read, what writes do, how links come and go.

#![allow(
    clippy::unwrap_used,
    reason = "a test panics on what it did not expect"
)]

mod common;

use common::{Bench, CONTROL, CRANK, METER_CONTROL, PEDALS, POWER, STATUS, TRAINER, secs};
use proptest::prelude::*;
use rig::{
    Fault, Indications, Instruction, LinkState, Load, Rig, RigFile, built_in, built_in_text,
};
use units::{AttError, Characteristic, SourceId, Span, Timestamp};

fn read(bench: &Bench, source: SourceId, number: u16) -> Vec<u8> {
    let characteristic = Characteristic(number);
    let found = bench
        .packets
        .iter()
        .find(|p| p.source == source && p.characteristic == characteristic);
    found
        .unwrap_or_else(|| panic!("{characteristic} was not read"))
        .bytes
        .clone()
}

/// Layouts after the Fitness Machine and Cycling Power services, written out by hand.
#[test]
fn a_fresh_link_tells_everything_that_can_be_read() {
    let mut bench = Bench::new("honest", 1);
    bench.run(1.0);
    // Cadence 1, power 14; resistance 2, power 3, simulation 13, spin-down 15.
    assert_eq!(
        read(&bench, TRAINER, 0x2ACC),
        [0x02, 0x40, 0, 0, 0x0C, 0xA0, 0, 0]
    );
    assert_eq!(read(&bench, TRAINER, 0x2AD4), [0, 0, 0x40, 0x1F, 1, 0]); // 0 to 80.00 km/h
    assert_eq!(read(&bench, TRAINER, 0x2AD6), [0, 0, 0xFA, 0x00, 1, 0]); // 0 to 25.0
    assert_eq!(read(&bench, TRAINER, 0x2AD8), [0, 0, 0xD0, 0x07, 1, 0]); // 0 to 2000 W
    assert_eq!(read(&bench, TRAINER, 0x2A24), b"Ferrule 20");
    assert_eq!(read(&bench, CRANK, 0x2A5D), [0x0F]); // spider
    assert_eq!(read(&bench, CRANK, 0x2A65), [0x0A, 0x16, 0x01, 0x00]);
    assert_eq!(read(&bench, CRANK, 0x2A19), [84]);
    assert_eq!(read(&bench, PEDALS, 0x2A65), [0x09, 0x16, 0x01, 0x00]);
    assert!(bench.packets.iter().all(|packet| packet.epoch == 1));
}

#[test]
fn writes_are_refused_with_the_error_that_fits() {
    let mut bench = Bench::new("honest", 2);
    let write = bench.write(TRAINER, CONTROL, &[0x00]);
    assert_eq!(write, Ok(()));
    assert_eq!(
        bench.write(TRAINER, CONTROL, &[0x00]),
        Err(AttError::Code(0xFE))
    );
    bench.run(1.0);
    for (source, characteristic, bytes, code) in [
        (TRAINER, CONTROL, &[][..], 0x0D),
        (TRAINER, CONTROL, &[0x05; 21][..], 0x0D),
        (TRAINER, Characteristic(0x2ACC), &[0][..], 0x03),
        (TRAINER, Characteristic(0x2A66), &[0x0C][..], 0x0A),
        (CRANK, CONTROL, &[0x00][..], 0x0A),
        (CRANK, POWER, &[0x00][..], 0x03),
    ] {
        assert_eq!(
            bench.write(source, characteristic, bytes),
            Err(AttError::Code(code))
        );
    }
    bench.rig.set_indications(TRAINER, Indications::Off);
    assert_eq!(
        bench.write(TRAINER, CONTROL, &[0x00]),
        Err(AttError::Code(0xFD))
    );
    assert!(matches!(
        bench.write(SourceId(99), CONTROL, &[0]),
        Err(AttError::Other(_))
    ));
    let rig = Rig::new(built_in("honest").unwrap(), 2);
    let mut unconnected = Bench {
        rig,
        now: Timestamp::ZERO,
        packets: Vec::new(),
    };
    assert_eq!(
        unconnected.write(TRAINER, CONTROL, &[0]),
        Err(AttError::NotConnected)
    );
    unconnected.run(5.0);
    assert!(unconnected.packets.is_empty());
}

#[test]
fn an_indication_comes_soon_and_the_status_after_it() {
    let mut bench = Bench::new("honest", 3);
    bench.run(1.0);
    bench.control(&[0x00]);
    bench.run(0.013);
    let sent = bench.now;
    bench.target_w(175);
    let at = |c: Characteristic| {
        bench
            .packets
            .iter()
            .rfind(|p| p.characteristic == c)
            .unwrap()
    };
    let wait = at(CONTROL).at - sent;
    assert!(
        (Span::from_millis(30)..Span::from_millis(60)).contains(&wait),
        "{wait:?}"
    );
    assert_eq!(at(STATUS).bytes, [0x08, 0xAF, 0x00]);
    assert!(at(STATUS).at > at(CONTROL).at);
    assert_eq!(at(Characteristic(0x2AD3)).bytes, [0x00, 0x0C]);
}

#[test]
fn a_spin_down_takes_the_drift_away() {
    let mut bench = Bench::new("workshop", 4);
    bench.run(1.0);
    bench.control(&[0x00]);
    bench.target_w(220);
    bench.run(600.0);
    // 15.00 and 32.00 km/h.
    assert_eq!(
        bench.control(&[0x13, 0x01]),
        [0x80, 0x13, 0x01, 0xDC, 0x05, 0x80, 0x0C]
    );
    assert_eq!(bench.rig.commanded_load(), Load::Released);
    bench.instruct(Instruction::Accelerate { speed_kmh: 36.0 });
    bench.run(25.0);
    let statuses = |bench: &Bench| -> Vec<Vec<u8>> {
        let status = bench.packets.iter().filter(|p| p.characteristic == STATUS);
        status
            .map(|p| p.bytes.clone())
            .filter(|bytes| bytes[0] == 0x14)
            .collect()
    };
    assert_eq!(statuses(&bench), [[0x14, 0x04]]);
    bench.instruct(Instruction::StopPedalling);
    bench.run(120.0);
    // The rider needed up to 25 s to be told; that is more than a spin-down forgives.
    assert_eq!(statuses(&bench).last().unwrap(), &[0x14, 0x03]);

    bench.control(&[0x13, 0x01]);
    bench.instruct(Instruction::Resume);
    bench.instruct(Instruction::Accelerate { speed_kmh: 36.0 });
    while statuses(&bench).len() < 3 {
        bench.run(0.1);
    }
    bench.instruct(Instruction::StopPedalling);
    bench.run(120.0);
    assert_eq!(statuses(&bench).last().unwrap(), &[0x14, 0x02]);
    let zeroed = bench
        .rig
        .truth()
        .faults()
        .iter()
        .rev()
        .find_map(|fault| match fault {
            Fault::DriftZeroed { pct, .. } => Some(*pct),
            _ => None,
        });
    assert!((-1.6..-0.5).contains(&zeroed.unwrap()), "{zeroed:?}");
}

#[test]
fn an_offset_compensation_answers_when_it_is_done() {
    let mut bench = Bench::new("honest", 5);
    bench.run(10.0);
    bench.instruct(Instruction::StopPedalling);
    bench.run(6.0);
    let sent = bench.now;
    bench.write(CRANK, METER_CONTROL, &[0x0C]).unwrap();
    bench.run(3.0);
    let answer = bench
        .packets
        .iter()
        .find(|p| p.characteristic == METER_CONTROL)
        .unwrap();
    assert_eq!(
        (&answer.bytes[..3], answer.bytes.len()),
        (&[0x20, 0x0C, 0x01][..], 5)
    );
    assert!((answer.at - sent).as_secs_f64() >= 2.0);
}

/// A rig file of our own: the honest rig, with another link for the trainer.
fn with_link(link: &str) -> Rig {
    let text = built_in_text("honest").unwrap();
    let identity = "identity: (\n                maker: \"Ferrule";
    let changed = text.replace(
        identity,
        &format!("link: ({link}),\n            {identity}"),
    );
    assert_ne!(text, changed);
    Rig::new(rig::RigPlan::parse(&changed, "changed").unwrap(), 6)
}

#[test]
fn a_lost_link_releases_the_brake_and_ends_control() {
    let mut bench = Bench::of(with_link("lost_links: [(20.0, 5.0)]"));
    bench.run(1.0);
    bench.control(&[0x00]);
    bench.target_w(250);
    bench.run(21.0);
    assert_eq!(bench.rig.commanded_load(), Load::Released);
    assert_eq!(
        bench.write(TRAINER, CONTROL, &[0x00]),
        Err(AttError::NotConnected)
    );
    bench.run(10.0);
    assert_eq!(bench.rig.commanded_load(), Load::Released);
    assert_eq!(bench.control(&[0x05, 0xFA, 0x00]), [0x80, 0x05, 0x05]);
    let states: Vec<_> = std::iter::from_fn(|| bench.rig.poll_link_change())
        .filter(|change| change.source == TRAINER)
        .map(|change| (change.at, change.state))
        .collect();
    assert_eq!(
        states,
        [
            (secs(0.0), LinkState::Up { epoch: 1 }),
            (secs(20.0), LinkState::Down),
            (secs(25.0), LinkState::Up { epoch: 2 }),
        ]
    );
    let reads = bench
        .packets
        .iter()
        .filter(|p| p.characteristic == Characteristic(0x2ACC));
    assert_eq!(reads.map(|p| p.epoch).collect::<Vec<_>>(), [1, 2]);
}

#[test]
fn a_rig_file_says_where_it_is_wrong() {
    let text = built_in_text("honest").unwrap();
    let broken = text.replace("gain_pct: 0.2,", "gain: 0.2,");
    let error = RigFile::parse(&broken, "mine.ron").unwrap_err().to_string();
    assert!(error.starts_with("mine.ron, line 2"), "{error}");
    assert!(error.contains("gain_pct"), "the fields there are: {error}");
    for (from, to, must) in [
        (
            "gain_pct: 0.2,",
            "gain_pct: 900.0,",
            "instruments[0].signal.gain_pct is 900",
        ),
        ("development_m: 5.4,", "development_m: 0.0,", "1 to 12 m"),
        (
            "role: under_test,",
            "role: witness,",
            "exactly one instrument under test",
        ),
        (
            "smoothing: mean(1.0),",
            "smoothing: mean(-1.0),",
            "0.02 to 60 s",
        ),
    ] {
        let error = rig::RigPlan::parse(&text.replace(from, to), "mine.ron").unwrap_err();
        assert!(error.to_string().contains(must), "{error}");
    }
}

/// Everything the rigs say is understood by the program's own reader without a remark, with the
/// fields the features promise.
#[test]
fn nothing_a_rig_says_is_odd() {
    use sensor::cycling_power::measurement::CyclingPowerMeasurement;
    use sensor::fitness_machine::indoor_bike_data::IndoorBikeData;
    let split = built_in_text("honest").unwrap().replace(
        "report_ms: 250,",
        "report_ms: 250,\n                power_service_ms: 1000,\n                records: split,",
    );
    let split = Rig::new(rig::RigPlan::parse(&split, "split").unwrap(), 7);
    let benches = rig::built_in_names().map(|name| Bench::new(name, 7));
    for mut bench in benches.chain([Bench::of(split)]) {
        bench.run(60.0);
        let (mut open, mut records) = (0, 0);
        for packet in &bench.packets {
            match packet.characteristic {
                common::BIKE_DATA => {
                    let decoded = IndoorBikeData::decode(&packet.bytes).unwrap();
                    assert_eq!(decoded.anomalies, []);
                    open += i32::from(decoded.value.more_data());
                    records += i32::from(!decoded.value.more_data());
                    assert_eq!(decoded.value.power_w.is_some(), !decoded.value.more_data());
                }
                POWER => {
                    let decoded = CyclingPowerMeasurement::decode(&packet.bytes).unwrap();
                    assert_eq!(decoded.anomalies, []);
                    assert_eq!(decoded.value.crank.is_some(), packet.source != TRAINER);
                }
                _ => {}
            }
        }
        assert!((235..=240).contains(&records), "{records}");
        assert!(open == 0 || (235..=240).contains(&open), "{open}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Whatever is written, the rig goes on, and the load never leaves the range it offers.
    #[test]
    fn no_write_breaks_the_rig_or_loads_it_beyond_its_range(
        writes in proptest::collection::vec(
            (
                prop_oneof![
                    proptest::collection::vec(any::<u8>(), 0..24),
                    (0x00_u8..0x16, proptest::collection::vec(any::<u8>(), 0..7))
                        .prop_map(|(op, rest)| [vec![op], rest].concat()),
                    any::<i16>().prop_map(|w| [vec![0x05], w.to_le_bytes().to_vec()].concat()),
                    Just(vec![0x00]),
                ],
                0.0_f64..3.0,
                prop_oneof![Just(TRAINER), Just(CRANK), Just(SourceId(9))],
                prop_oneof![Just(CONTROL), Just(METER_CONTROL), any::<u16>().prop_map(Characteristic)],
            ),
            1..24,
        ),
    ) {
        let mut bench = Bench::new("workshop", 17);
        bench.run(3.0);
        for (bytes, pause_s, source, characteristic) in writes {
            // What is refused is refused with a reason; what is taken is answered.
            let _: Result<(), AttError> = bench.write(source, characteristic, &bytes);
            bench.run(pause_s);
            match bench.rig.commanded_load() {
                Load::Power(power_w) => prop_assert!((0.0..=2000.0).contains(&power_w)),
                Load::Level(level) => prop_assert!((0.0..=25.0).contains(&level)),
                Load::Released | Load::Slope(_) => {}
            }
        }
        let brake = &bench.rig.truth().brake_power_w;
        prop_assert!(brake.values().iter().all(|power_w| (0.0..4000.0).contains(power_w)));
    }
}

const CADENCE: SourceId = SourceId(4);
const STRAP: SourceId = SourceId(5);

/// Layouts after the Cycling Speed and Cadence and Heart Rate services, written out by hand.
#[test]
fn cadence_sensor_and_strap_tell_what_they_are_and_report_every_second() {
    let mut bench = Bench::new("full", 4);
    bench.run(121.0);
    assert_eq!(read(&bench, CADENCE, 0x2A5C), [0x02, 0x00]); // crank revolutions
    assert_eq!(read(&bench, CADENCE, 0x2A19), [62]);
    assert_eq!(read(&bench, STRAP, 0x2A38), [0x01]); // chest
    let of = |source, number| -> Vec<&[u8]> {
        bench
            .packets
            .iter()
            .filter(|p| p.source == source && p.characteristic == Characteristic(number))
            .map(|p| p.bytes.as_slice())
            .collect()
    };
    let cadence = of(CADENCE, 0x2A5B);
    assert!((120..=122).contains(&cadence.len()), "{}", cadence.len());
    let count = |bytes: &[u8]| u32::from(u16::from_le_bytes([bytes[1], bytes[2]]));
    assert!(
        cadence
            .iter()
            .all(|bytes| bytes.len() == 5 && bytes[0] == 0x02)
    );
    // Two minutes at about 88 rpm, the start included.
    let turns = count(cadence[120 - 1]) - count(cadence[0]);
    assert!((150..=185).contains(&turns), "{turns}");
    let beats = of(STRAP, 0x2A37);
    assert!((120..=122).contains(&beats.len()), "{}", beats.len());
    // Contact supported and detected, times between beats; one octet of heart rate.
    assert!(beats.iter().all(|bytes| bytes[0] & 0x0F == 0x06));
    assert!(beats.iter().all(|bytes| (55..=185).contains(&bytes[1])));
}

/// Fitness Machine Service 4.16.2.1: control ends with status 0xFF; what is written then is
/// answered with "control not permitted", and a new request for control is granted.
#[test]
fn another_controller_takes_control_and_the_brake_is_released() {
    let mut bench = Bench::new("full", 5);
    bench.run(1.0);
    bench.control(&[0x00]);
    bench.target_w(180);
    bench.run(5.0);
    bench.rig.take_control(bench.now);
    assert_eq!(bench.rig.commanded_load(), Load::Released);
    bench.run(1.0);
    let status = bench.packets.iter().rfind(|p| p.characteristic == STATUS);
    assert_eq!(status.unwrap().bytes, [0xFF]);
    assert_eq!(bench.control(&[0x05, 0xB4, 0x00]), [0x80, 0x05, 0x05]);
    assert_eq!(bench.rig.commanded_load(), Load::Released);
    assert_eq!(bench.control(&[0x00]), [0x80, 0x00, 0x01]);
    bench.target_w(180);
    assert_eq!(bench.rig.commanded_load(), Load::Power(180.0));
}

#[test]
fn a_planned_take_over_and_a_planned_restart_happen() {
    let text = built_in_text("full")
        .unwrap()
        .replace("spin_down_kmh: (15.0, 32.0)", "taken_over: [30.0]")
        .replace("clock_ppm: 7.0", "restarts: [(60.0, 3.0)]");
    let plan = RigFile::parse(&text, "t").unwrap().check("t").unwrap();
    let mut bench = Bench::of(Rig::new(plan, 1));
    bench.run(90.0);
    let faults = bench.rig.truth().faults();
    assert!(faults.iter().any(|fault| matches!(fault,
        Fault::ControlTaken { source: TRAINER, at } if *at == secs(30.0))));
    assert!(faults.iter().any(|fault| matches!(fault,
        Fault::Restart { source: CADENCE, at } if *at == secs(60.0))));
    let turns: Vec<(u32, u16)> = bench
        .packets
        .iter()
        .filter(|p| p.source == CADENCE && p.characteristic == Characteristic(0x2A5B))
        .map(|p| (p.epoch, u16::from_le_bytes([p.bytes[1], p.bytes[2]])))
        .collect();
    let before = turns.iter().rfind(|(epoch, _)| *epoch == 1).unwrap();
    let after = turns.iter().find(|(epoch, _)| *epoch == 2).unwrap();
    assert!(before.1 > 60 && after.1 < 8, "{before:?} {after:?}");
}

/// The targets of a trainer that lacks target power: the feature says so, its range is absent and
/// op code 0x05 is not supported.
#[test]
fn a_trainer_may_lack_target_power() {
    let text = built_in_text("full")
        .unwrap()
        .replace("report_ms: 250,", "report_ms: 250, lacks: [power],");
    let plan = RigFile::parse(&text, "t").unwrap().check("t").unwrap();
    let mut bench = Bench::of(Rig::new(plan, 1));
    bench.run(1.0);
    assert_eq!(read(&bench, TRAINER, 0x2ACC)[4..], [0x04, 0xA0, 0, 0]);
    assert!(
        !bench
            .packets
            .iter()
            .any(|p| p.characteristic == Characteristic(0x2AD8))
    );
    bench.control(&[0x00]);
    assert_eq!(bench.control(&[0x05, 0xB4, 0x00]), [0x80, 0x05, 0x02]);
    assert_eq!(bench.control(&[0x04, 0x64]), [0x80, 0x04, 0x01]);
    assert_eq!(bench.rig.commanded_load(), Load::Level(10.0));
}

#[test]
fn a_witness_that_measures_no_power_cannot_be_a_reference() {
    let text = built_in_text("full")
        .unwrap()
        .replace("role: witness", "role: reference");
    let error = RigFile::parse(&text, "t").unwrap().check("t").unwrap_err();
    assert!(error.to_string().contains("instruments[3].role"), "{error}");
}
