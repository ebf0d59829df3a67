//! Whether the fields that a device claims are really sent, and no others.

use super::counters;
use super::evidence::{Evidence, Heard};
use super::finding::RuleFinding;
use super::streams::Fault;
use crate::assigned as a;
use crate::cycling_power::feature::{CyclingPowerFeature, PowerFeature};
use crate::cycling_power::measurement::CyclingPowerMeasurement;
use crate::fitness_machine::RecordAssembler;
use crate::fitness_machine::feature::MachineFeature;
use crate::fitness_machine::indoor_bike_data::IndoorBikeData;
use crate::fitness_machine::status::Status;
use crate::speed_cadence::{SpeedCadenceFeature, SpeedCadenceMeasurement};

const CLAIM: &str = "Fitness Machine Service 1.0.1, section 4.3 with table 4.10";
const SPLIT: &str = "Fitness Machine Service 1.0, section 4.9.1.2; 1.0.1, section 4.19";
const TOTALS: &str = "Fitness Machine Service 1.0, table 4.10 (totals since the training began)";
const METER: &str = "Cycling Power Service, Cycling Power Feature (2A65)";
const SPEED: &str = "Cycling Speed and Cadence Service, CSC Feature (2A5C)";

/// So many records must have come before a field that never came counts as not sent.
const ENOUGH: usize = 10;
/// Whoever makes this power pedals, W. Our own choice.
const PEDALS_W: i16 = 30;

/// Whether a field must be in the records of a device that claims it.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Presence {
    /// Always.
    Always,
    /// Only when there is something to say: a belt is linked, a time was set.
    Sometimes,
}

/// The rules about claims, for the services that the device has.
pub(super) fn rules(evidence: &Evidence) -> Vec<RuleFinding> {
    let mut findings = Vec::new();
    if evidence
        .offered(a::FITNESS_MACHINE_SERVICE, a::INDOOR_BIKE_DATA)
        .is_some()
    {
        bike(evidence, &mut findings);
    }
    if evidence.has_service(a::CYCLING_POWER_SERVICE) {
        meter(evidence, &mut findings);
    }
    if evidence.has_service(a::SPEED_CADENCE_SERVICE) {
        speed(evidence, &mut findings);
    }
    findings
}

/// The whole records of a bike and whether all records were closed.
fn bike(evidence: &Evidence, findings: &mut Vec<RuleFinding>) {
    let heard = evidence.heard(a::INDOOR_BIKE_DATA);
    let split = RuleFinding::new(
        "ftms.bike-data.split",
        "a record in several notifications ends with one that carries the speed",
        SPLIT,
    );
    let mut assembler = RecordAssembler::new();
    let mut epoch = None;
    let (mut records, mut parts, mut unclosed) = (Vec::new(), 0, Fault::new());
    for one in heard {
        if epoch.replace(one.epoch) != Some(one.epoch) {
            assembler.discard();
        }
        let Ok(part) = IndoorBikeData::decode(&one.bytes) else {
            continue;
        };
        parts += usize::from(part.value.more_data());
        if let Some(record) = assembler.handle(part.value) {
            if record.more_data() {
                unclosed.note(
                    one,
                    "a part came again before the speed had closed the record".into(),
                );
            }
            records.push(record);
        }
    }
    findings.push(if parts == 0 {
        split.unseen("no record came in several notifications")
    } else {
        unclosed.settle(split, heard.len(), "each record in parts was closed")
    });
    findings.push(totals(evidence, heard));
    findings.extend(bike_claims(evidence, &records));
}

