//! One step of the physics as the instruments see it.

use crate::body::Flow;
use units::Timestamp;

/// What happened in one step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct StepView {
    /// End of the step.
    pub(crate) ends: Timestamp,
    /// Length of the step, s.
    pub(crate) step_s: f64,
    /// What flowed.
    pub(crate) flow: Flow,
    /// Road speed of the flywheel, km/h.
    pub(crate) speed_kmh: f64,
}
