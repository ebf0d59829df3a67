//! Windows gathered into visits: all windows of one ridden step, or of one plateau.

use super::given::SteadyWindow;
use super::integral::secs;
use super::prepared::Prepared;
use crate::evidence::Feeds;

/// Mean difference of one visit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct VisitMean {
    pub(super) level_w: f64,
    pub(super) reference_w: f64,
    pub(super) under_test_w: f64,
    pub(super) error_pct: f64,
    /// The larger of what the windows state and what they scatter by.
    pub(super) u_pct: f64,
    /// What the windows state alone.
    pub(super) stated_pct: f64,
    pub(super) windows: usize,
    /// Sum of squares of the windows about their mean, %².
    pub(super) squares: f64,
    pub(super) middle_s: f64,
    pub(super) cadence_rpm: Option<f64>,
    pub(super) speed_kmh: Option<f64>,
    pub(super) gear: Option<f64>,
}

/// Whether windows of a step say something about steady power. Without a script all do.
pub(super) fn is_comparison(feeds: Option<Feeds>) -> bool {
    matches!(
        feeds,
        None | Some(Feeds::Steady | Feeds::Cadence | Feeds::FlywheelSpeed)
    )
}

/// All visits in order of time.
pub(super) fn visits(given: &Prepared<'_>) -> Vec<VisitMean> {
    let windows: Vec<&SteadyWindow> = given
        .windows
        .iter()
        .filter(|window| is_comparison(given.feeds_of(window)) && window.reference_w > 5.0)
        .collect();
    windows
        .chunk_by(|a, b| a.step == b.step && (a.level_w - b.level_w).abs() <= 0.02 * a.level_w)
        .filter_map(mean_of)
        .collect()
}

fn mean_of(windows: &[&SteadyWindow]) -> Option<VisitMean> {
    let n = windows.len() as f64;
    let mean = |f: &dyn Fn(&SteadyWindow) -> f64| windows.iter().map(|w| f(w)).sum::<f64>() / n;
    let mean_of_known = |f: &dyn Fn(&SteadyWindow) -> Option<f64>| {
        let known: Vec<f64> = windows.iter().filter_map(|w| f(w)).collect();
        (!known.is_empty()).then(|| known.iter().sum::<f64>() / known.len() as f64)
    };
    let reference_w = mean(&|w| w.reference_w);
    let under_test_w = mean(&|w| w.under_test_w);
    let error_pct = 100.0 * (under_test_w / reference_w - 1.0);
    let stated = mean(&|w| w.u_pct * w.u_pct).max(0.0) / n;
    let centre = mean(&SteadyWindow::error_pct);
    let squares = n * mean(&|w| (w.error_pct() - centre).powi(2));
    let scattered = if windows.len() < 2 {
        0.0
    } else {
        squares / n / (n - 1.0)
    };
    let u_pct = stated.max(scattered).sqrt();
    (error_pct.is_finite() && u_pct.is_finite()).then_some(VisitMean {
        level_w: windows[0].level_w,
        reference_w,
        under_test_w,
        error_pct,
        u_pct,
        stated_pct: stated.sqrt(),
        windows: windows.len(),
        squares,
        middle_s: 0.5 * (secs(windows[0].from) + secs(windows[windows.len() - 1].to)),
        cadence_rpm: mean_of_known(&|w| w.cadence_rpm),
        speed_kmh: mean_of_known(&|w| w.speed_kmh),
        gear: mean_of_known(&|w| w.gear),
    })
}

/// Whether two levels are the same one.
pub(super) fn same_level(a: f64, b: f64) -> bool {
    (a - b).abs() <= (0.03 * a.abs().max(b.abs())).max(3.0)
}

/// Whether two visits were ridden in the same gear and at the same cadence as far as known.
pub(super) fn same_motion(a: &VisitMean, b: &VisitMean) -> bool {
    let close = |x: Option<f64>, y: Option<f64>, share: f64| match (x, y) {
        (Some(x), Some(y)) => (x - y).abs() <= share * x.abs().max(y.abs()),
        _ => true,
    };
    close(a.cadence_rpm, b.cadence_rpm, 0.07)
        && close(a.speed_kmh, b.speed_kmh, 0.1)
        && close(a.gear, b.gear, 1e-6)
}
