//! Which characteristics must be there, and what they must be able to do.
//!
//! Source of the table: bluetooth.md §1 (properties), §7.3 (a range is mandatory if its target can
//! be set) and §8.3 (status is mandatory where the control point exists).

use super::evidence::{Evidence, Properties, Property};
use super::finding::RuleFinding;
use crate::assigned::{self as a, name};
use crate::cycling_power::feature::PowerFeature;
use crate::fitness_machine::feature::{TargetFeature, TargetFeatures};
use crate::speed_cadence::SpeedCadenceFeature;
use units::Characteristic;

const FTMS_TABLE: &str = "Fitness Machine Service 1.0.1, section 4, characteristics";
const FTMS_RANGES: &str = "Fitness Machine Service 1.0.1, supported ranges (2AD4 to 2AD8)";
const FTMS_STATUS: &str = "Fitness Machine Service 1.0.1, Fitness Machine Status (2ADA)";
const CPS: &str = "Cycling Power Service, characteristics";
const CSC: &str = "Cycling Speed and Cadence Service, characteristics";
const HEART_RATE: &str = "Heart Rate Service, characteristics";
const BATTERY: &str = "Battery Service, characteristics";
const INFORMATION: &str = "Device Information Service, characteristics";

/// When a characteristic must be there.
#[derive(Clone, Copy)]
enum When {
    Always,
    Optional,
    Settable(TargetFeature),
    AnythingSettable,
    MachineControlPoint,
    MeterProcedures,
    SpeedLocations,
}

type Row = (
    &'static str,
    &'static str,
    u16,
    Characteristic,
    &'static [Property],
    When,
);

const READ: &[Property] = &[Property::Read];
const NOTIFY: &[Property] = &[Property::Notify];
const POINT: &[Property] = &[Property::Write, Property::Indicate];

const ROWS: &[Row] = {
    const M: u16 = a::FITNESS_MACHINE_SERVICE;
    const P: u16 = a::CYCLING_POWER_SERVICE;
    const S: u16 = a::SPEED_CADENCE_SERVICE;
    const H: u16 = a::HEART_RATE_SERVICE;
    use TargetFeature as T;
    use When::{
        Always, AnythingSettable, MachineControlPoint, MeterProcedures, Optional, Settable,
        SpeedLocations,
    };
    &[
        (
            "ftms.feature",
            FTMS_TABLE,
            M,
            a::FITNESS_MACHINE_FEATURE,
            READ,
            Always,
        ),
        (
            "ftms.bike-data",
            FTMS_TABLE,
            M,
            a::INDOOR_BIKE_DATA,
            NOTIFY,
            Optional,
        ),
        (
            "ftms.training-status",
            FTMS_TABLE,
            M,
            a::TRAINING_STATUS,
            &[Property::Read, Property::Notify],
            Optional,
        ),
        (
            "ftms.speed-range",
            FTMS_RANGES,
            M,
            a::SUPPORTED_SPEED_RANGE,
            READ,
            Settable(T::Speed),
        ),
        (
            "ftms.inclination-range",
            FTMS_RANGES,
            M,
            a::SUPPORTED_INCLINATION_RANGE,
            READ,
            Settable(T::Inclination),
        ),
        (
            "ftms.resistance-range",
            FTMS_RANGES,
            M,
            a::SUPPORTED_RESISTANCE_LEVEL_RANGE,
            READ,
            Settable(T::ResistanceLevel),
        ),
        (
            "ftms.power-range",
            FTMS_RANGES,
            M,
            a::SUPPORTED_POWER_RANGE,
            READ,
            Settable(T::Power),
        ),
        (
            "ftms.heart-rate-range",
            FTMS_RANGES,
            M,
            a::SUPPORTED_HEART_RATE_RANGE,
            READ,
            Settable(T::HeartRate),
        ),
        (
            "ftms.control-point",
            FTMS_TABLE,
            M,
            a::FITNESS_MACHINE_CONTROL_POINT,
            POINT,
            AnythingSettable,
        ),
        (
            "ftms.status",
            FTMS_STATUS,
            M,
            a::FITNESS_MACHINE_STATUS,
            NOTIFY,
            MachineControlPoint,
        ),
        (
            "cps.measurement",
            CPS,
            P,
            a::CYCLING_POWER_MEASUREMENT,
            NOTIFY,
            Always,
        ),
        (
            "cps.feature",
            CPS,
            P,
            a::CYCLING_POWER_FEATURE,
            READ,
            Always,
        ),
        ("cps.location", CPS, P, a::SENSOR_LOCATION, READ, Optional),
        (
            "cps.vector",
            CPS,
            P,
            a::CYCLING_POWER_VECTOR,
            NOTIFY,
            Optional,
        ),
        (
            "cps.control-point",
            CPS,
            P,
            a::CYCLING_POWER_CONTROL_POINT,
            POINT,
            MeterProcedures,
        ),
        (
            "csc.measurement",
            CSC,
            S,
            a::CSC_MEASUREMENT,
            NOTIFY,
            Always,
        ),
        ("csc.feature", CSC, S, a::CSC_FEATURE, READ, Always),
        ("csc.location", CSC, S, a::SENSOR_LOCATION, READ, Optional),
        (
            "csc.control-point",
            CSC,
            S,
            a::SC_CONTROL_POINT,
            POINT,
            SpeedLocations,
        ),
        (
            "hr.measurement",
            HEART_RATE,
            H,
            a::HEART_RATE_MEASUREMENT,
            NOTIFY,
            Always,
        ),
        (
            "hr.location",
            HEART_RATE,
            H,
            a::BODY_SENSOR_LOCATION,
            READ,
            Optional,
        ),
        (
            "battery.level",
            BATTERY,
            a::BATTERY_SERVICE,
            a::BATTERY_LEVEL,
            READ,
            Always,
        ),
    ]
};

