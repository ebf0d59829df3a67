//! What is in range, an audit, and a session with links that drop, with the rig as the devices behind
//! the bus.

use acceptance::bluetooth::{program, stand_in};
use sensor::assigned;
use serde_json::Value;
use standin::{Fault, Ledger, StandIn, alone};
use std::io::Write as _;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use units::{Characteristic, SourceId, Timestamp};

/// Trainer, crank meter and pedals, in the order of the rig.
const DEVICES: [&str; 3] = [
    "hci0/dev_C0_FF_EE_00_00_01",
    "hci0/dev_C0_FF_EE_00_00_02",
    "hci0/dev_C0_FF_EE_00_00_03",
];

fn honest_in(folder: &Path, faults: Vec<(Timestamp, Fault)>) -> StandIn {
    let plan = rig::built_in("honest").expect("a built-in rig");
    stand_in(folder, plan, 1, faults)
}

fn json(mut command: Command) -> Value {
    let outcome = command.output().expect("the program can be started");
    assert!(
        outcome.status.success(),
        "{}",
        String::from_utf8_lossy(&outcome.stderr)
    );
    serde_json::from_slice(&outcome.stdout).expect("one JSON document")
}

#[test]
fn devices_lists_what_is_in_range() {
    alone("devices_lists_what_is_in_range", |folder| {
        let bus = honest_in(folder, Vec::new());
        let document = json(program(&bus, &["devices", "--seconds", "3", "--json", "-"]));
        let devices = document["devices"].as_array().expect("a list");
        let names: Vec<_> = devices
            .iter()
            .filter_map(|device| device["device"].as_str())
            .collect();
        for device in DEVICES {
            assert!(names.contains(&device), "{device} is not in {names:?}");
        }
        let trainer = devices.iter().find(|device| device["device"] == DEVICES[0]);
        let services = trainer.expect("it is listed")["services"].to_string();
        assert!(services.contains("fitness machine"), "{services}");
    });
}

#[test]
fn an_audit_of_a_conforming_trainer_calls_no_rule_broken() {
    alone(
        "an_audit_of_a_conforming_trainer_calls_no_rule_broken",
        |folder| {
            let bus = honest_in(folder, Vec::new());
            let arguments = [
                "audit",
                "--device",
                DEVICES[0],
                "--seconds",
                "6",
                "--json",
                "-",
            ];
            let document = json(program(&bus, &arguments));
            let rules = document["rules"].as_array().expect("a list");
            let count = |outcome: &str| {
                rules
                    .iter()
                    .filter(|rule| rule["outcome"] == outcome)
                    .count()
            };
            let broken: Vec<_> = rules
                .iter()
                .filter(|rule| rule["outcome"] == "broken")
                .collect();
            assert!(broken.is_empty(), "{broken:#?}");
            assert!(count("kept") > 10, "only {} kept", count("kept"));
            assert_eq!(document["load_left"], "untouched");
            let written = bus.with_ledger(|ledger| ledger.written.len());
            assert_eq!(written, 0, "a read-only audit writes nothing");
        },
    );
}

/// Somebody who presses Enter again and again: agrees to whatever is asked. The script has no
/// effort that counts as hard, so no cool-down is offered.
fn keep_agreeing(child: &mut Child, said: &Path) -> std::process::ExitStatus {
    let mut keys = child.stdin.take().expect("stdin is a pipe");
    for _ in 0..300 {
        if let Some(status) = child.try_wait().expect("our own child can be asked") {
            return status;
        }
        // The program may end between the question and the answer.
        let _ = keys.write_all(b"\n");
        std::thread::sleep(Duration::from_millis(500));
    }
    let _ = child.kill();
    panic!(
        "the session did not end: {}",
        std::fs::read_to_string(said).unwrap_or_default()
    );
}

fn sent(ledger: &Ledger, device: usize, characteristic: Characteristic) -> Vec<Vec<u8>> {
    ledger
        .sent_by(device, characteristic)
        .map(|sent| sent.bytes.clone())
        .collect()
}

