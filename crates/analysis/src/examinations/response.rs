//! Response to target changes, as an ensemble over repeats, on the reference and on the device's
//! own word.

use super::given::Given;
use crate::outcome::{Estimate, Outcome};

/// Name of the examination.
pub const NAME: &str = "response to target changes";

/// Responses, grouped by size and direction.
#[derive(Clone, Debug, PartialEq)]
pub struct Response {
    /// One entry per size and direction, upward changes first, small before large.
    pub groups: Vec<ResponseGroup>,
    /// Changes that were not used, with the reason.
    pub discarded: Vec<(f64, String)>,
}

/// The response to one kind of change.
#[derive(Clone, Debug, PartialEq)]
pub struct ResponseGroup {
    /// Size of the change of the target, W; negative downward.
    pub change_w: f64,
    /// Repeats used.
    pub repeats: usize,
    /// Time from sending to confirmation, s, where confirmed.
    pub confirmation_s: Option<Estimate>,
    /// On the reference: what really happened.
    pub on_reference: StepShape,
    /// On the device's own word, on its own arrival times.
    pub on_device: StepShape,
}

/// The shape of a step response. Times from the sending of the command; sizes in % of the change.
///
/// A size that the noise of the ensemble hides is absent, not guessed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct StepShape {
    /// Dead time, from the two-point fit of a first-order lag with delay, s.
    pub dead_time_s: Option<Estimate>,
    /// From 10 % to 90 % of the change, s.
    pub rise_s: Option<Estimate>,
    /// Beyond the final value, % of the change.
    pub overshoot_pct: Option<Estimate>,
    /// Within ±5 % of the change for good, s.
    pub settle_5_s: Option<Estimate>,
    /// Within ±2 % of the change for good, s.
    pub settle_2_s: Option<Estimate>,
    /// Work missing (negative) or surplus against an immediate change, kJ.
    pub work_error_kj: Option<Estimate>,
    /// Standard uncertainty of the ensemble at one moment, % of the change.
    pub noise_pct: f64,
}

/// Examines the response to changes of the target power.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn response(_given: &Given<'_>) -> Outcome<Response> {
    super::not_tested(NAME, "this examination is not written yet")
}
