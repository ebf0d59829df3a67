//! What is asked of a fitness machine's control point, in order.
//!
//! It begins with control and a release and ends with a release. Every load in between is the
//! lowest, or a power of at most [`MOST_LOAD_W`]; values out of range are taken below the range,
//! never above it; values of a wrong length are tried with the stop, which loads nothing.

use super::consent::MOST_LOAD_W;
use super::dialogue::{Kind, Needs, Point, Step};
use super::evidence::Evidence;
use crate::assigned::FITNESS_MACHINE_CONTROL_POINT;
use crate::control::ControlMode;
use crate::fitness_machine::ResistanceWidth;
use crate::fitness_machine::control::{Request, StopOrPause, op_code};
use crate::fitness_machine::feature::TargetFeature;
use crate::fitness_machine::ranges::PowerRange;
use crate::fitness_machine::simulation::SimulationParameters;

const PROCEDURES: &str = "Fitness Machine Service 1.0, section 4.16 (control point procedures)";
const CONTROL: &str = "Fitness Machine Service 1.0, section 4.16 (control permission)";
const RESULTS: &str = "Fitness Machine Service 1.0, section 4.16 (result codes)";
const ONE_AT_A_TIME: &str = "Fitness Machine Service 1.0, section 4.16; GATT error 0xFE";

const SUCCESS: &[u8] = &[1];
const NOT_SUPPORTED: &[u8] = &[2];
const INVALID: &[u8] = &[3];
const FAILED: &[u8] = &[4];
const SUCCESS_OR_FAILED: &[u8] = &[1, 4];
const NOT_PERMITTED: &[u8] = &[5];

/// An op code to which the standard gives no meaning.
const UNKNOWN_OP: u8 = 0x7F;
/// A power for the rider to hardly notice, W.
const EASY_LOAD_W: i16 = 50;

pub(super) const POINT: Point = Point {
    characteristic: FITNESS_MACHINE_CONTROL_POINT,
    response: op_code::RESPONSE,
    control: Some((op_code::REQUEST_CONTROL, op_code::RESET)),
};

/// How the machine is released at the end: by a way that surely asks for no load above the limit.
pub(super) fn release_mode(evidence: &Evidence) -> ControlMode {
    let levels = evidence
        .resistance_range()
        .map(|range| (range.min, range.max));
    if let Some(lowest_w) = lowest_power_w(evidence) {
        ControlMode::Power { lowest_w }
    } else if evidence.can_set(TargetFeature::Simulation) == Some(true) {
        ControlMode::Slope
    } else if let Some((lowest, highest)) = levels.filter(|_| can_set_level(evidence)) {
        ControlMode::Resistance { lowest, highest }
    } else {
        // No light load is known; what has no lowest power is released by the reset.
        ControlMode::Power { lowest_w: i16::MAX }
    }
}

/// Whether these bytes may be written at all. Nothing else ever is, whatever the plan says.
pub(super) fn is_safe(evidence: &Evidence, bytes: &[u8]) -> bool {
    let Ok(decoded) = Request::decode(bytes) else {
        // Unknown op codes and requests that are too short carry no load.
        return true;
    };
    match decoded.value {
        Request::SetTargetPower { power_w } => power_w <= MOST_LOAD_W,
        Request::SetTargetResistance { level, .. } => evidence
            .resistance_range()
            .is_some_and(|range| level <= range.min),
        Request::SetSimulation(road) => road == SimulationParameters::default(),
        Request::SetTargetSpeed { .. }
        | Request::SetTargetInclination { .. }
        | Request::SetTargetHeartRate { .. }
        | Request::SetWheelCircumference { .. }
        | Request::SpinDown(_) => false,
        _ => true,
    }
}

