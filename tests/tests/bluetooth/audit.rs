//! `prony devices` and `prony audit` over the bus: a trainer that keeps the rules, one that breaks
//! thirteen of them, and a system without Bluetooth.

use acceptance::bluetooth::{device, program, stand_in};
use acceptance::prony;
use serde_json::Value;
use standin::{Careless, Fault, Habit, PrivateBus, RigModel, StandIn, alone};
use std::collections::BTreeSet;
use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::Duration;

fn honest() -> rig::RigPlan {
    rig::built_in("honest").expect("a built-in rig")
}

/// The audit of a device, with consent to a change of load where `may` says so.
fn audit(bus: &StandIn, number: usize, may: &[&str]) -> Value {
    let name = device(number);
    let mut arguments = vec!["audit", "--device", &name, "--seconds", "8", "--json", "-"];
    arguments.extend(may);
    let mut child = program(bus, &arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program can be started");
    let mut keys = child.stdin.take().expect("stdin is a pipe");
    keys.write_all(b"yes\n").expect("it listens");
    drop(keys);
    let outcome = child.wait_with_output().expect("our own child");
    assert!(outcome.status.success(), "{}", stderr(&outcome));
    serde_json::from_slice(&outcome.stdout).expect("one JSON document")
}

fn stderr(outcome: &Output) -> String {
    String::from_utf8_lossy(&outcome.stderr).into_owned()
}

fn with_outcome<'a>(audit: &'a Value, outcome: &str) -> BTreeSet<&'a str> {
    audit["rules"]
        .as_array()
        .expect("a list")
        .iter()
        .filter(|rule| rule["outcome"] == outcome)
        .filter_map(|rule| rule["id"].as_str())
        .collect()
}

/// What an audit of a trainer must have a word about, whatever the word is: features, ranges,
/// fields, each procedure, wrong requests, times, status, streams, split records.
const MUST_LIST: [&str; 24] = [
    "ftms.feature.presence",
    "ftms.feature.value",
    "ftms.feature.reserved",
    "ftms.power-range.value",
    "ftms.resistance-range.value",
    "ftms.claim.cadence",
    "ftms.bike-data.rhythm",
    "ftms.bike-data.reserved",
    "ftms.bike-data.length",
    "ftms.bike-data.split",
    "ftms.control.request",
    "ftms.control.needed",
    "ftms.op.unknown",
    "ftms.op.unclaimed",
    "ftms.parameter.range",
    "ftms.parameter.length",
    "ftms.busy",
    "ftms.set-power",
    "ftms.set-power.status",
    "ftms.set-resistance",
    "ftms.set-simulation",
    "ftms.start",
    "ftms.stop",
    "ftms.answer.time",
];

#[test]
fn a_good_trainer_keeps_every_rule_that_can_be_seen_also_under_load() {
    let name = "a_good_trainer_keeps_every_rule_that_can_be_seen_also_under_load";
    alone(name, |folder| {
        let bus = stand_in(folder, honest(), 1, Vec::new());
        let audit = audit(&bus, 0, &["--may-change-load"]);
        let broken = with_outcome(&audit, "broken");
        assert!(broken.is_empty(), "{broken:?}: {:#}", audit["rules"]);
        let listed: BTreeSet<_> = audit["rules"]
            .as_array()
            .expect("a list")
            .iter()
            .filter_map(|rule| rule["id"].as_str())
            .collect();
        let missing: Vec<_> = MUST_LIST
            .iter()
            .filter(|id| !listed.contains(*id))
            .collect();
        assert!(missing.is_empty(), "{missing:?} not in {listed:?}");
        for rule in audit["rules"].as_array().expect("a list") {
            assert!(!rule["clause"].as_str().unwrap_or("").is_empty(), "{rule}");
        }
        let (kept, unseen) = (
            with_outcome(&audit, "kept"),
            with_outcome(&audit, "not observable"),
        );
        println!("{} kept; not observable: {unseen:?}", kept.len());
        assert!(kept.len() >= 45, "only {} kept", kept.len());
        assert_eq!(audit["load_left"], "released");
        // The answers of the stand-in's trainer take 30 ms, and what the bus adds.
        let answers = &audit["answers"][0];
        let median_ms = answers["median_ms"].as_f64().expect("a time");
        assert!((30.0..500.0).contains(&median_ms), "{median_ms} ms");
        let streams = audit["streams"].as_array().expect("a list");
        let bike = streams
            .iter()
            .find(|stream| stream["characteristic"] == "2AD2")
            .expect("bike data");
        // It reports every 250 ms; the rig's way adds 12 ms and a jitter of 8 ms.
        let every_ms = bike["median_interval_ms"].as_f64().expect("a time");
        assert!((225.0..275.0).contains(&every_ms), "{every_ms} ms");
        let highest_w = bus.with_ledger(|ledger| {
            ledger
                .written
                .iter()
                .filter_map(|w| acceptance::bluetooth::target_w(&w.bytes))
                .filter(|w| *w <= 2000)
                .max()
        });
        assert!(
            highest_w <= Some(sensor::audit::MOST_LOAD_W),
            "{highest_w:?}"
        );
    });
}

