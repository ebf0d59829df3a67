//! Which condition a window belongs to: what the script asked for, or what was measured where it
//! did not.

use super::data::CellData;
use crate::evidence::Feeds;
use crate::gate::Window;

/// Measured cadences within this much belong together, rpm.
const SAME_CADENCE_RPM: f64 = 5.0;
/// Measured flywheel speeds within this share of the larger belong together.
const SAME_SPEED_SHARE: f64 = 0.08;
/// … or within this much, km/h.
const SAME_SPEED_KMH: f64 = 2.0;
/// Measured levels within this share belong together.
const SAME_LEVEL_SHARE: f64 = 0.05;
/// … or within this much, W.
const SAME_LEVEL_W: f64 = 10.0;

impl CellData {
    /// Whether a window has this cell's condition.
    pub(super) fn takes(&self, window: &Window) -> bool {
        let near = |a: Option<f64>, b: Option<f64>, within: &dyn Fn(f64, f64) -> bool| match (a, b)
        {
            (Some(a), Some(b)) => within(a, b),
            (None, None) => true,
            _ => false,
        };
        let step = window.step;
        let same = |a: f64, b: f64| (a - b).abs() < 1e-6;
        if (self.feeds == Some(Feeds::Drift)) != (step.map(|s| s.feeds) == Some(Feeds::Drift)) {
            return false;
        }
        let level = match (self.target_w, window.target_w) {
            (Some(a), Some(b)) => (a - b).abs() < 0.5,
            (None, None) => {
                let (a, b) = (self.mean_reference_w(), window.mean_reference_w());
                (a - b).abs() <= SAME_LEVEL_W.max(SAME_LEVEL_SHARE * a.max(b))
            }
            _ => false,
        };
        let cadence = match (self.cadence_cue_rpm, step.and_then(|s| s.cadence_rpm)) {
            (Some(a), Some(b)) => same(a, b),
            _ => near(self.cadence.mean(), window.cadence_rpm, &|a, b| {
                (a - b).abs() <= SAME_CADENCE_RPM
            }),
        };
        let speed = match (self.gear, step.and_then(|s| s.gear)) {
            (Some(a), Some(b)) => same(a, b),
            _ => near(self.speed.mean(), window.speed_kmh, &|a, b| {
                (a - b).abs() <= SAME_SPEED_KMH.max(SAME_SPEED_SHARE * a.max(b))
            }),
        };
        level && cadence && speed
    }
}
