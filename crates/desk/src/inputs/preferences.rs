//! What a person prefers, kept from one start to the next.

use super::speed::SpeedUnit;

/// Preferences. Theme and text size are kept beside them, see
/// [`Remembered`](crate::Remembered).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Preferences {
    /// How flywheel speed is shown.
    pub speed: SpeedUnit,
    /// Tolerance that is judged by where no claim sheet is chosen, % of reading.
    pub tolerance_pct: f64,
    /// No script is given a target above this, W.
    pub ceiling_w: f64,
}

impl Preferences {
    /// Smallest and largest tolerance, %.
    pub const TOLERANCE_PCT: [f64; 2] = [0.5, 10.0];
    /// Smallest and largest ceiling, W.
    pub const CEILING_W: [f64; 2] = [50.0, 1000.0];
}

impl Default for Preferences {
    fn default() -> Self {
        Self {
            speed: SpeedUnit::KmH,
            tolerance_pct: 2.0,
            ceiling_w: 400.0,
        }
    }
}
