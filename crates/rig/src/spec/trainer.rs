//! A trainer: what its brake listens to, what it can be asked for, and what it sends.

use serde::{Deserialize, Serialize};

/// What is special to a trainer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct TrainerSpec {
    /// Time between records of indoor bike data, ms.
    pub report_ms: u32,
    /// Time between its cycling power measurements, ms; none if it does not offer the service.
    pub power_service_ms: Option<u32>,
    /// Whether its records come whole or in two notifications.
    pub records: Records,
    /// Share of the flywheel's acceleration power that its power contains: 1 is the power
    /// through the hub, 0 is what the brake alone takes.
    pub inertia_share: f64,
    /// Time between new values of the power it shows, ms; reports in between repeat the last one.
    /// Every report has its own if this is not given.
    pub renew_ms: Option<u32>,
    /// Which instrument the brake's loop listens to.
    pub steered_by: SteeredBy,
    /// Share of the target in the reported power while a target power is held: 0 is honest.
    pub echo_share: f64,
    /// Spin-down speeds, low and high, km/h, if it knows the procedure. A good spin-down takes
    /// away the drift there is at that moment.
    pub spin_down_kmh: Option<(f64, f64)>,
    /// From a write to its indication, ms.
    pub answer_ms: u32,
    /// Targets it does not know, of those that trainers usually have.
    pub lacks: Vec<TargetSpec>,
    /// When another controller takes control away and releases the brake, s from the first
    /// connection.
    pub taken_over: Vec<f64>,
}

impl Default for TrainerSpec {
    fn default() -> Self {
        Self {
            report_ms: 250,
            power_service_ms: None,
            records: Records::Whole,
            inertia_share: 1.0,
            renew_ms: None,
            steered_by: SteeredBy::Own,
            echo_share: 0.0,
            spin_down_kmh: Some((15.0, 32.0)),
            answer_ms: 30,
            lacks: Vec::new(),
            taken_over: Vec::new(),
        }
    }
}

/// A kind of target that a trainer may not know.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TargetSpec {
    /// Target power.
    Power,
    /// Resistance level.
    Resistance,
    /// Simulation of a slope.
    Simulation,
}

/// Which instrument a trainer's brake listens to in power control.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SteeredBy {
    /// Its own.
    Own,
    /// The first power meter of the bench, as where a trainer is matched to a meter: whoever then
    /// judges the held power by that meter judges in a circle.
    FirstMeter,
}

/// How a data record is sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Records {
    /// In one notification.
    Whole,
    /// In two, the first with More Data set.
    Split,
}
