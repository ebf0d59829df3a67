//! Whether the values that are read have the length, the bits and the numbers of the standard.

use super::evidence::{Evidence, Property};
use super::finding::RuleFinding;
use crate::anomaly::{Anomaly, DecodeError, Decoded};
use crate::assigned::{self as a, name};
use crate::battery::BatteryLevel;
use crate::control::event::advice;
use crate::cycling_power::feature::{CyclingPowerFeature, DistributedSystem};
use crate::cycling_power::location::SensorLocation;
use crate::device_information::{SystemId, decode_text};
use crate::fitness_machine::advertisement::{FitnessMachineAdvertisement, MachineKind};
use crate::fitness_machine::feature::FitnessMachineFeature;
use crate::fitness_machine::ranges::{
    HeartRateRange, InclinationRange, PowerRange, ResistanceRange, SpeedRange,
};
use crate::fitness_machine::training_status::TrainingStatus;
use crate::heart_rate::BodySensorLocation;
use crate::speed_cadence::SpeedCadenceFeatures;
use units::{AttError, Characteristic};

const FEATURE: &str = "Fitness Machine Service 1.0.1, section 4.3";
const RANGES: &str = "Fitness Machine Service 1.0.1, supported ranges (2AD4 to 2AD8)";
const SUPPLEMENT: &str = "GATT Specification Supplement, value of the characteristic";
const ADVERTISEMENT: &str = "Fitness Machine Service 1.0.1, section 3.1";

/// What a value says beyond its form, or why it contradicts itself.
type Meaning = Result<String, String>;
type Read = fn(&[u8]) -> Result<Decoded<Meaning>, DecodeError>;

/// Identifier, clause, service, characteristic, and how to read it.
const ROWS: &[(&str, &str, u16, Characteristic, Read)] = {
    const M: u16 = a::FITNESS_MACHINE_SERVICE;
    const P: u16 = a::CYCLING_POWER_SERVICE;
    const S: u16 = a::SPEED_CADENCE_SERVICE;
    &[
        (
            "ftms.feature",
            FEATURE,
            M,
            a::FITNESS_MACHINE_FEATURE,
            machine_feature,
        ),
        (
            "ftms.speed-range",
            RANGES,
            M,
            a::SUPPORTED_SPEED_RANGE,
            speed_range,
        ),
        (
            "ftms.inclination-range",
            RANGES,
            M,
            a::SUPPORTED_INCLINATION_RANGE,
            inclination_range,
        ),
        (
            "ftms.resistance-range",
            RANGES,
            M,
            a::SUPPORTED_RESISTANCE_LEVEL_RANGE,
            resistance_range,
        ),
        (
            "ftms.power-range",
            RANGES,
            M,
            a::SUPPORTED_POWER_RANGE,
            power_range,
        ),
        (
            "ftms.heart-rate-range",
            RANGES,
            M,
            a::SUPPORTED_HEART_RATE_RANGE,
            heart_rate_range,
        ),
        (
            "ftms.training-status.read",
            SUPPLEMENT,
            M,
            a::TRAINING_STATUS,
            training_status,
        ),
        (
            "cps.feature",
            SUPPLEMENT,
            P,
            a::CYCLING_POWER_FEATURE,
            meter_feature,
        ),
        (
            "cps.location",
            SUPPLEMENT,
            P,
            a::SENSOR_LOCATION,
            sensor_location,
        ),
        ("csc.feature", SUPPLEMENT, S, a::CSC_FEATURE, speed_feature),
        (
            "csc.location",
            SUPPLEMENT,
            S,
            a::SENSOR_LOCATION,
            sensor_location,
        ),
        (
            "hr.location",
            SUPPLEMENT,
            a::HEART_RATE_SERVICE,
            a::BODY_SENSOR_LOCATION,
            body_location,
        ),
        (
            "battery.level.read",
            SUPPLEMENT,
            a::BATTERY_SERVICE,
            a::BATTERY_LEVEL,
            battery,
        ),
        (
            "information.maker",
            SUPPLEMENT,
            a::DEVICE_INFORMATION_SERVICE,
            a::MANUFACTURER_NAME,
            text,
        ),
        (
            "information.model",
            SUPPLEMENT,
            a::DEVICE_INFORMATION_SERVICE,
            a::MODEL_NUMBER,
            text,
        ),
        (
            "information.serial",
            SUPPLEMENT,
            a::DEVICE_INFORMATION_SERVICE,
            a::SERIAL_NUMBER,
            text,
        ),
        (
            "information.firmware",
            SUPPLEMENT,
            a::DEVICE_INFORMATION_SERVICE,
            a::FIRMWARE_REVISION,
            text,
        ),
        (
            "information.hardware",
            SUPPLEMENT,
            a::DEVICE_INFORMATION_SERVICE,
            a::HARDWARE_REVISION,
            text,
        ),
        (
            "information.software",
            SUPPLEMENT,
            a::DEVICE_INFORMATION_SERVICE,
            a::SOFTWARE_REVISION,
            text,
        ),
        (
            "information.system-id",
            SUPPLEMENT,
            a::DEVICE_INFORMATION_SERVICE,
            a::SYSTEM_ID,
            system_id,
        ),
    ]
};