#[test]
fn a_careless_trainer_is_found_to_break_what_it_breaks_and_nothing_else() {
    let name = "a_careless_trainer_is_found_to_break_what_it_breaks_and_nothing_else";
    alone(name, |folder| {
        // Octets too many are told from those of a reserved flag only where there is none.
        let all = Habit::ALL
            .iter()
            .filter(|(habit, _)| *habit != Habit::SurplusOctet);
        let (habits, expected): (Vec<Habit>, BTreeSet<&str>) = all.copied().unzip();
        assert!(expected.len() >= 10);
        let audit = careless(folder, &habits);
        let broken = with_outcome(&audit, "broken");
        let words: Vec<_> = audit["rules"]
            .as_array()
            .expect("a list")
            .iter()
            .filter(|rule| rule["outcome"] == "broken")
            .collect();
        assert_eq!(broken, expected, "{words:#?}");
    });
}

#[test]
fn a_trainer_with_one_bad_habit_breaks_one_rule() {
    let name = "a_trainer_with_one_bad_habit_breaks_one_rule";
    alone(name, |folder| {
        let audit = careless(folder, &[Habit::SurplusOctet]);
        let broken = with_outcome(&audit, "broken");
        assert_eq!(broken, BTreeSet::from(["ftms.bike-data.length"]));
    });
}

#[test]
fn records_in_two_parts_are_seen_to_be_joined_as_they_should() {
    let name = "records_in_two_parts_are_seen_to_be_joined_as_they_should";
    alone(name, |folder| {
        let text = rig::built_in_text("honest").expect("a built-in rig");
        let text = text.replacen("report_ms: 250,", "report_ms: 250, records: split,", 1);
        let plan = rig::RigPlan::parse(&text, "a trainer that splits").expect("a rig");
        let bus = stand_in(folder, plan, 1, Vec::new());
        let audit = audit(&bus, 0, &[]);
        let broken = with_outcome(&audit, "broken");
        assert!(broken.is_empty(), "{broken:?}");
        let split = "ftms.bike-data.split";
        assert!(with_outcome(&audit, "kept").contains(split), "{audit:#}");
    });
}

#[test]
fn nothing_is_written_to_a_trainer_whose_owner_does_not_say_yes() {
    let name = "nothing_is_written_to_a_trainer_whose_owner_does_not_say_yes";
    alone(name, |folder| {
        let bus = stand_in(folder, honest(), 1, Vec::new());
        let device = device(0);
        let mut child = program(&bus, &["audit", "--device", &device, "--may-change-load"])
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program can be started");
        let mut keys = child.stdin.take().expect("stdin is a pipe");
        keys.write_all(b"well\n").expect("it listens");
        drop(keys);
        let outcome = child.wait_with_output().expect("our own child");
        assert_eq!(outcome.status.code(), Some(2), "{}", stderr(&outcome));
        let words = stderr(&outcome);
        assert!(
            words.contains("change its load") && words.contains("not begun"),
            "{words}"
        );
        assert_eq!(bus.with_ledger(|ledger| ledger.links[0]), 0);
    });
}

/// The audit of a trainer with these habits. It takes half a second to answer, so that a second
/// write can be on its way while the first is pending.
fn careless(folder: &Path, habits: &[Habit]) -> Value {
    let text = rig::built_in_text("honest").expect("a built-in rig");
    let text = text.replacen("report_ms: 250,", "report_ms: 250, answer_ms: 500,", 1);
    let plan = rig::RigPlan::parse(&text, "a slow trainer").expect("a rig that can be run");
    let model = Careless::new(RigModel::new(plan, 1, 1), habits);
    let bus = StandIn::start(folder, Box::new(model), Vec::new()).expect("a private bus");
    audit(&bus, 0, &["--may-change-load"])
}