/// The steps. Those that this machine cannot take are absent.
pub(super) fn plan(evidence: &Evidence) -> Vec<Step> {
    let release = release_request(evidence);
    let resets = release == Request::Reset;
    // A reset ends the control, so it cannot stand for a lowest load in the middle.
    let harmless = if resets {
        Request::StartOrResume
    } else {
        release.clone()
    };
    let mut steps = vec![
        ask(
            "ftms.control.request",
            "control is given to who asks",
            CONTROL,
            Request::RequestControl,
        )
        .needing(Needs::Nothing),
        ask(
            "ftms.release",
            "the lowest load is taken",
            PROCEDURES,
            release.clone(),
        ),
    ];
    if resets {
        let title = "control is given again after a reset";
        steps.push(
            ask(
                "ftms.control.again",
                title,
                CONTROL,
                Request::RequestControl,
            )
            .needing(Needs::Nothing),
        );
    }
    steps.extend([
        ask(
            "ftms.start",
            "start is carried out, or fails if started",
            PROCEDURES,
            Request::StartOrResume,
        )
        .expecting(SUCCESS_OR_FAILED),
        ask(
            "ftms.start.again",
            "start while started fails",
            PROCEDURES,
            Request::StartOrResume,
        )
        .expecting(FAILED),
        bytes(
            "ftms.op.unknown",
            "an op code without meaning is not supported",
            &[UNKNOWN_OP],
        )
        .expecting(NOT_SUPPORTED),
    ]);
    if let Some(request) = unclaimed(evidence) {
        let title = "a procedure that the features do not claim is not supported";
        steps.push(ask("ftms.op.unclaimed", title, RESULTS, request).expecting(NOT_SUPPORTED));
    }
    steps.extend(targets(evidence));
    steps.push(
        bytes(
            "ftms.parameter.length",
            "a parameter that is missing is invalid",
            &[op_code::STOP_OR_PAUSE],
        )
        .expecting(INVALID),
    );
    let stop = Request::StopOrPause(StopOrPause::Stop);
    let busy = "a write while a procedure is pending is turned away with error 0xFE";
    steps.push(ask("ftms.busy", busy, ONE_AT_A_TIME, harmless.clone()).being(Kind::Busy));
    if !resets {
        let title = "the lowest load is taken again";
        steps.push(ask("ftms.release.again", title, PROCEDURES, release));
    }
    steps.extend([
        ask("ftms.stop", "stop is carried out", PROCEDURES, stop.clone()),
        ask(
            "ftms.stop.again",
            "stop while stopped fails",
            PROCEDURES,
            stop,
        )
        .expecting(FAILED),
        ask(
            "ftms.reset",
            "reset is carried out",
            PROCEDURES,
            Request::Reset,
        ),
        ask(
            "ftms.control.needed",
            "without control nothing can be set",
            CONTROL,
            harmless,
        )
        .expecting(NOT_PERMITTED)
        .needing(Needs::ControlEnded),
    ]);
    steps
}

/// The targets that the machine claims, each at its lowest or at an easy load.
fn targets(evidence: &Evidence) -> Vec<Step> {
    let mut steps = Vec::new();
    if let (Some(lowest_w), Some(range)) = (lowest_power_w(evidence), evidence.power_range()) {
        let power_w = easy_power_w(lowest_w, range);
        let power = Request::SetTargetPower { power_w };
        let title = "a target power in the supported range is taken";
        steps.push(ask("ftms.set-power", title, PROCEDURES, power).being(Kind::Set));
        if let Some(power_w) = range.min_w.checked_sub(1) {
            let below = Request::SetTargetPower { power_w };
            let title = "a target power below the supported range is invalid";
            steps.push(ask("ftms.parameter.range", title, RESULTS, below).expecting(INVALID));
        }
    }
    let level = evidence.resistance_range().map(|range| range.min);
    if let Some(level) = level.filter(|_| can_set_level(evidence)) {
        let width = ResistanceWidth::OneOctet;
        let lowest = Request::SetTargetResistance { level, width };
        let title = "the lowest resistance level is taken";
        steps.push(ask("ftms.set-resistance", title, PROCEDURES, lowest).being(Kind::Set));
    }
    if evidence.can_set(TargetFeature::Simulation) == Some(true) {
        let level_road = Request::SetSimulation(SimulationParameters::default());
        let title = "a level road without resistance is simulated";
        steps.push(ask("ftms.set-simulation", title, PROCEDURES, level_road).being(Kind::Set));
    }
    steps
}

