//! The audit against a device that keeps the rules, and against one for each rule broken.

mod device;

use device::{Device, Fault};
use proptest::prelude::*;
use sensor::assigned as a;
use sensor::audit::{
    Audit, AuditOutput, AuditSettings, Auditor, Consent, LoadLeft, MOST_LOAD_W, Offered, Outcome,
    Properties, Property, RuleFinding,
};
use sensor::control::Link;
use sensor::fitness_machine::control::Request;
use std::collections::HashSet;
use units::{AttError, Packet, SourceId, Span, Timestamp};

fn settings(consent: Consent) -> AuditSettings {
    AuditSettings {
        consent,
        ..AuditSettings::default()
    }
}

fn audit(device: &mut Device, consent: Consent) -> Audit {
    let mut auditor = Auditor::new(Timestamp::ZERO, settings(consent));
    device.show(&mut auditor);
    auditor.finish()
}

fn broken(audit: &Audit) -> Vec<&str> {
    audit
        .with(Outcome::Broken)
        .map(|rule| rule.id.as_str())
        .collect()
}

fn rule<'a>(audit: &'a Audit, id: &str) -> &'a RuleFinding {
    audit
        .rules
        .iter()
        .find(|rule| rule.id == id)
        .unwrap_or_else(|| panic!("no rule {id}"))
}

/// Rules that cannot be seen on this device: what it need not have, what nobody sets a rhythm for.
const UNSEEN: &[&str] = &[
    "ftms.training-status.presence",
    "ftms.speed-range.presence",
    "ftms.inclination-range.presence",
    "ftms.heart-rate-range.presence",
    "cps.vector.presence",
    "cps.measurement.rhythm",
];

#[test]
fn a_device_that_keeps_the_rules_is_found_to_keep_every_observable_one() {
    let mut device = Device::new(None);
    let audit = audit(&mut device, Consent::MayChangeLoad);
    assert_eq!(broken(&audit), [""; 0]);
    let unseen: Vec<_> = audit
        .with(Outcome::NotObservable)
        .map(|rule| rule.id.as_str())
        .collect();
    assert_eq!(unseen, UNSEEN);
    assert!(
        audit.with(Outcome::Kept).count() >= 60,
        "{}",
        audit.with(Outcome::Kept).count()
    );
    assert_eq!(audit.load_left, LoadLeft::Released);
    assert_eq!(audit.identity.maker.as_deref(), Some("Bench"));
    assert_eq!(audit.listened, Span::from_secs(30));
    assert!(
        audit.answers.iter().all(|times| times.median_ms == 120.0),
        "{:?}",
        audit.answers
    );
    let busy = rule(&audit, "ftms.busy");
    assert_eq!(busy.sent, ["05 19 00", "05 19 00"]);
    assert_eq!(busy.received, ["80 05 01"]);
}

#[test]
fn every_rule_has_a_name_of_its_own_a_clause_and_words() {
    let audit = audit(&mut Device::new(None), Consent::MayChangeLoad);
    let names: HashSet<_> = audit.rules.iter().map(|rule| &rule.id).collect();
    assert_eq!(names.len(), audit.rules.len());
    for rule in &audit.rules {
        assert!(!rule.clause.is_empty() && !rule.title.is_empty() && !rule.words.is_empty());
        assert!(!rule.words.contains("certif"));
    }
}

/// The rule that is broken is found, and no other is called broken.
#[test]
fn each_broken_rule_is_found_and_only_that() {
    for &(fault, id) in Fault::ALL {
        let mut device = Device::new(Some(fault));
        let audit = audit(&mut device, Consent::MayChangeLoad);
        assert_eq!(broken(&audit), [id], "{fault:?}: {:?}", rule(&audit, id));
        assert!(!rule(&audit, id).words.is_empty());
        let highest = device.loads.iter().max().copied().unwrap_or_default();
        assert!(highest <= MOST_LOAD_W, "{fault:?}: {highest} W");
        assert!(device.load_w <= 25, "{fault:?} left {} W", device.load_w);
    }
}

#[test]
fn without_consent_nothing_is_written_and_the_rules_are_not_observable() {
    let mut device = Device::new(Some(Fault::TakesAnyPower));
    let mut auditor = Auditor::new(Timestamp::ZERO, AuditSettings::default());
    device.show(&mut auditor);
    assert!(device.written.is_empty());
    let audit = auditor.finish();
    assert_eq!(broken(&audit), [""; 0]);
    assert_eq!(audit.load_left, LoadLeft::Untouched);
    let range = rule(&audit, "ftms.parameter.range");
    assert_eq!(range.outcome, Outcome::NotObservable);
    assert!(range.words.contains("consent"), "{}", range.words);
    let all = audit_ids(&audit);
    let full = crate::audit(&mut Device::new(None), Consent::MayChangeLoad);
    assert_eq!(all, audit_ids(&full), "the same rules are listed");
}

fn audit_ids(audit: &Audit) -> Vec<&str> {
    audit.rules.iter().map(|rule| rule.id.as_str()).collect()
}