#[test]
fn a_meter_answers_questions_and_is_asked_nothing_without_leave() {
    let name = "a_meter_answers_questions_and_is_asked_nothing_without_leave";
    alone(name, |folder| {
        let bus = stand_in(folder, honest(), 1, Vec::new());
        let silent = audit(&bus, 1, &[]);
        assert_eq!(bus.with_ledger(|ledger| ledger.written.len()), 0);
        let asked = audit(&bus, 1, &["--may-ask"]);
        for audit in [&silent, &asked] {
            let broken = with_outcome(audit, "broken");
            assert!(broken.is_empty(), "{broken:?}");
        }
        let length = "cps.crank-length";
        assert!(with_outcome(&silent, "not observable").contains(length));
        assert!(with_outcome(&asked, "kept").contains(length), "{asked:#}");
    });
}

fn unusable(address: &str, arguments: &[&str]) -> String {
    let outcome = Command::new(prony())
        .args(arguments)
        .env("DBUS_SYSTEM_BUS_ADDRESS", address)
        .stdin(Stdio::null())
        .output()
        .expect("the program can be started");
    assert_eq!(outcome.status.code(), Some(1), "{arguments:?}");
    assert!(outcome.stdout.is_empty(), "{arguments:?} printed a result");
    stderr(&outcome)
}

fn both(address: &str, folder: &Path) -> [String; 3] {
    let bench = acceptance::bluetooth::bench_file(
        folder,
        200,
        &[("T", "UnderTest", "Hub"), ("C", "Reference", "Crank")],
    );
    let bench = bench.to_str().expect("a plain path");
    let name = device(0);
    [
        unusable(address, &["devices", "--seconds", "2"]),
        unusable(address, &["audit", "--device", &name]),
        unusable(
            address,
            &["run", "--script", "first-look", "--bench", bench],
        ),
    ]
}

#[test]
fn without_a_service_every_command_says_so_and_what_to_do() {
    let name = "without_a_service_every_command_says_so_and_what_to_do";
    alone(name, |folder| {
        // No bus at all, and a bus on which nobody is the Bluetooth service.
        let nowhere = format!("unix:path={}", folder.join("nowhere").display());
        let bus = PrivateBus::start(folder).expect("a private bus");
        for address in [nowhere, PrivateBus::address_in(folder)] {
            for words in both(&address, folder) {
                assert!(
                    words.contains("Bluetooth service does not answer"),
                    "{words}"
                );
                assert!(words.contains("systemctl start bluetooth"), "{words}");
            }
        }
        drop(bus);
    });
}

#[test]
fn without_an_adapter_every_command_says_so_and_what_to_do() {
    let name = "without_an_adapter_every_command_says_so_and_what_to_do";
    alone(name, |folder| {
        let bus = stand_in(folder, honest(), 1, Vec::new());
        bus.act(Fault::UnplugAdapter);
        std::thread::sleep(Duration::from_millis(300));
        for words in both(bus.address(), folder) {
            assert!(words.contains("there is no Bluetooth adapter"), "{words}");
            assert!(words.contains("plug in a Bluetooth adapter"), "{words}");
        }
    });
}

#[test]
fn what_is_in_range_becomes_a_bench_file_with_roles_that_can_be_ridden_on() {
    let name = "what_is_in_range_becomes_a_bench_file_with_roles_that_can_be_ridden_on";
    alone(name, |folder| {
        let plan = rig::built_in("full").expect("a built-in rig");
        let bus = stand_in(folder, plan, 1, Vec::new());
        let out = folder.join("guessed.ron");
        let path = out.to_str().expect("a plain path");
        let arguments = ["devices", "--seconds", "3", "--bench", path];
        let outcome = program(&bus, &arguments)
            .output()
            .expect("the program can be started");
        assert!(outcome.status.success(), "{}", stderr(&outcome));
        let bench = prony::bench_file::read(&out).expect("a bench that can be read");
        let roles: Vec<_> = bench
            .instruments
            .iter()
            .map(|(id, plan)| (id.clone(), plan.name.clone(), plan.role.name()))
            .collect();
        let expected = [
            (device(0), "Ferrule bench trainer", "under-test"),
            (device(1), "Quill crank", "reference"),
            (device(2), "Tansy pedals", "second-reference"),
            (device(3), "Reed cadence", "witness"),
            (device(4), "Linnet strap", "witness"),
        ]
        .map(|(id, name, role)| (id, name.to_owned(), role));
        assert_eq!(roles, expected);
        let text = std::fs::read_to_string(&out).expect("it is there");
        assert!(text.contains("guessed"), "{text}");
        // It does not write over what somebody may have put right by hand.
        let again = program(&bus, &arguments)
            .output()
            .expect("the program can be started");
        assert_eq!(again.status.code(), Some(1), "{}", stderr(&again));
        assert!(
            stderr(&again).contains("already there"),
            "{}",
            stderr(&again)
        );
    });
}
