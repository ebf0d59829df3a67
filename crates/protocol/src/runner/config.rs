//! What the runner may do to the rider, and when it steps in.

use crate::range::DeviceRange;
use units::{RevPerMin, Span, Watts};

/// The steepest rise of target power anybody can configure, W/s.
pub(super) const STEEPEST_RISE_W_PER_S: f64 = 100.0;

/// Settings of one run. The defaults are for a formal run.
#[derive(Clone, Debug, PartialEq)]
pub struct RunnerConfig {
    /// No target power above this, whatever the script says.
    pub rider_ceiling: Watts,
    /// No target outside what the device advertises.
    pub range: DeviceRange,
    /// The steepest rise of target power in W/s; at most 100. Falling is free.
    pub rise_w_per_s: f64,
    /// Where target power begins after a pause or a change of mode.
    pub low_load: Watts,
    /// When to ease the brake because the rider is being driven into a stall.
    pub stall: StallGuard,
    /// Whether a hold may end when its question is decided.
    pub early_end: EarlyEnd,
    /// Whether a step whose window was not steady is ridden again once by itself.
    pub repeat_failed_gate: GateRepeat,
    /// Whether readiness is asked before the first load.
    pub readiness: ReadinessRule,
    /// A step that asks for at least this share of the rider's ceiling is hard: cool-down is
    /// offered after it.
    pub hard_share: f64,
    /// The power from which a step is hard, where that does not follow from the ceiling: a script
    /// that promises to stay easy lowers the ceiling and is no harder for it.
    pub hard_from: Option<Watts>,
    /// How long a question may stay unanswered before the run ends.
    pub answer_limit: Span,
}

/// Thresholds of the stall guard. At constant power the torque rises as the cadence falls, which
/// drives a tired rider into a stall; the cure is to let the load go and bring it back slowly.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StallGuard {
    /// Cadence below which the rider is stalling; lowered where a slower cadence is asked for.
    pub floor: RevPerMin,
    /// A fall faster than this is a stall as well, rpm/s, while the cadence is below
    /// [`StallGuard::falling_below`].
    pub falling_rpm_per_s: f64,
    /// Cadence below which a fast fall counts.
    pub falling_below: RevPerMin,
    /// Targets below this do not stall anybody.
    pub least_target: Watts,
    /// The share of the target that is kept while the rider recovers.
    pub eased_share: f64,
    /// How long the target takes to come back.
    pub ramp_back: Span,
}

/// Whether a hold may end before its time once its question is decided.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EarlyEnd {
    /// Every hold is ridden to its end.
    Off,
    /// A decided hold ends, which is recorded.
    WhenDecided,
}

/// Whether a failed gate is repeated by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GateRepeat {
    /// Never.
    Never,
    /// Once, and every attempt is kept.
    Once,
}

/// Whether readiness is asked before the first load.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReadinessRule {
    /// It is asked and must be accepted.
    Ask,
    /// It was accepted earlier in this session.
    AlreadyAccepted,
}

impl Default for RunnerConfig {
    fn default() -> Self {
        Self {
            rider_ceiling: Watts(400.0),
            range: DeviceRange::WIDE,
            rise_w_per_s: STEEPEST_RISE_W_PER_S,
            low_load: Watts(50.0),
            stall: StallGuard::default(),
            early_end: EarlyEnd::Off,
            repeat_failed_gate: GateRepeat::Once,
            readiness: ReadinessRule::Ask,
            hard_share: 0.7,
            hard_from: None,
            answer_limit: Span::from_secs(1800),
        }
    }
}

/// The thresholds of the project's practice notes (trade practice, editable).
impl Default for StallGuard {
    fn default() -> Self {
        Self {
            floor: RevPerMin(55.0),
            falling_rpm_per_s: 5.0,
            falling_below: RevPerMin(75.0),
            least_target: Watts(60.0),
            eased_share: 0.5,
            ramp_back: Span::from_secs(12),
        }
    }
}

impl RunnerConfig {
    /// The same settings with numbers that would be unsafe or meaningless brought to safe ones.
    pub(super) fn made_safe(mut self) -> Self {
        let between = |value: f64, min: f64, max: f64| {
            if value.is_finite() {
                value.clamp(min, max)
            } else {
                min
            }
        };
        self.rise_w_per_s = between(self.rise_w_per_s, 1.0, STEEPEST_RISE_W_PER_S);
        self.rider_ceiling = Watts(between(self.rider_ceiling.get(), 0.0, 2000.0));
        self.low_load = Watts(between(self.low_load.get(), 0.0, 100.0));
        self.stall.eased_share = between(self.stall.eased_share, 0.0, 0.9);
        self.stall.ramp_back = self.stall.ramp_back.max(Span::from_secs(5));
        self.answer_limit = self
            .answer_limit
            .clamp(Span::from_secs(10), Span::from_secs(7200));
        self.range = self.range.with_ceiling(self.rider_ceiling);
        self
    }
}