fn bike_claims(evidence: &Evidence, records: &[IndoorBikeData]) -> Vec<RuleFinding> {
    type Field = fn(&IndoorBikeData) -> bool;
    use MachineFeature as F;
    use Presence::{Always, Sometimes};
    let rows: [(&str, MachineFeature, Field, Presence); 11] = [
        (
            "average-speed",
            F::AverageSpeed,
            |r| r.average_speed_kmh.is_some(),
            Sometimes,
        ),
        (
            "cadence",
            F::Cadence,
            |r| r.cadence_rpm.is_some() || r.average_cadence_rpm.is_some(),
            Always,
        ),
        (
            "distance",
            F::TotalDistance,
            |r| r.distance_m.is_some(),
            Always,
        ),
        (
            "resistance",
            F::ResistanceLevel,
            |r| r.resistance.is_some(),
            Always,
        ),
        (
            "power",
            F::PowerMeasurement,
            |r| r.power_w.is_some() || r.average_power_w.is_some(),
            Always,
        ),
        (
            "energy",
            F::ExpendedEnergy,
            |r| r.energy.is_some(),
            Sometimes,
        ),
        (
            "heart-rate",
            F::HeartRate,
            |r| r.heart_rate_bpm.is_some(),
            Sometimes,
        ),
        (
            "metabolic-equivalent",
            F::MetabolicEquivalent,
            |r| r.metabolic_equivalent.is_some(),
            Sometimes,
        ),
        (
            "elapsed-time",
            F::ElapsedTime,
            |r| r.elapsed_s.is_some(),
            Always,
        ),
        (
            "remaining-time",
            F::RemainingTime,
            |r| r.remaining_s.is_some(),
            Sometimes,
        ),
        // Not a field of its own: a cadence that stays zero while power is made.
        (
            "cadence-value",
            F::Cadence,
            |r| r.cadence_rpm.is_some_and(|rpm| rpm > 0.0),
            Always,
        ),
    ];
    let measures = evidence.machine().map(|feature| feature.measures);
    let pedalled: Vec<_> = records
        .iter()
        .filter(|r| r.power_w.is_some_and(|w| w >= PEDALS_W))
        .collect();
    let mut findings = Vec::new();
    for (id, feature, field, presence) in rows {
        let claimed = measures.map(|measures| measures.contains(feature));
        let id = format!("ftms.claim.{id}");
        if !id.ends_with("-value") {
            let sent = records.iter().filter(|record| field(record)).count();
            findings.push(claim(
                &id,
                feature.name(),
                CLAIM,
                claimed,
                presence,
                sent,
                records.len(),
            ));
            continue;
        }
        let title = "the cadence that is sent is more than zero while power is made";
        let finding = RuleFinding::new(id, title, CLAIM);
        let with_field = pedalled.iter().filter(|r| r.cadence_rpm.is_some()).count();
        let alive = pedalled.iter().filter(|record| field(record)).count();
        findings.push(if with_field < ENOUGH {
            finding.unseen(format!(
                "only {with_field} records held a cadence while {PEDALS_W} W or more were made"
            ))
        } else if alive == 0 {
            finding.broken(format!(
                "it was zero in all {with_field} records with power"
            ))
        } else {
            finding.kept(format!("{alive} of {with_field} records with power"))
        });
    }
    findings
}

/// One claim against what was sent.
fn claim(
    id: &str,
    what: &str,
    clause: &'static str,
    claimed: Option<bool>,
    presence: Presence,
    sent: usize,
    records: usize,
) -> RuleFinding {
    let title = format!("{what} is sent if the features claim it, and only then");
    let finding = RuleFinding::new(id, title, clause);
    let counted = format!("in {sent} of {records} records");
    match (claimed, sent) {
        (None, _) => finding.unseen("its features are not known"),
        (Some(true), 1..) => finding.kept(format!("claimed, and sent {counted}")),
        (Some(false), 1..) => finding.broken(format!("not claimed, but sent {counted}")),
        (_, 0) if records < ENOUGH => {
            finding.unseen(format!("{records} records are too few to tell"))
        }
        (Some(false), 0) => finding.kept(format!("not claimed, and not sent {counted}")),
        (Some(true), 0) if presence == Presence::Always => {
            finding.broken(format!("claimed, but sent {counted}"))
        }
        (Some(true), 0) => finding.unseen(format!(
            "claimed, and sent {counted}; it may have had nothing to say"
        )),
    }
}

/// Totals that run backwards though nothing was reset or begun anew.
fn totals(evidence: &Evidence, heard: &[Heard]) -> RuleFinding {
    let title = "distance and elapsed time do not run backwards within a training";
    let finding = RuleFinding::new("ftms.bike-data.totals", title, TOTALS);
    let restarts: Vec<_> = evidence
        .heard(a::FITNESS_MACHINE_STATUS)
        .iter()
        .filter(|one| {
            let status = Status::decode(&one.bytes).map(|decoded| decoded.value);
            matches!(
                status,
                Ok(Status::Reset | Status::StoppedOrPaused(_) | Status::StartedOrResumed)
            )
        })
        .map(|one| one.at)
        .collect();
    let mut fault = Fault::new();
    let mut last = None;
    let mut compared = 0;
    for one in heard {
        let Ok(part) = IndoorBikeData::decode(&one.bytes) else {
            continue;
        };
        let (distance_m, elapsed_s) = (part.value.distance_m, part.value.elapsed_s);
        if distance_m.is_none() && elapsed_s.is_none() {
            continue;
        }
        if let Some((at, epoch, distance_before, elapsed_before)) =
            last.replace((one.at, one.epoch, distance_m, elapsed_s))
        {
            let restarted =
                epoch != one.epoch || restarts.iter().any(|&reset| reset >= at && reset <= one.at);
            compared += 1;
            // An absent value compares as less than any other, which is no step back.
            let back = (distance_m.is_some() && distance_m < distance_before)
                || (elapsed_s.is_some() && elapsed_s < elapsed_before);
            if back && !restarted {
                fault.note(one, "a total is less than before".to_owned());
            }
        }
    }
    if compared == 0 {
        return finding.unseen("neither of them was sent twice");
    }
    fault.settle(finding, heard.len(), "no step back")
}