/// The rules about the service table, for the services that are in it.
pub(super) fn rules(evidence: &Evidence) -> Vec<RuleFinding> {
    let rows = ROWS.iter().filter(|row| evidence.has_service(row.2));
    let mut findings: Vec<_> = rows.map(|row| judge(evidence, row)).collect();
    if evidence.has_service(a::DEVICE_INFORMATION_SERVICE) {
        findings.push(information(evidence));
    }
    findings
}

fn judge(evidence: &Evidence, row: &Row) -> RuleFinding {
    let &(id, clause, service, characteristic, needs, when) = row;
    let what = format!("{} ({characteristic})", name(characteristic));
    let words = list(needs.iter().map(|property| property.name()));
    let title = format!("{what} is there where it must be, with {words}");
    let finding = RuleFinding::new(format!("{id}.presence"), title, clause);
    let required = required(evidence, when);
    let Some(offered) = evidence.offered(service, characteristic) else {
        return match required {
            Some(true) => finding.broken("it is missing"),
            Some(false) => finding.unseen("it is not there, and need not be"),
            None => finding.unseen("it is not there; whether it must be, its features did not say"),
        };
    };
    let missing: Vec<_> = needs
        .iter()
        .filter(|&&need| !offered.properties.contains(need))
        .collect();
    let declared = declared(offered.properties);
    if missing.is_empty() {
        finding.kept(format!("it declares {declared}"))
    } else {
        let missing = list(missing.iter().map(|property| property.name()));
        finding.broken(format!("it declares {declared}, and {missing} is missing"))
    }
}

fn required(evidence: &Evidence, when: When) -> Option<bool> {
    match when {
        When::Always => Some(true),
        When::Optional => Some(false),
        When::Settable(target) => evidence.can_set(target),
        When::AnythingSettable => {
            let settable = evidence.machine()?.settable?;
            Some(settable.0 & TargetFeatures::KNOWN != 0)
        }
        When::MachineControlPoint => Some(
            evidence
                .offered(a::FITNESS_MACHINE_SERVICE, a::FITNESS_MACHINE_CONTROL_POINT)
                .is_some(),
        ),
        When::MeterProcedures => {
            let features = evidence.meter()?;
            let with_procedures = [
                PowerFeature::OffsetCompensation,
                PowerFeature::ContentMasking,
                PowerFeature::MultipleLocations,
                PowerFeature::CrankLength,
                PowerFeature::ChainLength,
                PowerFeature::ChainWeight,
                PowerFeature::SpanLength,
                PowerFeature::CalibrationDate,
                PowerFeature::EnhancedOffsetCompensation,
            ];
            Some(
                with_procedures
                    .iter()
                    .any(|&feature| features.contains(feature)),
            )
        }
        When::SpeedLocations => Some(
            evidence
                .speed()?
                .contains(SpeedCadenceFeature::MultipleLocations),
        ),
    }
}

fn information(evidence: &Evidence) -> RuleFinding {
    let title = "every characteristic of the device information can be read";
    let mut finding = RuleFinding::new("information.presence", title, INFORMATION);
    let offered = evidence
        .table
        .iter()
        .filter(|one| one.service == a::DEVICE_INFORMATION_SERVICE);
    let mut unreadable = Vec::new();
    let mut count = 0;
    for one in offered {
        count += 1;
        if !one.properties.contains(Property::Read) {
            unreadable.push(format!(
                "{} ({})",
                name(one.characteristic),
                one.characteristic
            ));
        }
    }
    finding = if unreadable.is_empty() {
        finding.kept(format!("{count} characteristics, all readable"))
    } else {
        finding.broken(format!("not readable: {}", unreadable.join(", ")))
    };
    finding
}

fn declared(properties: Properties) -> String {
    let names = list(properties.iter().map(Property::name));
    if names.is_empty() {
        return "nothing".to_owned();
    }
    names
}

fn list<'a>(names: impl Iterator<Item = &'a str>) -> String {
    names.collect::<Vec<_>>().join(" and ")
}
