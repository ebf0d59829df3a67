//! What is asked of the control points of power meters and of speed and cadence sensors: questions
//! that change nothing.

use super::dialogue::{Kind, Needs, Point, Step};
use super::evidence::Evidence;
use crate::assigned::{CYCLING_POWER_CONTROL_POINT, SC_CONTROL_POINT};
use crate::cycling_power::control::{Request, op_code};
use crate::cycling_power::feature::PowerFeature;
use crate::speed_cadence::{Request as SpeedRequest, SpeedCadenceFeature};

const METER: &str = "Cycling Power Service, Cycling Power Control Point (2A66)";
const METER_BUSY: &str = "Cycling Power Service, Cycling Power Control Point; GATT error 0xFE";
const SPEED: &str = "Cycling Speed and Cadence Service, SC Control Point (2A55)";

const SUCCESS: &[u8] = &[1];
const NOT_SUPPORTED: &[u8] = &[2];
const EITHER: &[u8] = &[1, 2];

/// Op codes to which the standards give no meaning.
const UNKNOWN_METER_OP: u8 = 0x1F;
const UNKNOWN_SPEED_OP: u8 = 0x7F;

pub(super) const METER_POINT: Point = Point {
    characteristic: CYCLING_POWER_CONTROL_POINT,
    response: op_code::RESPONSE,
    control: None,
};

pub(super) const SPEED_POINT: Point = Point {
    characteristic: SC_CONTROL_POINT,
    response: 0x10,
    control: None,
};

/// Questions to a power meter. Where its features are not known, either answer will do.
pub(super) fn meter_plan(evidence: &Evidence) -> Vec<Step> {
    let features = evidence.meter();
    let by = |feature| expected(features.map(|features| features.contains(feature)));
    let ask = |id, title: &str, request: Request, expected| Step {
        id,
        title: title.to_owned(),
        clause: METER,
        bytes: request.encode(),
        expected,
        kind: Kind::Ask,
        needs: Needs::Nothing,
    };
    let unknown = Step {
        bytes: vec![UNKNOWN_METER_OP],
        ..ask(
            "cps.op.unknown",
            "an op code without meaning is not supported",
            Request::RequestSamplingRate,
            NOT_SUPPORTED,
        )
    };
    let busy = Step {
        kind: Kind::Busy,
        clause: METER_BUSY,
        ..ask(
            "cps.busy",
            "a write while a procedure is pending is turned away with error 0xFE",
            Request::RequestCrankLength,
            EITHER,
        )
    };
    vec![
        unknown,
        ask(
            "cps.crank-length",
            "the crank length is told if the features claim it, and only then",
            Request::RequestCrankLength,
            by(PowerFeature::CrankLength),
        ),
        ask(
            "cps.locations",
            "the sensor locations are told if the features claim several, and only then",
            Request::RequestLocations,
            by(PowerFeature::MultipleLocations),
        ),
        ask(
            "cps.calibration-date",
            "the calibration date is told if the features claim it, and only then",
            Request::RequestCalibrationDate,
            by(PowerFeature::CalibrationDate),
        ),
        ask(
            "cps.sampling-rate",
            "the sampling rate is told, or not supported",
            Request::RequestSamplingRate,
            EITHER,
        ),
        busy,
    ]
}

/// Questions to a speed and cadence sensor.
pub(super) fn speed_plan(evidence: &Evidence) -> Vec<Step> {
    let several = evidence
        .speed()
        .map(|features| features.contains(SpeedCadenceFeature::MultipleLocations));
    let ask = |id, title: &str, bytes, expected| Step {
        id,
        title: title.to_owned(),
        clause: SPEED,
        bytes,
        expected,
        kind: Kind::Ask,
        needs: Needs::Nothing,
    };
    vec![
        ask(
            "csc.op.unknown",
            "an op code without meaning is not supported",
            vec![UNKNOWN_SPEED_OP],
            NOT_SUPPORTED,
        ),
        ask(
            "csc.locations",
            "the sensor locations are told if the features claim several, and only then",
            SpeedRequest::RequestLocations.encode(),
            expected(several),
        ),
    ]
}

fn expected(claimed: Option<bool>) -> &'static [u8] {
    match claimed {
        Some(true) => SUCCESS,
        Some(false) => NOT_SUPPORTED,
        None => EITHER,
    }
}