#[test]
fn consent_to_questions_leaves_the_brake_alone() {
    let mut device = Device::new(Some(Fault::MeterKnowsAll));
    let audit = audit(&mut device, Consent::MayAsk);
    assert!(device.written.is_empty());
    assert_eq!(broken(&audit), ["cps.op.unknown"]);
}

#[test]
fn the_dialogue_begins_and_ends_with_a_release() {
    let mut device = Device::new(None);
    audit(&mut device, Consent::MayChangeLoad);
    assert_eq!(device.written[..2], [vec![0x00], vec![5, 25, 0]]);
    assert_eq!(
        device.written[device.written.len() - 2..],
        [vec![0x00], vec![5, 25, 0]]
    );
    assert_eq!(device.load_w, 25);
    assert!(device.told[0].contains("load changes"));
}

#[test]
fn a_link_that_is_lost_in_the_middle_is_waited_for_and_released() {
    for (away, left) in [(20, LoadLeft::Released), (600, LoadLeft::Unknown)] {
        let mut device = Device::new(None);
        device.drop_link = Some((Timestamp::from_millis(38_000), Span::from_secs(away)));
        let audit = audit(&mut device, Consent::MayChangeLoad);
        assert_eq!(audit.load_left, left);
        assert_eq!(broken(&audit), [""; 0]);
        let last = rule(&audit, "ftms.reset");
        assert!(last.words.contains("the link was lost"), "{}", last.words);
        let warned = device
            .told
            .iter()
            .any(|words| words.contains("switch it off"));
        assert_eq!(warned, left == LoadLeft::Unknown);
    }
}

#[test]
fn an_audit_that_is_stopped_releases_first() {
    let mut device = Device::new(None);
    let mut auditor = Auditor::new(Timestamp::ZERO, settings(Consent::MayChangeLoad));
    auditor.stop(Timestamp::from_secs(1));
    assert!(auditor.is_over());
    device.show(&mut auditor);
    assert!(device.written.is_empty());
    assert_eq!(auditor.finish().load_left, LoadLeft::Untouched);
}

/// A device that wants to be paired, or whose system hides the code, breaks no rule by that.
#[test]
fn what_the_system_or_a_pairing_may_have_done_is_not_held_against_the_device() {
    let errors = [
        AttError::Code(0x05),
        AttError::Code(0x0F),
        AttError::Code(0xFD),
        AttError::NotConnected,
        AttError::Other("protocol error".to_owned()),
    ];
    for error in errors {
        let mut auditor = Auditor::new(Timestamp::ZERO, settings(Consent::MayChangeLoad));
        auditor.handle_services(&trainer_table());
        for (characteristic, bytes) in trainer_values() {
            auditor.handle_read(Timestamp::ZERO, characteristic, Ok(bytes));
        }
        let mut now = Timestamp::ZERO;
        while !auditor.is_over() {
            while let Some(output) = auditor.poll_output() {
                if let AuditOutput::Write { .. } = output {
                    auditor.handle_write_result(now, &Err(error.clone()));
                }
            }
            now = auditor.poll_timeout().unwrap_or(now).max(now);
            auditor.handle_time(now);
        }
        let audit = auditor.finish();
        assert_eq!(broken(&audit), [""; 0], "{error}");
        assert_eq!(audit.load_left, LoadLeft::Untouched, "{error}");
    }
}

fn trainer_table() -> Vec<Offered> {
    let entry = |characteristic, properties: &[Property]| Offered {
        service: a::FITNESS_MACHINE_SERVICE,
        characteristic,
        properties: Properties::of(properties),
    };
    vec![
        entry(a::FITNESS_MACHINE_FEATURE, &[Property::Read]),
        entry(a::SUPPORTED_POWER_RANGE, &[Property::Read]),
        entry(a::SUPPORTED_RESISTANCE_LEVEL_RANGE, &[Property::Read]),
        entry(a::INDOOR_BIKE_DATA, &[Property::Notify]),
        entry(a::FITNESS_MACHINE_STATUS, &[Property::Notify]),
        entry(
            a::FITNESS_MACHINE_CONTROL_POINT,
            &[Property::Write, Property::Indicate],
        ),
    ]
}

/// Bytes A1, G2 and G3 of the shared vectors.
fn trainer_values() -> Vec<(units::Characteristic, Vec<u8>)> {
    vec![
        (
            a::FITNESS_MACHINE_FEATURE,
            vec![0x82, 0x40, 0, 0, 0x0C, 0xE0, 0, 0],
        ),
        (
            a::SUPPORTED_POWER_RANGE,
            vec![0x9C, 0xFF, 0xD0, 0x07, 0x01, 0x00],
        ),
        (
            a::SUPPORTED_RESISTANCE_LEVEL_RANGE,
            vec![0, 0, 0xE8, 0x03, 0x0A, 0],
        ),
    ]
}

/// What a device and the air may do while it is audited.
#[derive(Clone, Debug)]
enum Whim {
    Read(usize, Vec<u8>),
    Answer(u8),
    Say(usize, Vec<u8>),
    Acknowledge(Option<u8>),
    Link(Link),
    Pass(i64),
    Stop,
}

