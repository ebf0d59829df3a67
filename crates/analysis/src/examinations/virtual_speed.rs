//! Plausibility of the reported speed: does it follow cadence and gear?

use super::given::Given;
use crate::outcome::{Estimate, Outcome};

/// Name of the examination.
pub const NAME: &str = "plausibility of speed";

/// Distance per crank revolution in every gear, from reported speed and cadence.
#[derive(Clone, Debug, PartialEq)]
pub struct VirtualSpeed {
    /// One entry per gear, or one for all windows where no gear was named.
    pub gears: Vec<GearSpeed>,
    /// Scatter of the ratio within gears, %.
    pub scatter_pct: f64,
    /// Whether the speed is a measured flywheel speed as far as the data show: constant ratio
    /// within a gear.
    pub follows_gear: bool,
}

/// One gear.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GearSpeed {
    /// The gear as named in the script.
    pub gear: Option<f64>,
    /// Distance per crank revolution, m.
    pub development_m: Estimate,
    /// Reported over expected, where the gear's name is a plausible development.
    pub ratio: Option<f64>,
    /// Windows.
    pub windows: usize,
}

/// Examines whether speed follows cadence and gear.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn virtual_speed(_given: &Given<'_>) -> Outcome<VirtualSpeed> {
    super::not_tested(NAME, "this examination is not written yet")
}