/// The rules about values, for what the device offers to be read.
pub(super) fn rules(evidence: &Evidence) -> Vec<RuleFinding> {
    let mut findings = Vec::new();
    if evidence.has_service(a::FITNESS_MACHINE_SERVICE) {
        findings.push(advertisement(evidence));
    }
    for &(id, clause, service, characteristic, read) in ROWS {
        let readable = evidence
            .offered(service, characteristic)
            .is_some_and(|offered| offered.properties.contains(Property::Read));
        if readable {
            judge(evidence, (id, clause, characteristic, read), &mut findings);
        }
    }
    findings
}

fn judge(
    evidence: &Evidence,
    (id, clause, characteristic, read): (&str, &'static str, Characteristic, Read),
    findings: &mut Vec<RuleFinding>,
) {
    let what = name(characteristic);
    let value = RuleFinding::new(
        format!("{id}.value"),
        format!("the value of {what} ({characteristic}) can be read and agrees with itself"),
        clause,
    );
    let reserved = RuleFinding::new(
        format!("{id}.reserved"),
        format!("bits and numbers of {what} ({characteristic}) that are reserved are not used"),
        clause,
    );
    let bytes = match evidence.reads.get(&characteristic) {
        None => {
            findings.push(value.unseen("it was not read"));
            findings.push(reserved.unseen("it was not read"));
            return;
        }
        Some(Err(error)) => {
            findings.push(refused(value, error));
            findings.push(reserved.unseen("it could not be read"));
            return;
        }
        Some(Ok(bytes)) => bytes,
    };
    let (value, reserved) = (value.received(bytes), reserved.received(bytes));
    let decoded = match read(bytes) {
        Ok(decoded) => decoded,
        Err(error) => {
            findings.push(value.broken(error.to_string()));
            findings.push(reserved.unseen("the value is too short"));
            return;
        }
    };
    let (unknown, others): (Vec<_>, Vec<_>) = decoded
        .anomalies
        .iter()
        .partition(|anomaly| is_reserved(anomaly));
    let faults: Vec<_> = others
        .iter()
        .filter(|anomaly| !is_tolerated(anomaly))
        .collect();
    findings.push(match (faults.first(), decoded.value) {
        (Some(_), _) => value.broken(join(faults.into_iter().copied())),
        (None, Err(words)) => value.broken(words),
        (None, Ok(words)) if others.is_empty() => value.kept(words),
        (None, Ok(words)) => value.kept(format!("{words}; {}", join(others.into_iter()))),
    });
    findings.push(if unknown.is_empty() {
        reserved.kept("none is used")
    } else {
        reserved.broken(join(unknown.into_iter()))
    });
}

/// A read that was turned away: broken, unless it only waits for a pairing or never got there.
fn refused(finding: RuleFinding, error: &AttError) -> RuleFinding {
    match (error, advice(error)) {
        (AttError::Code(_), Some(advice)) => finding.unseen(format!("{error}; {advice}")),
        (AttError::Code(_), None) => finding.broken(format!(
            "it declares that it can be read, and answers {error}"
        )),
        (_, _) => finding.unseen(format!("it could not be read: {error}")),
    }
}

/// Whether an anomaly is about something reserved for future use.
pub(super) fn is_reserved(anomaly: &Anomaly) -> bool {
    matches!(
        anomaly,
        Anomaly::ReservedFlags { .. } | Anomaly::ReservedValue { .. }
    )
}

/// Where editions of the standard differ, either is by the letter.
pub(super) fn is_tolerated(anomaly: &Anomaly) -> bool {
    matches!(anomaly, Anomaly::ResistanceInOneOctet)
}

fn join<'a>(anomalies: impl Iterator<Item = &'a Anomaly>) -> String {
    anomalies
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join("; ")
}

fn advertisement(evidence: &Evidence) -> RuleFinding {
    let title = "the advertisement says that it is an indoor bike, and uses nothing reserved";
    let finding = RuleFinding::new("ftms.advertisement.value", title, ADVERTISEMENT);
    let Some(bytes) = &evidence.advertisement else {
        return finding.unseen("its advertisement was not seen");
    };
    let finding = finding.received(bytes);
    match FitnessMachineAdvertisement::decode(bytes) {
        Err(_) => finding.broken(format!("3 bytes are needed, and there are {}", bytes.len())),
        Ok(decoded) if !decoded.anomalies.is_empty() => {
            finding.broken(join(decoded.anomalies.iter()))
        }
        Ok(decoded) => {
            let kinds: Vec<_> = decoded.value.kinds.iter().map(MachineKind::name).collect();
            if decoded.value.kinds.contains(MachineKind::IndoorBike) {
                finding.kept(format!("it is: {}", kinds.join(", ")))
            } else {
                finding.broken(format!("it says that it is: {}", kinds.join(", ")))
            }
        }
    }
}

