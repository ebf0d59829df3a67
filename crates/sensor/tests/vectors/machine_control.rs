//! Fitness Machine Service: control point, status and training status.

use crate::table::{BY_HAND, LIBRARY_TESTS, Vector, check, ids_of, vector};
use sensor::fitness_machine::ResistanceWidth;
use sensor::fitness_machine::control::{
    Request, Response, ResultCode, SpinDownCommand, SpinDownSpeeds, StopOrPause,
};
use sensor::fitness_machine::simulation::SimulationParameters;
use sensor::fitness_machine::status::{SpinDownStatus, Status};
use sensor::fitness_machine::training_status::{TrainingState, TrainingStatus};

/// The vectors of this file.
pub fn ids() -> Vec<&'static str> {
    [
        ids_of(&request_vectors()),
        ids_of(&response_vectors()),
        ids_of(&status_vectors()),
        ids_of(&training_vectors()),
    ]
    .concat()
}

fn request_vectors() -> Vec<Vector<Request>> {
    vec![
        vector("T1", "00", Request::RequestControl, LIBRARY_TESTS),
        vector(
            "T3",
            "05 C800",
            Request::SetTargetPower { power_w: 200 },
            BY_HAND,
        ),
        vector(
            "T4",
            "05 CEFF",
            Request::SetTargetPower { power_w: -50 },
            BY_HAND,
        ),
        vector(
            "T6",
            "04 32",
            Request::SetTargetResistance {
                level: 5.0,
                width: ResistanceWidth::OneOctet,
            },
            BY_HAND,
        ),
        vector(
            "T7",
            "11 E803 9001 28 33",
            Request::SetSimulation(SimulationParameters {
                wind_speed_m_per_s: 1.0,
                grade_pct: 4.0,
                rolling_coefficient: 0.004,
                wind_coefficient_kg_per_m: 0.51,
            }),
            BY_HAND,
        ),
        vector(
            "T8",
            "11 18FC 70FE 28 33",
            Request::SetSimulation(SimulationParameters {
                wind_speed_m_per_s: -1.0,
                grade_pct: -4.0,
                rolling_coefficient: 0.004,
                wind_coefficient_kg_per_m: 0.51,
            }),
            BY_HAND,
        ),
        vector(
            "T9",
            "13 01",
            Request::SpinDown(SpinDownCommand::Start),
            "JavaBLEUtil test data_01901 (HEAD 1cb79300)",
        ),
        vector(
            "T12",
            "08 02",
            Request::StopOrPause(StopOrPause::Pause),
            "JavaBLEUtil test data_00802",
        ),
        vector(
            "T13",
            "12 3852",
            Request::SetWheelCircumference {
                circumference_mm: 2104.8,
            },
            BY_HAND,
        ),
    ]
}

#[test]
fn requests() {
    let odd = check(&request_vectors(), Request::decode, Request::encode, &[]);
    assert!(odd.is_empty(), "{odd:?}");
}

fn response_vectors() -> Vec<Vector<Response>> {
    vec![
        vector(
            "T2",
            "80 00 01",
            Response {
                request_op: 0x00,
                result: ResultCode::Success,
                spin_down: None,
            },
            BY_HAND,
        ),
        vector(
            "T5",
            "80 05 05",
            Response {
                request_op: 0x05,
                result: ResultCode::ControlNotPermitted,
                spin_down: None,
            },
            BY_HAND,
        ),
        vector(
            "T10",
            "80 13 01 D007 A00F",
            Response {
                request_op: 0x13,
                result: ResultCode::Success,
                spin_down: Some(SpinDownSpeeds {
                    low_kmh: 20.0,
                    high_kmh: 40.0,
                }),
            },
            BY_HAND,
        ),
        vector(
            "T11",
            "80 13 04",
            Response {
                request_op: 0x13,
                result: ResultCode::OperationFailed,
                spin_down: None,
            },
            BY_HAND,
        ),
        vector(
            "T14",
            "80 02 01",
            Response {
                request_op: 0x02,
                result: ResultCode::Success,
                spin_down: None,
            },
            LIBRARY_TESTS,
        ),
    ]
}

#[test]
fn responses() {
    let odd = check(&response_vectors(), Response::decode, Response::encode, &[]);
    assert!(odd.is_empty(), "{odd:?}");
}

fn status_vectors() -> Vec<Vector<Status>> {
    vec![
        vector(
            "Z1",
            "08 C800",
            Status::TargetPowerChanged { power_w: 200 },
            BY_HAND,
        ),
        vector("Z2", "FF", Status::ControlPermissionLost, LIBRARY_TESTS),
        vector(
            "Z3",
            "14 01",
            Status::SpinDown(SpinDownStatus::Requested),
            BY_HAND,
        ),
        vector(
            "Z4",
            "14 04",
            Status::SpinDown(SpinDownStatus::StopPedaling),
            BY_HAND,
        ),
        vector(
            "Z5",
            "02 01",
            Status::StoppedOrPaused(StopOrPause::Stop),
            LIBRARY_TESTS,
        ),
        vector(
            "Z6",
            "07 3200",
            Status::TargetResistanceChanged {
                level: 5.0,
                width: ResistanceWidth::TwoOctets,
            },
            BY_HAND,
        ),
        vector(
            "Z7",
            "12 E803 9001 28 33",
            Status::SimulationChanged(SimulationParameters {
                wind_speed_m_per_s: 1.0,
                grade_pct: 4.0,
                rolling_coefficient: 0.004,
                wind_coefficient_kg_per_m: 0.51,
            }),
            BY_HAND,
        ),
    ]
}

#[test]
fn statuses() {
    let odd = check(&status_vectors(), Status::decode, Status::encode, &[]);
    assert!(odd.is_empty(), "{odd:?}");
}

fn training_vectors() -> Vec<Vector<TrainingStatus>> {
    vec![
        vector(
            "R1",
            "00 01",
            TrainingStatus {
                state: TrainingState::Idle,
                text: None,
                text_goes_on: false,
            },
            LIBRARY_TESTS,
        ),
        vector(
            "R2",
            "01 02 5761726D",
            TrainingStatus {
                state: TrainingState::WarmingUp,
                text: Some("Warm".to_owned()),
                text_goes_on: false,
            },
            LIBRARY_TESTS,
        ),
        vector(
            "R3",
            "00 0C",
            TrainingStatus {
                state: TrainingState::WattControl,
                text: None,
                text_goes_on: false,
            },
            BY_HAND,
        ),
    ]
}

#[test]
fn training_statuses() {
    let odd = check(
        &training_vectors(),
        TrainingStatus::decode,
        TrainingStatus::encode,
        &[],
    );
    assert!(odd.is_empty(), "{odd:?}");
}