fn whims() -> impl Strategy<Value = Whim> {
    let bytes = || proptest::collection::vec(any::<u8>(), 0..20);
    prop_oneof![
        2 => (0..a::ALL.len(), bytes()).prop_map(|(which, bytes)| Whim::Read(which, bytes)),
        8 => prop_oneof![4 => Just(1u8), 1 => 0..8u8].prop_map(Whim::Answer),
        2 => (0..a::ALL.len(), bytes()).prop_map(|(which, bytes)| Whim::Say(which, bytes)),
        6 => Just(Whim::Acknowledge(None)),
        1 => any::<u8>().prop_map(|code| Whim::Acknowledge(Some(code))),
        1 => prop_oneof![Just(Link::Up), Just(Link::Down)].prop_map(Whim::Link),
        4 => (1..2000i64).prop_map(Whim::Pass),
        1 => (1..60_000i64).prop_map(Whim::Pass),
        1 => Just(Whim::Stop),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, ..ProptestConfig::default() })]

    /// Whatever the device says about its ranges and does with its answers: no write asks for more
    /// than a light load, nothing is written without consent, and the audit comes to an end.
    #[test]
    fn no_device_lures_it_into_a_load(
        consent in prop_oneof![
            Just(Consent::ReadOnly), Just(Consent::MayAsk), Just(Consent::MayChangeLoad)],
        feature in any::<u64>(),
        powers in any::<[i16; 2]>(),
        levels in any::<[i16; 2]>(),
        whims in proptest::collection::vec(whims(), 0..80),
    ) {
        let mut auditor = Auditor::new(Timestamp::ZERO, settings(consent));
        auditor.handle_services(&trainer_table());
        let mut now = Timestamp::ZERO;
        let pair = |[least, most]: [i16; 2]| {
            [least.to_le_bytes(), most.to_le_bytes(), [1, 0]].concat()
        };
        let values = [
            (a::FITNESS_MACHINE_FEATURE, feature.to_le_bytes().to_vec()),
            (a::SUPPORTED_POWER_RANGE, pair(powers)),
            (a::SUPPORTED_RESISTANCE_LEVEL_RANGE, pair(levels)),
        ];
        for (characteristic, bytes) in values {
            auditor.handle_read(now, characteristic, Ok(bytes));
        }
        now = Timestamp::from_secs(30);
        auditor.handle_time(now);
        let mut last_op = 0;
        let mut turns = 0;
        let mut whims = whims.into_iter();
        while !auditor.is_over() {
            turns += 1;
            prop_assert!(turns < 3000, "it never ends");
            while let Some(output) = auditor.poll_output() {
                let AuditOutput::Write { bytes, .. } = output else { continue };
                prop_assert!(consent == Consent::MayChangeLoad);
                last_op = bytes[0];
                if let Ok(request) = Request::decode(&bytes) {
                    light(&request.value)?;
                }
            }
            let Some(whim) = whims.next() else {
                now = auditor.poll_timeout().unwrap_or(now).max(now);
                auditor.handle_time(now);
                continue;
            };
            let point = a::FITNESS_MACHINE_CONTROL_POINT;
            let packet = |characteristic, bytes| Packet {
                at: now,
                source: SourceId(1),
                epoch: 1,
                characteristic,
                bytes,
            };
            match whim {
                // The ranges stay as they were read, so that the limit is known to the test.
                Whim::Read(which, bytes) => {
                    let characteristic = a::ALL[which];
                    if !(a::SUPPORTED_SPEED_RANGE.0..=point.0).contains(&characteristic.0) {
                        auditor.handle_read(now, characteristic, Ok(bytes));
                    }
                }
                Whim::Answer(result) => {
                    auditor.handle_packet(&packet(point, vec![0x80, last_op, result]));
                }
                Whim::Say(which, bytes) => auditor.handle_packet(&packet(a::ALL[which], bytes)),
                Whim::Acknowledge(code) => {
                    let result = code.map_or(Ok(()), |code| Err(AttError::Code(code)));
                    auditor.handle_write_result(now, &result);
                }
                Whim::Link(link) => auditor.handle_link(now, link),
                Whim::Pass(millis) => {
                    now += Span::from_millis(millis);
                    auditor.handle_time(now);
                }
                Whim::Stop => auditor.stop(now),
            }
            prop_assert!(auditor.poll_timeout().is_none_or(|due| due > now), "it spins");
        }
        auditor.finish();
    }
}

/// No request of an audit loads the brake.
fn light(request: &Request) -> Result<(), TestCaseError> {
    let heavy = match request {
        Request::SetTargetPower { power_w } => *power_w > MOST_LOAD_W,
        Request::SetSimulation(road) => road.grade_pct > 0.0 || road.rolling_coefficient > 0.0,
        Request::SetTargetSpeed { .. }
        | Request::SetTargetInclination { .. }
        | Request::SetTargetHeartRate { .. }
        | Request::SpinDown(_) => true,
        _ => false,
    };
    prop_assert!(!heavy, "{request:?}");
    Ok(())
}