/// A power near the easy one that lies in the range and on its steps.
fn easy_power_w(lowest_w: i16, range: PowerRange) -> i16 {
    let step_w = i32::from(range.step_w.max(1));
    let (lowest_w, min_w) = (i32::from(lowest_w), i32::from(range.min_w));
    let most_w = i32::from(EASY_LOAD_W.min(range.max_w));
    let on_step_w = min_w + (most_w - min_w).max(0) / step_w * step_w;
    on_step_w.clamp(lowest_w, MOST_LOAD_W.into()) as i16
}

/// The lowest target power, if it is one that an audit may ask for.
fn lowest_power_w(evidence: &Evidence) -> Option<i16> {
    let settable = evidence.can_set(TargetFeature::Power) == Some(true);
    let range = evidence.power_range().filter(|_| settable)?;
    let lowest_w = range.min_w.max(0);
    (lowest_w <= MOST_LOAD_W && lowest_w <= range.max_w).then_some(lowest_w)
}

/// Whether the lowest level is known and fits the one octet of the standard.
fn can_set_level(evidence: &Evidence) -> bool {
    evidence.can_set(TargetFeature::ResistanceLevel) == Some(true)
        && evidence
            .resistance_range()
            .is_some_and(|range| (0.0..=25.5).contains(&range.min))
}

fn release_request(evidence: &Evidence) -> Request {
    match release_mode(evidence) {
        ControlMode::Power { lowest_w } if lowest_w <= MOST_LOAD_W => {
            Request::SetTargetPower { power_w: lowest_w }
        }
        ControlMode::Power { .. } => Request::Reset,
        ControlMode::Resistance { lowest, .. } => Request::SetTargetResistance {
            level: lowest,
            width: ResistanceWidth::OneOctet,
        },
        ControlMode::Slope => Request::SetSimulation(SimulationParameters::default()),
    }
}

/// A procedure that the machine does not claim and that would load nothing if it were taken.
fn unclaimed(evidence: &Evidence) -> Option<Request> {
    let candidates = [
        (
            TargetFeature::Distance,
            Request::SetTargetedDistance { distance_m: 1000 },
        ),
        (
            TargetFeature::TrainingTime,
            Request::SetTargetedTime { time_s: 600 },
        ),
        (
            TargetFeature::ExpendedEnergy,
            Request::SetTargetedEnergy { energy_kcal: 100 },
        ),
        (
            TargetFeature::StepNumber,
            Request::SetTargetedSteps { steps: 1000 },
        ),
        (
            TargetFeature::StrideNumber,
            Request::SetTargetedStrides { strides: 1000 },
        ),
        (
            TargetFeature::Cadence,
            Request::SetTargetedCadence { cadence_rpm: 80.0 },
        ),
    ];
    candidates
        .into_iter()
        .find(|(target, _)| evidence.can_set(*target) == Some(false))
        .map(|(_, request)| request)
}

fn ask(id: &'static str, title: &str, clause: &'static str, request: Request) -> Step {
    Step {
        id,
        title: title.to_owned(),
        clause,
        bytes: request.encode(),
        expected: SUCCESS,
        kind: Kind::Ask,
        needs: Needs::Control,
    }
}

fn bytes(id: &'static str, title: &str, bytes: &[u8]) -> Step {
    Step {
        id,
        title: title.to_owned(),
        clause: RESULTS,
        bytes: bytes.to_vec(),
        expected: SUCCESS,
        kind: Kind::Ask,
        needs: Needs::Control,
    }
}

impl Step {
    fn expecting(self, expected: &'static [u8]) -> Self {
        Self { expected, ..self }
    }

    fn needing(self, needs: Needs) -> Self {
        Self { needs, ..self }
    }

    fn being(self, kind: Kind) -> Self {
        Self { kind, ..self }
    }
}
