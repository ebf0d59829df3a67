//! From an error and its uncertainty to one of six states, by conformance probability.
//!
//! The rule is fixed before the ride: an adverse statement needs guarded rejection, a favourable
//! one guarded acceptance, and both use the same probability. Conformance probability for a
//! two-sided tolerance ±T: p_c = Φ((T − e)/u) − Φ((−T − e)/u); measurement capability
//! C_m = T/U (JCGM 106:2012). With few degrees of freedom Student's t takes the place of Φ.
//!
//! One deliberate order: a bench that cannot show a perfect device to be within can still show a
//! gross error to be beyond, so *shown beyond* is looked at first.

use crate::stats::normal::Coverage;

/// The six states, the same words everywhere.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// The error was shown to be within the claim.
    ShownWithin,
    /// Measured inside; not shown, the uncertainty overlaps the limit.
    LikelyWithin,
    /// Measured outside; not shown.
    LikelyBeyond,
    /// The error was shown to exceed the claim.
    ShownBeyond,
    /// Even a perfect device could not have been shown within.
    BenchNotCapable,
    /// Outside the range, gated away, or too few windows.
    NotTested,
}

impl Verdict {
    /// Every state, in the order in which a list explains them.
    pub const ALL: [Self; 6] = [
        Self::ShownWithin,
        Self::LikelyWithin,
        Self::LikelyBeyond,
        Self::ShownBeyond,
        Self::BenchNotCapable,
        Self::NotTested,
    ];

    /// The words for screen, report and JSON.
    pub const fn words(self) -> &'static str {
        match self {
            Self::ShownWithin => "shown within",
            Self::LikelyWithin => "likely within",
            Self::LikelyBeyond => "likely beyond",
            Self::ShownBeyond => "shown beyond",
            Self::BenchNotCapable => "bench not capable",
            Self::NotTested => "not tested",
        }
    }

    /// One sentence for people who read the words for the first time.
    pub const fn meaning(self) -> &'static str {
        match self {
            Self::ShownWithin => "The error was shown to be within the claim.",
            Self::LikelyWithin => {
                "Measured inside the claim; not shown, because the uncertainty overlaps the limit."
            }
            Self::LikelyBeyond => {
                "Measured outside the claim; not shown, because the uncertainty overlaps the limit."
            }
            Self::ShownBeyond => "The error was shown to exceed the claim.",
            Self::BenchNotCapable => {
                "No verdict: with this uncertainty even a perfect device could not be shown within."
            }
            Self::NotTested => "Nothing was measured that could be judged against the claim.",
        }
    }

    /// How bad a cell is for the device; the worst cell decides. Cells that were not tested rank
    /// below everything, so that they decide only when there is nothing else.
    pub const fn rank(self) -> u8 {
        match self {
            Self::NotTested => 0,
            Self::ShownWithin => 1,
            Self::LikelyWithin => 2,
            Self::BenchNotCapable => 3,
            Self::LikelyBeyond => 4,
            Self::ShownBeyond => 5,
        }
    }
}

/// The form in which a power claim is stated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tolerance {
    /// ± so many percent of the reading.
    PercentOfReading(f64),
    /// ± so many watts.
    Watts(f64),
    /// The larger of the two.
    LargerOf {
        /// Percent of the reading.
        pct: f64,
        /// Watts.
        watts: f64,
    },
}

impl Tolerance {
    /// Half-width at a power, W.
    pub fn half_width_w(self, power_w: f64) -> f64 {
        match self {
            Self::PercentOfReading(pct) => pct / 100.0 * power_w.abs(),
            Self::Watts(watts) => watts,
            Self::LargerOf { pct, watts } => (pct / 100.0 * power_w.abs()).max(watts),
        }
    }

    /// Half-width at a power, % of that power; `None` at zero power.
    pub fn half_width_pct(self, power_w: f64) -> Option<f64> {
        (power_w.abs() > 0.0).then(|| self.half_width_w(power_w) / power_w.abs() * 100.0)
    }

    /// The tolerance as people write it: `±2 %`.
    pub fn words(self) -> String {
        match self {
            Self::PercentOfReading(pct) => format!("±{pct} %"),
            Self::Watts(watts) => format!("±{watts} W"),
            Self::LargerOf { pct, watts } => format!("±{pct} % or ±{watts} W, the larger"),
        }
    }
}

/// The rule by which a probability becomes a state.
#[derive(Clone, Debug, PartialEq)]
pub struct DecisionRule {
    /// Conformance probability from which an error counts as shown within; one minus it is the
    /// probability up to which it counts as shown beyond.
    pub shown_at: f64,
    /// How the coverage factor is chosen.
    pub coverage: Coverage,
    /// Fewest steady windows a cell needs.
    pub min_windows: usize,
}

impl Default for DecisionRule {
    fn default() -> Self {
        Self {
            shown_at: 0.95,
            coverage: Coverage::StudentT,
            min_windows: 3,
        }
    }
}

/// Probability that an error lies within ±T when `error` ± `u` was measured.
pub fn conformance_probability(
    error: f64,
    u: f64,
    tolerance: f64,
    coverage: Coverage,
    dof: f64,
) -> f64 {
    if u <= 0.0 {
        return if error.abs() <= tolerance { 1.0 } else { 0.0 };
    }
    let upper = coverage.probability((tolerance - error) / u, dof);
    let lower = coverage.probability((-tolerance - error) / u, dof);
    (upper - lower).clamp(0.0, 1.0)
}