#[test]
fn a_session_over_the_radio_loses_nothing_that_was_sent_and_ends_released() {
    alone(
        "a_session_over_the_radio_loses_nothing_that_was_sent_and_ends_released",
        |folder| {
            let drop = |at, device| (Timestamp::from_secs(at), Fault::DropLink { device });
            let bus = honest_in(folder, vec![drop(25, 2), drop(40, 0), drop(60, 1)]);
            let bench = folder.join("bench.ron");
            std::fs::write(
                &bench,
                format!(
                    "Bench(name: \"invented stand\", rider_ceiling_w: Some(250), instruments: [\n\
                 (device: {:?}, name: \"Trainer\", role: UnderTest, place: Hub),\n\
                 (device: {:?}, name: \"Crank\", role: Reference, place: Crank),\n\
                 (device: {:?}, name: \"Pedals\", role: SecondReference, place: Pedals)])",
                    DEVICES[0], DEVICES[1], DEVICES[2]
                ),
            )
            .expect("the folder is ours");
            let script = folder.join("short.ron");
            std::fs::write(
            &script,
            "Script(title: \"Short\", decides: \"Whether links hold\", needs: [\"three links\"], \
             ceiling_w: 200, cadence_rpm: 90, steps: [\
             Hold(title: \"low\", power_w: 100, seconds: 35, settle_seconds: 10, feeds: Response),\
             Hold(title: \"high\", power_w: 130, seconds: 35, settle_seconds: 10, feeds: Response),\
             ])",
        )
        .expect("the folder is ours");
            let out = folder.join("radio.prony");
            let said = folder.join("said");
            let mut child = program(&bus, &["run", "--script"])
                .arg(&script)
                .arg("--bench")
                .arg(&bench)
                .arg("--out")
                .arg(&out)
                .stdin(Stdio::piped())
                .stdout(Stdio::null())
                .stderr(std::fs::File::create(&said).expect("the folder is ours"))
                .spawn()
                .expect("the program can be started");
            let status = keep_agreeing(&mut child, &said);
            assert!(
                status.success(),
                "{}",
                std::fs::read_to_string(&said).unwrap_or_default()
            );

            let report = session::verify(&out).expect("it can be read");
            assert!(
                matches!(report.state, session::SealState::Sealed),
                "{}",
                report.state
            );
            let packets = session::Archive::open(&out)
                .expect("it opens")
                .packets()
                .expect("packets");
            let ledger = bus.ledger();
            assert!(
                ledger.links.iter().all(|links| *links >= 2),
                "{:?}",
                ledger.links
            );
            for (device, characteristic) in [
                (0, assigned::INDOOR_BIKE_DATA),
                (1, assigned::CYCLING_POWER_MEASUREMENT),
                (2, assigned::CYCLING_POWER_MEASUREMENT),
            ] {
                let source = SourceId(device as u16 + 1);
                let recorded: Vec<_> = packets
                    .iter()
                    .filter(|p| p.source == source && p.characteristic == characteristic)
                    .map(|p| p.bytes.clone())
                    .collect();
                let sent = sent(&ledger, device, characteristic);
                assert!(
                    recorded.len() > 40,
                    "device {device}: {} recorded",
                    recorded.len()
                );
                assert!(recorded.len() <= sent.len());
                assert!(
                    recorded == sent[..recorded.len()],
                    "device {device}: what was recorded is not what was sent, in order"
                );
                // After the end of the session the links are let go of; what is sent meanwhile is not
                // part of it.
                assert!(
                    sent.len() - recorded.len() < 40,
                    "device {device}: {} of {} recorded",
                    recorded.len(),
                    sent.len()
                );
            }
            let last_power = ledger
                .written
                .iter()
                .rfind(|written| written.device == 0 && written.bytes.first() == Some(&0x05))
                .expect("targets were written");
            assert_eq!(
                last_power.bytes,
                vec![0x05, 0x00, 0x00],
                "the brake ends released"
            );
        },
    );
}