fn machine_feature(bytes: &[u8]) -> Result<Decoded<Meaning>, DecodeError> {
    Ok(FitnessMachineFeature::decode(bytes)?.map(|feature| {
        let measures: Vec<_> = feature.measures.iter().map(|one| one.name()).collect();
        let settable: Vec<_> = feature
            .settable
            .iter()
            .flat_map(|set| set.iter())
            .map(|one| one.name())
            .collect();
        Ok(format!(
            "measures {}; can be set: {}",
            or_none(&measures),
            or_none(&settable)
        ))
    }))
}

fn meter_feature(bytes: &[u8]) -> Result<Decoded<Meaning>, DecodeError> {
    Ok(CyclingPowerFeature::decode(bytes)?.map(|feature| {
        if feature.distributed() == DistributedSystem::Reserved {
            return Err("its use in a distributed system has the reserved value 3".to_owned());
        }
        let names: Vec<_> = feature.iter().map(|one| one.name()).collect();
        Ok(or_none(&names))
    }))
}

fn speed_feature(bytes: &[u8]) -> Result<Decoded<Meaning>, DecodeError> {
    Ok(SpeedCadenceFeatures::decode(bytes)?.map(|features| {
        let names: Vec<_> = features.iter().map(|one| one.name()).collect();
        Ok(or_none(&names))
    }))
}

fn or_none(names: &[&str]) -> String {
    if names.is_empty() {
        return "nothing".to_owned();
    }
    names.join(", ")
}

fn speed_range(bytes: &[u8]) -> Result<Decoded<Meaning>, DecodeError> {
    let range = SpeedRange::decode(bytes)?;
    Ok(range.map(|range| steps([range.min_kmh, range.max_kmh, range.step_kmh], "km/h")))
}

fn inclination_range(bytes: &[u8]) -> Result<Decoded<Meaning>, DecodeError> {
    let range = InclinationRange::decode(bytes)?;
    Ok(range.map(|range| steps([range.min_pct, range.max_pct, range.step_pct], "%")))
}

fn resistance_range(bytes: &[u8]) -> Result<Decoded<Meaning>, DecodeError> {
    let range = ResistanceRange::decode(bytes)?;
    Ok(range.map(|range| steps([range.min, range.max, range.step], "")))
}

fn power_range(bytes: &[u8]) -> Result<Decoded<Meaning>, DecodeError> {
    let range = PowerRange::decode(bytes)?;
    Ok(range.map(|range| {
        steps(
            [range.min_w.into(), range.max_w.into(), range.step_w.into()],
            "W",
        )
    }))
}

fn heart_rate_range(bytes: &[u8]) -> Result<Decoded<Meaning>, DecodeError> {
    let range = HeartRateRange::decode(bytes)?;
    Ok(range.map(|range| {
        steps(
            [
                range.min_bpm.into(),
                range.max_bpm.into(),
                range.step_bpm.into(),
            ],
            "bpm",
        )
    }))
}

/// A range in words; a step of nothing, or of more than the whole range, leads nowhere.
fn steps([min, max, step]: [f64; 3], unit: &str) -> Meaning {
    let words = format!("{min} to {max} in steps of {step} {unit}")
        .trim_end()
        .to_owned();
    if max > min && (step <= 0.0 || step > max - min) {
        return Err(format!(
            "{words}: no step leads from the least to the greatest"
        ));
    }
    Ok(words)
}

fn training_status(bytes: &[u8]) -> Result<Decoded<Meaning>, DecodeError> {
    Ok(TrainingStatus::decode(bytes)?.map(|status| Ok(status.state.to_string())))
}

fn sensor_location(bytes: &[u8]) -> Result<Decoded<Meaning>, DecodeError> {
    Ok(SensorLocation::decode(bytes)?.map(|location| Ok(location.to_string())))
}

fn body_location(bytes: &[u8]) -> Result<Decoded<Meaning>, DecodeError> {
    Ok(BodySensorLocation::decode(bytes)?
        .map(|location| Ok(format!("{location:?}").to_lowercase())))
}

fn battery(bytes: &[u8]) -> Result<Decoded<Meaning>, DecodeError> {
    Ok(
        BatteryLevel::decode(bytes)?.map(|level| match level.percent {
            Some(percent) => Ok(format!("{percent} %")),
            None => Err("it is not between 0 and 100 %".to_owned()),
        }),
    )
}

fn text(bytes: &[u8]) -> Result<Decoded<Meaning>, DecodeError> {
    Ok(decode_text(bytes).map(|text| Ok(format!("{text:?}"))))
}

fn system_id(bytes: &[u8]) -> Result<Decoded<Meaning>, DecodeError> {
    Ok(SystemId::decode(bytes)?.map(|id| Ok(format!("{:016X}", id.number))))
}
