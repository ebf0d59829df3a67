//! What a controller waits for: the procedure under way, and loads that were overtaken.

use crate::control::demand::Demand;
use crate::fitness_machine::control::{Request, op_code};
use crate::fitness_machine::status::Status;
use units::Timestamp;

/// The procedure that waits for its answer.
#[derive(Debug)]
pub(super) struct Pending {
    pub(super) request: Request,
    pub(super) demand: Option<Demand>,
    /// Whether it was written to get a release through.
    pub(super) for_release: bool,
    /// Its place in the order of writes.
    pub(super) sequence: u64,
    pub(super) written: Timestamp,
    /// When the unbroken run of unanswered writes began of which this is the last.
    pub(super) silent_since: Timestamp,
    /// When it counts as unconfirmed, until that was told.
    pub(super) tell_at: Option<Timestamp>,
    /// When the trainer reported the very target that was asked.
    pub(super) echoed: Option<Timestamp>,
}

/// A load that was overtaken before it was answered; its answer may still come.
#[derive(Clone, Copy, Debug)]
pub(super) struct Overtaken {
    pub(super) op: u8,
    pub(super) written: Timestamp,
}

/// Whether it is a demand, and not that of a release.
pub(super) fn is_load(demand: Option<Demand>) -> bool {
    demand.is_some_and(|demand| demand != Demand::Release)
}

/// Whether a status reports the very target that a request asks for.
pub(super) fn is_echo(status: &Status, request: &Request) -> bool {
    match (status, request) {
        (Status::TargetPowerChanged { power_w }, Request::SetTargetPower { power_w: asked }) => {
            power_w == asked
        }
        (
            Status::TargetResistanceChanged { level, .. },
            Request::SetTargetResistance { level: asked, .. },
        ) => (level - asked).abs() < 0.1,
        (Status::SimulationChanged(road), Request::SetSimulation(asked)) => {
            Request::SetSimulation(*road).encode() == Request::SetSimulation(*asked).encode()
        }
        _ => false,
    }
}

/// What was asked, in words.
pub(super) fn words(pending: &Pending) -> String {
    match pending.demand {
        Some(demand) => demand.to_string(),
        None => op_code::name(pending.request.op_code())
            .unwrap_or("request")
            .to_owned(),
    }
}
