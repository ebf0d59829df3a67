//! What a condition still needs until its question is decided: the same numbers before a ride
//! ([`crate::plan`]) and during it ([`crate::watch`]).

use crate::stats::normal::normal_quantile;
use crate::verdict::{DecisionRule, Verdict};

/// What a cell still needs.
#[derive(Clone, Debug, PartialEq)]
pub enum Needs {
    /// Nothing: the verdict is shown.
    Decided,
    /// About so many more minutes of steady riding, if the difference stays as it is.
    Minutes(f64),
    /// More riding cannot decide; why, in words.
    CannotDecide(String),
}

impl Needs {
    /// For the screen.
    pub fn words(&self) -> String {
        match self {
            Self::Decided => "decided".into(),
            Self::Minutes(minutes) if *minutes < 0.75 => "needs less than a minute more".into(),
            Self::Minutes(minutes) if *minutes < 1.5 => "needs about 1 more minute".into(),
            Self::Minutes(minutes) => format!("needs about {minutes:.0} more minutes"),
            Self::CannotDecide(reason) => reason.clone(),
        }
    }
}

/// How far a condition has come, measured or expected. Uncertainties in % of the reference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Progress {
    /// Difference, %.
    pub error_pct: f64,
    /// The part of the uncertainty that falls with riding, %.
    pub u_a_pct: f64,
    /// Combined standard uncertainty, %.
    pub u_pct: f64,
    /// Half-width of the claimed tolerance, %.
    pub tolerance_pct: f64,
    /// Steady seconds.
    pub seconds: f64,
    /// Complete windows.
    pub windows: usize,
    /// Verdict so far.
    pub verdict: Verdict,
}

impl Progress {
    /// How much more riding would decide, if the difference stays as it is and the scatter falls
    /// with the root of time. `window_s` is the length of a window.
    pub fn needs(&self, rule: &DecisionRule, window_s: f64) -> Needs {
        let missing = rule.min_windows.saturating_sub(self.windows);
        if missing == 0 && matches!(self.verdict, Verdict::ShownWithin | Verdict::ShownBeyond) {
            return Needs::Decided;
        }
        let window_min = window_s / 60.0;
        let least = missing as f64 * window_min;
        let fixed_squared = (self.u_pct.powi(2) - self.u_a_pct.powi(2)).max(0.0);
        let margin = (self.tolerance_pct - self.error_pct.abs()).abs();
        let wanted = margin / normal_quantile(rule.shown_at);
        let room = wanted * wanted - fixed_squared;
        let capable = rule.is_capable(fixed_squared.sqrt(), f64::MAX, self.tolerance_pct);
        if !capable && self.error_pct.abs() <= self.tolerance_pct {
            return Needs::CannotDecide(
                "more riding cannot decide: the bench's own uncertainty is too large".into(),
            );
        }
        if room <= 0.0 {
            return Needs::CannotDecide(
                "more riding cannot decide: the difference is too close to the limit".into(),
            );
        }
        let factor = self.u_a_pct.powi(2) / room;
        let more = (factor - 1.0).max(0.0) * self.seconds / 60.0;
        Needs::Minutes(more.max(least).max(window_min))
    }
}
