//! The difference over one window, with its uncertainty.

use crate::cell::{CellData, Judge};
use crate::findings::Treatment;
use crate::gate::Window;
use crate::stats::autocorrelation::Noise;
use crate::stats::normal::normal_probability;

/// The difference over one window, or over the last seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WindowJudgement {
    /// First second.
    pub from_s: i64,
    /// One past the last second.
    pub to_s: i64,
    /// Difference in the deciding treatment, %.
    pub difference_pct: f64,
    /// Standard uncertainty of the mean from scatter, %.
    pub u_a_pct: f64,
    /// Combined standard uncertainty, %.
    pub u_pct: f64,
    /// Expanded uncertainty, %.
    pub expanded_pct: f64,
    /// Half-width of the claimed tolerance, %.
    pub tolerance_pct: f64,
    /// Conformance probability of this window alone.
    pub p_conform: f64,
}

impl WindowJudgement {
    /// Share of windows of a perfect device with this noise whose mean would leave ±T.
    pub fn expected_false_rate(&self) -> f64 {
        if self.u_a_pct <= 0.0 {
            return 0.0;
        }
        2.0 * (1.0 - normal_probability(self.tolerance_pct / self.u_a_pct))
    }
}

/// Judges one window on its own. `known` is the noise of the cell it belongs to, if that is known
/// well enough; the noise within half a minute is not.
pub(crate) fn judge_window(
    judge: &Judge,
    treatment: Treatment,
    window: &Window,
    known: Option<Noise>,
) -> Option<WindowJudgement> {
    if window.seconds() == 0 || window.mean_reference_w() <= 0.0 {
        return None;
    }
    let mut data = CellData::for_window(window);
    data.add(window, 0);
    let measured = data.measure(judge, treatment, None, known);
    Some(WindowJudgement {
        from_s: window.from_s,
        to_s: window.to_s,
        difference_pct: measured.bias_pct,
        u_a_pct: measured.u_a_pct,
        u_pct: measured.combined.u,
        expanded_pct: measured.judged.expanded,
        tolerance_pct: measured.tolerance_pct,
        p_conform: measured.judged.p_conform,
    })
}