/// A judgement with the figures it rests on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judgement {
    /// The state.
    pub verdict: Verdict,
    /// Conformance probability.
    pub p_conform: f64,
    /// Coverage factor.
    pub k: f64,
    /// Expanded uncertainty, unit of the error.
    pub expanded: f64,
    /// Measurement capability index T/U.
    pub capability: f64,
}

impl DecisionRule {
    /// Judges an error against ±`tolerance`, all in one unit.
    pub fn judge(&self, error: f64, u: f64, dof: f64, tolerance: f64) -> Judgement {
        let k = self.coverage.factor(dof);
        let expanded = k * u;
        let p_conform = conformance_probability(error, u, tolerance, self.coverage, dof);
        let verdict = if self.is_beyond(error, u, dof, tolerance) {
            Verdict::ShownBeyond
        } else if !self.is_capable_with(k, u, dof, tolerance) {
            Verdict::BenchNotCapable
        } else if p_conform >= self.shown_at {
            Verdict::ShownWithin
        } else if p_conform >= 0.5 {
            Verdict::LikelyWithin
        } else {
            Verdict::LikelyBeyond
        };
        let capability = if expanded > 0.0 {
            tolerance / expanded
        } else {
            f64::MAX
        };
        Judgement {
            verdict,
            p_conform,
            k,
            expanded,
            capability,
        }
    }

    /// Whether a perfect device could be shown within: probability at zero error high enough, and
    /// the tolerance at least as large as the expanded uncertainty.
    pub fn is_capable(&self, u: f64, dof: f64, tolerance: f64) -> bool {
        self.is_capable_with(self.coverage.factor(dof), u, dof, tolerance)
    }

    fn is_capable_with(&self, k: f64, u: f64, dof: f64, tolerance: f64) -> bool {
        let at_zero = conformance_probability(0.0, u, tolerance, self.coverage, dof);
        // At 95 % by Student's t both conditions are the same equation; the margin keeps rounding
        // from deciding.
        at_zero >= self.shown_at && tolerance >= k * u * (1.0 - 1e-9)
    }

    /// Largest error that would be shown within; `None` if even zero would not.
    pub fn accept_within(&self, u: f64, dof: f64, tolerance: f64) -> Option<f64> {
        self.is_capable(u, dof, tolerance)
            .then(|| self.error_with(self.shown_at, 0.0, tolerance, u, dof, tolerance))
    }

    /// Smallest error that would be shown beyond.
    pub fn reject_beyond(&self, u: f64, dof: f64, tolerance: f64) -> f64 {
        tolerance + self.coverage.quantile(self.shown_at, dof) * u.max(0.0)
    }

    /// Whether an error is shown beyond: beyond the limit on its own side with the probability
    /// asked for. A low conformance probability alone is not enough: an uncertainty far larger
    /// than the tolerance makes it low for a perfect device too.
    fn is_beyond(&self, error: f64, u: f64, dof: f64, tolerance: f64) -> bool {
        if u > 0.0 {
            let within_limit = (tolerance - error.abs()) / u;
            self.coverage.probability(within_limit, dof) <= 1.0 - self.shown_at
        } else {
            error.abs() > tolerance
        }
    }

    /// The error between `low` and `high` at which the conformance probability is `p`; it falls
    /// all the way. Regula falsi with halving of the stale end (Illinois).
    fn error_with(
        &self,
        p: f64,
        mut low: f64,
        mut high: f64,
        u: f64,
        dof: f64,
        tolerance: f64,
    ) -> f64 {
        if u <= 0.0 {
            return tolerance;
        }
        let above = |error| conformance_probability(error, u, tolerance, self.coverage, dof) - p;
        let (mut at_low, mut at_high) = (above(low), above(high));
        if at_low <= 0.0 {
            return low;
        }
        if at_high >= 0.0 {
            return high;
        }
        for _ in 0..100 {
            let middle = (low * at_high - high * at_low) / (at_high - at_low);
            let at_middle = above(middle);
            if at_middle.abs() < 1e-13 || high - low <= 1e-12 * high {
                return middle;
            }
            if at_middle > 0.0 {
                (low, at_low) = (middle, at_middle);
                at_high /= 2.0;
            } else {
                (high, at_high) = (middle, at_middle);
                at_low /= 2.0;
            }
        }
        0.5 * (low + high)
    }

    /// The rule in one sentence.
    pub fn words(&self) -> String {
        // One decimal where a scheme for several looks asks for more than a round number.
        let shown = (1000.0 * self.shown_at).round() / 10.0;
        format!(
            "A condition is shown within when the probability that its error is within the tolerance \
             is at least {shown} %, and shown beyond when the probability that it is beyond is at \
             least {shown} %. Between them it is likely within or likely beyond, on either side of \
             one half. No verdict is given where even a perfect device could not be shown within. \
             Expanded uncertainty: {}. At least {} steady windows for each condition. The worst \
             condition decides for all, and the whole is shown beyond only where chance would put \
             one of that many conditions as far out as seldom as that.",
            self.coverage.words(),
            self.min_windows
        )
    }
}