fn meter(evidence: &Evidence, findings: &mut Vec<RuleFinding>) {
    type Field = fn(&CyclingPowerMeasurement) -> bool;
    use PowerFeature as F;
    use Presence::{Always, Sometimes};
    let heard = evidence.heard(a::CYCLING_POWER_MEASUREMENT);
    let decode = |one: &Heard| CyclingPowerMeasurement::decode(&one.bytes).ok();
    let records: Vec<_> = heard
        .iter()
        .filter_map(decode)
        .map(|decoded| decoded.value)
        .collect();
    let pedalled = records
        .iter()
        .filter(|record| record.power_w >= PEDALS_W)
        .count();
    let features = evidence.meter();
    let rows: [(&str, PowerFeature, Field, Presence); 9] = [
        ("balance", F::Balance, |r| r.balance.is_some(), Always),
        (
            "torque",
            F::AccumulatedTorque,
            |r| r.accumulated_torque.is_some(),
            Always,
        ),
        ("wheel", F::WheelRevolutions, |r| r.wheel.is_some(), Always),
        ("crank", F::CrankRevolutions, |r| r.crank.is_some(), Always),
        (
            "extremes",
            F::ExtremeMagnitudes,
            |r| r.extreme_force.is_some() || r.extreme_torque.is_some(),
            Sometimes,
        ),
        (
            "angles",
            F::ExtremeAngles,
            |r| r.extreme_angles.is_some(),
            Sometimes,
        ),
        (
            "dead-spots",
            F::DeadSpotAngles,
            |r| r.top_dead_spot_deg.is_some() || r.bottom_dead_spot_deg.is_some(),
            Sometimes,
        ),
        (
            "energy",
            F::AccumulatedEnergy,
            |r| r.energy_kj.is_some(),
            Sometimes,
        ),
        (
            "offset-indicator",
            F::OffsetIndicator,
            |r| r.offset_compensation_requested,
            Sometimes,
        ),
    ];
    for (id, feature, field, presence) in rows {
        let claimed = features.map(|features: CyclingPowerFeature| features.contains(feature));
        let sent = records.iter().filter(|record| field(record)).count();
        // A meter may leave a field out while nobody pedals.
        let presence = if pedalled >= ENOUGH {
            presence
        } else {
            Sometimes
        };
        let id = format!("cps.claim.{id}");
        findings.push(claim(
            &id,
            feature.name(),
            METER,
            claimed,
            presence,
            sent,
            records.len(),
        ));
    }
    findings.push(counters::power(heard));
}

fn speed(evidence: &Evidence, findings: &mut Vec<RuleFinding>) {
    type Field = fn(&SpeedCadenceMeasurement) -> bool;
    let heard = evidence.heard(a::CSC_MEASUREMENT);
    let decode = |one: &Heard| SpeedCadenceMeasurement::decode(&one.bytes).ok();
    let records: Vec<_> = heard
        .iter()
        .filter_map(decode)
        .map(|decoded| decoded.value)
        .collect();
    let features = evidence.speed();
    let rows: [(&str, SpeedCadenceFeature, Field); 2] = [
        ("wheel", SpeedCadenceFeature::WheelRevolutions, |r| {
            r.wheel.is_some()
        }),
        ("crank", SpeedCadenceFeature::CrankRevolutions, |r| {
            r.crank.is_some()
        }),
    ];
    for (id, feature, field) in rows {
        let claimed = features.map(|features| features.contains(feature));
        let sent = records.iter().filter(|record| field(record)).count();
        let id = format!("csc.claim.{id}");
        let always = Presence::Always;
        findings.push(claim(
            &id,
            feature.name(),
            SPEED,
            claimed,
            always,
            sent,
            records.len(),
        ));
    }
    findings.push(counters::speed(heard));
}
