//! Devices that differ from the usual: a trainer without target power, one that offers two services,
//! one that never answers, a sensor that is switched off and on, witnesses that measure no power.

use acceptance::assess;
use acceptance::bluetooth::{FULL, Recorded, Ride, bench_file, rig_second, stand_in, target_w};
use rig::{RigPlan, built_in_text};
use sensor::assigned;
use standin::{Fault, alone};
use std::collections::BTreeMap;
use units::{Packet, Span};

const PACE: u32 = 10;

const SCRIPT: &str = "Script(title: \"Two levels\", decides: \"Nothing\", needs: [\"links\"], \
     ceiling_w: 220, cadence_rpm: 88, steps: [\
     Hold(title: \"low\", power_w: 120, seconds: 120),\
     Hold(title: \"high\", power_w: 200, seconds: 120)])";

#[test]
fn a_trainer_without_target_power_is_ridden_by_level_and_its_two_services_are_two_streams() {
    let name =
        "a_trainer_without_target_power_is_ridden_by_level_and_its_two_services_are_two_streams";
    alone(name, |folder| {
        let text = built_in_text("full").expect("a built-in rig");
        let usual = "report_ms: 250,";
        assert_eq!(text.matches(usual).count(), 1);
        let text = text.replace(
            usual,
            "report_ms: 250, power_service_ms: 500, lacks: [power],",
        );
        let plan = RigPlan::parse(&text, "a trainer without target power").expect("a rig");
        // The cadence sensor, the fourth device, is switched off for three seconds of the rig.
        let off = Fault::Restart {
            device: 3,
            lasting: Span::from_millis(300),
        };
        let bus = stand_in(folder, plan, PACE, vec![(rig_second(150.0, PACE), off)]);
        let bench = bench_file(folder, 250, &FULL);
        let mut ride = Ride::start(&bus, folder, SCRIPT, &bench, PACE);
        ride.agree_until(90, |_| false);
        ride.wait(1);
        let ledger = bus.ledger();
        let recorded = Recorded::of(ride.file());

        // By level, and it says so. The brake's range goes to 25.0; 200 of 600 W are 8.3.
        let levels: Vec<u8> = ledger
            .written
            .iter()
            .filter_map(|w| match w.bytes.as_slice() {
                [0x04, level] => Some(*level),
                _ => None,
            })
            .collect();
        println!("levels written, in tenths: {levels:?}");
        assert!(levels.contains(&50) && levels.contains(&83), "{levels:?}");
        assert_eq!(
            levels.last(),
            Some(&0),
            "the brake ends at its lowest level"
        );
        assert!(ledger.written.iter().all(|w| target_w(&w.bytes).is_none()));
        let said: Vec<_> = recorded
            .of_kind("control")
            .filter_map(|row| row.body["words"].as_str())
            .filter(|words| words.contains("takes no target power"))
            .collect();
        println!("{said:?}");
        assert_eq!(said.len(), 1, "it is said, and once: {said:?}");

        // The machine was kept awake for as long as the session had instruments.
        assert_eq!(ledger.awake, (1, 1));

        // Both services of the trainer, whole, and told apart in the findings.
        for (device, characteristic) in [
            (0, assigned::INDOOR_BIKE_DATA),
            (0, assigned::CYCLING_POWER_MEASUREMENT),
            (3, assigned::CSC_MEASUREMENT),
            (4, assigned::HEART_RATE_MEASUREMENT),
        ] {
            let by_link = recorded.assert_whole(&ledger, device, characteristic, 360);
            let links = if device == 3 { 2 } else { 1 };
            assert_eq!(by_link.len(), links, "device {device}: {by_link:?}");
        }
        let findings = assess(ride.file());
        let names: Vec<_> = findings["sources"]
            .as_array()
            .expect("a list")
            .iter()
            .filter_map(|source| source["name"].as_str())
            .filter(|name| name.starts_with("Trainer"))
            .collect();
        println!("streams of the trainer: {names:?}");
        assert_eq!(names.len(), 2, "{names:?}");
        assert_ne!(names[0], names[1]);

        // A sensor that begins at zero again: its counter falls, its cadence does not jump.
        let cadence: Vec<&Packet> = recorded
            .packets
            .iter()
            .filter(|p| p.characteristic == assigned::CSC_MEASUREMENT)
            .collect();
        let turns = |packet: &Packet| u16::from_le_bytes([packet.bytes[1], packet.bytes[2]]);
        let mut by_epoch: BTreeMap<u32, Vec<u16>> = BTreeMap::new();
        for packet in cadence {
            by_epoch
                .entry(packet.epoch)
                .or_default()
                .push(turns(packet));
        }
        assert!(by_epoch[&1].last() > by_epoch[&2].first(), "{by_epoch:?}");
        let jumps = recorded
            .of_kind("anomaly")
            .filter(|row| row.body["source"] == 4)
            .count();
        assert_eq!(jumps, 0, "a new link is no anomaly");
    });
}

/// A trainer that from some moment on does what it is told and never says so: neither indication nor
/// status. What it reports as power is the evidence.
#[test]
fn a_trainer_that_stops_answering_is_believed_by_the_power_it_reports() {
    let name = "a_trainer_that_stops_answering_is_believed_by_the_power_it_reports";
    alone(name, |folder| {
        let plan = rig::built_in("honest").expect("a built-in rig");
        let silent = |characteristic| Fault::Swallow {
            device: 0,
            characteristic,
            times: 10_000,
        };
        let faults = [
            assigned::FITNESS_MACHINE_CONTROL_POINT,
            assigned::FITNESS_MACHINE_STATUS,
        ]
        .map(|characteristic| (rig_second(90.0, PACE), silent(characteristic)));
        let bus = stand_in(folder, plan, PACE, faults.to_vec());
        let bench = bench_file(
            folder,
            250,
            &[
                ("Trainer", "UnderTest", "Hub"),
                ("Crank", "Reference", "Crank"),
            ],
        );
        let mut ride = Ride::start(&bus, folder, SCRIPT, &bench, PACE);
        let enough = rig_second(220.0, PACE);
        let ended = ride.agree_until(60, |_| bus.now() > enough);
        assert!(!ended, "{}", ride.said());
        ride.type_in("q");
        ride.wait(60);
        let recorded = Recorded::of(ride.file());
        let words: Vec<_> = recorded
            .of_kind("control")
            .filter_map(|row| row.body["words"].as_str())
            .collect();
        println!("{words:#?}");
        assert!(
            words
                .iter()
                .any(|words| words.contains("not confirmed within 3 s"))
        );
        // Confirmed seconds after it was written, which no answer of the rig takes.
        let believed = recorded.of_kind("control").any(|row| {
            let words = row.body["words"].as_str().unwrap_or("");
            let after_ms = words
                .strip_prefix("200\u{a0}W confirmed after ")
                .and_then(|rest| rest.strip_suffix(" ms"))
                .and_then(|ms| ms.parse::<u32>().ok());
            after_ms.is_some_and(|ms| ms > 3000)
        });
        assert!(believed, "{words:?}");
        let ledger = bus.ledger();
        let last_w = ledger
            .written
            .iter()
            .rev()
            .find_map(|written| target_w(&written.bytes));
        assert_eq!(last_w, Some(0), "the brake is told to release");
    });
}
