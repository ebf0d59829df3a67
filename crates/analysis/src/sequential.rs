//! Ending a hold early, when its question is decided, without paying for it with wrong statements.
//!
//! Who looks at a running comparison after every window and stops at the first favourable look is
//! wrong more often than one look would be. A group-sequential scheme asks for more at each look,
//! so that the rate over all looks stays as stated. Two published shapes are offered: the same
//! demand at every look (Pocock, Biometrika 64 (1977), 191–199) and one that is severe at first
//! and almost the ordinary one at the end (O'Brien and Fleming, Biometrics 35 (1979), 549–556).
//! Their constants are not typed in but computed, by recursive integration over the running sum
//! (Armitage, McPherson and Rowe, Journal of the Royal Statistical Society A 132 (1969), 235–244),
//! and the tests compare them with the published ones.
//!
//! At the limit of a claim the two statements, *shown within* and *shown beyond*, are the two
//! sides of one symmetric test, so each has the rate 1 − `shown_at` over all looks. (Where the
//! tolerance is far smaller than the uncertainty, *shown beyond* on either side adds up to at most
//! twice that, as it does for a single look.) The schemes
//! take the information to grow evenly from look to look. Here part of the uncertainty is common
//! to all looks (the reference, the drivetrain), so looks resemble each other more than that, and
//! the rates are lower than stated, never higher.
//!
//! The rule is off unless the settings switch it on. Absent on purpose: stopping because nothing
//! can be decided; that is a matter of the rider's time and no statement about the device.

use crate::stats::normal::{normal_probability, normal_quantile};
use crate::verdict::{DecisionRule, Verdict};

/// Largest number of looks: twenty minutes of windows of half a minute.
pub const MOST_LOOKS: usize = 40;
/// Spacing of the integration in standard deviations of one increment.
const SPACING: f64 = 0.1;

/// How severe each look is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Boundary {
    /// The same at every look.
    Pocock,
    /// Severe at first, nearly the ordinary rule at the last look.
    OBrienFleming,
}

impl Boundary {
    /// The name of the published scheme.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Pocock => "Pocock",
            Self::OBrienFleming => "O'Brien and Fleming",
        }
    }

    /// How much larger the limit at a look is than at the last one; looks count from 1.
    fn factor(self, look: usize, looks: usize) -> f64 {
        match self {
            Self::Pocock => 1.0,
            Self::OBrienFleming => (looks as f64 / look as f64).sqrt(),
        }
    }
}

/// Early ending as fixed before the ride.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EarlyEnd {
    /// The scheme.
    pub boundary: Boundary,
    /// Windows that are planned for each condition, all its repeats together. Looks begin when
    /// the rule's fewest windows are there.
    pub windows: usize,
}

/// What a look says about the hold that is running.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Decision {
    /// Not decided: ride on; so many looks are left.
    GoOn {
        /// Looks that are left.
        looks_left: usize,
    },
    /// Decided: the hold may end.
    End {
        /// *Shown within* or *shown beyond*.
        verdict: Verdict,
        /// Windows at the look that decided.
        windows: usize,
        /// Probability that this look asked for.
        shown_at: f64,
    },
    /// All planned looks were taken and nothing was decided.
    Exhausted,
}

impl Decision {
    /// For the screen and the record.
    pub fn words(self) -> String {
        match self {
            Self::GoOn { looks_left } => format!("not decided, {looks_left} looks left"),
            Self::End {
                verdict,
                windows,
                shown_at,
            } => format!(
                "decided after {windows} windows: {}, {:.1} % was asked at this look",
                verdict.words(),
                100.0 * shown_at
            ),
            Self::Exhausted => "not decided at the last of the planned looks".into(),
        }
    }
}

/// The difference at one look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// Complete windows so far.
    pub windows: usize,
    /// Error so far.
    pub error: f64,
    /// Combined standard uncertainty, same unit.
    pub u: f64,
    /// Effective degrees of freedom.
    pub dof: f64,
    /// Half-width of the tolerance, same unit.
    pub tolerance: f64,
}

/// A decision rule for several looks.
#[derive(Clone, Debug, PartialEq)]
pub struct SequentialRule {
    rule: DecisionRule,
    boundary: Boundary,
    /// Conformance probability asked for at each look.
    shown_at: Vec<f64>,
}

impl SequentialRule {
    /// Spreads a rule over the looks that a plan allows; its rate of wrong statements is kept.
    pub fn new(rule: &DecisionRule, early: EarlyEnd) -> Self {
        let first = rule.min_windows.max(1);
        let looks = (early.windows.saturating_sub(first) + 1).clamp(1, MOST_LOOKS);
        let both_sides = 2.0 * (1.0 - rule.shown_at);
        Self {
            rule: rule.clone(),
            boundary: early.boundary,
            shown_at: limits(early.boundary, looks, both_sides)
                .into_iter()
                .map(normal_probability)
                .collect(),
        }
    }

    /// Number of looks.
    pub fn looks(&self) -> usize {
        self.shown_at.len()
    }

    /// The windows of the last planned look. A decision after it is not covered by the stated
    /// rate of wrong statements, so no hold may end by it.
    pub fn last_look_at(&self) -> usize {
        self.rule.min_windows.max(1) + self.looks() - 1
    }

    /// Conformance probability asked for with so many windows; `None` before the first look.
    /// Beyond the last planned look the demand of that one stays.
    pub fn shown_at(&self, windows: usize) -> Option<f64> {
        let look = windows.checked_sub(self.rule.min_windows.max(1))?;
        self.shown_at.get(look).or(self.shown_at.last()).copied()
    }

    /// The rule that everything is judged by once the ride is over: that of the last look. A
    /// hold that ended early has met it already.
    pub fn at_the_end(&self) -> DecisionRule {
        DecisionRule {
            shown_at: self.shown_at.last().copied().unwrap_or(self.rule.shown_at),
            ..self.rule.clone()
        }
    }

    /// Takes one look. Looks are taken once per window, in order, and the first that ends counts.
    pub fn decide(&self, look: &Look) -> Decision {
        let Some(shown_at) = self.shown_at(look.windows) else {
            return Decision::GoOn {
                looks_left: self.looks(),
            };
        };
        let rule = DecisionRule {
            shown_at,
            ..self.rule.clone()
        };
        let verdict = rule
            .judge(look.error, look.u, look.dof, look.tolerance)
            .verdict;
        if matches!(verdict, Verdict::ShownWithin | Verdict::ShownBeyond) {
            return Decision::End {
                verdict,
                windows: look.windows,
                shown_at,
            };
        }
        let taken = look.windows + 1 - self.rule.min_windows.max(1);
        match self.looks().saturating_sub(taken) {
            0 => Decision::Exhausted,
            looks_left => Decision::GoOn { looks_left },
        }
    }

    /// The scheme in one sentence, for the statement of the rule.
    pub fn words(&self) -> String {
        let of = |probability: Option<&f64>| 100.0 * probability.copied().unwrap_or(0.0);
        format!(
            "Holds may end early: after each of {} windows from the {} on the probability is \
             compared with the limits of {}, {:.1} % at the first look and {:.1} % at the last, \
             so that over all looks a wrong statement at the limit of the claim is made at most \
             {:.0} times in 100.",
            self.looks(),
            ordinal(self.rule.min_windows.max(1)),
            self.boundary.words(),
            of(self.shown_at.first()),
            of(self.shown_at.last()),
            100.0 * (1.0 - self.rule.shown_at)
        )
    }
}

fn ordinal(n: usize) -> String {
    match n {
        1 => "first".into(),
        2 => "second".into(),
        3 => "third".into(),
        _ => format!("{n}th"),
    }
}

/// The limits of a scheme in standard deviations, one per look, for a rate of wrong rejections
/// `alpha` on both sides together.
pub fn limits(boundary: Boundary, looks: usize, alpha: f64) -> Vec<f64> {
    let constant = constant(boundary, looks, alpha);
    (1..=looks)
        .map(|look| constant * boundary.factor(look, looks))
        .collect()
}

/// The constant of a scheme: its limit at the last look.
pub fn constant(boundary: Boundary, looks: usize, alpha: f64) -> f64 {
    let looks = looks.clamp(1, MOST_LOOKS);
    let alpha = alpha.clamp(1e-9, 0.999_999);
    let information: Vec<f64> = (1..=looks).map(|look| look as f64).collect();
    let rate = |constant: f64| {
        let limits: Vec<f64> = (1..=looks)
            .map(|look| constant * boundary.factor(look, looks))
            .collect();
        crossing_probability(&limits, &information)
    };
    // One look needs least; splitting the rate evenly over the looks needs most.
    let mut low = normal_quantile(1.0 - alpha / 2.0);
    let mut high = normal_quantile(1.0 - alpha / (2.0 * looks as f64)) + 1e-6;
    let (mut at_low, mut at_high) = (rate(low) - alpha, rate(high) - alpha);
    if at_low <= 0.0 {
        return low;
    }
    // Regula falsi with halving of the stale end (Illinois).
    for _ in 0..60 {
        let middle = (low * at_high - high * at_low) / (at_high - at_low);
        let at_middle = rate(middle) - alpha;
        if at_middle.abs() < 1e-9 || high - low < 1e-9 {
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

/// Probability that a standardised sum leaves ± its limit at any look, when nothing is there.
///
/// `information` is the inverse variance of the estimate at each look in any unit, rising. The sum
/// score √information·Z has independent increments with that difference as variance, so its
/// density inside the limits is carried from look to look.
pub fn crossing_probability(limits: &[f64], information: &[f64]) -> f64 {
    let (mut places, mut density, mut last) = (vec![0.0], vec![1.0], 0.0);
    let mut inside = 1.0;
    for (index, (limit, now)) in limits.iter().zip(information).enumerate() {
        let spread = (now - last).max(0.0).sqrt();
        let edge = limit.abs() * now.sqrt();
        if spread <= 0.0 || edge <= 0.0 {
            continue;
        }
        let kernel = |distance: f64| {
            let z = distance / spread;
            (-0.5 * z * z).exp() / (spread * std::f64::consts::TAU.sqrt())
        };
        let next_spread = information
            .get(index + 1)
            .map_or(spread, |next| (next - now).max(0.0).sqrt());
        let step = SPACING * spread.min(next_spread).max(1e-3 * edge);
        let half = (edge / step / 2.0).ceil().max(2.0) as usize * 2;
        let step = edge / half as f64;
        // The density is even, so half of it is carried, with Simpson's weights in it.
        let carried: Vec<(f64, f64)> = (0..=half)
            .map(|i| {
                let at = i as f64 * step;
                let value: f64 = places
                    .iter()
                    .zip(&density)
                    .map(|(from, mass)| mass * (kernel(at - from) + kernel(at + from)))
                    .sum();
                // The first look starts from a point, which is its own mirror image.
                let value = if index == 0 { value / 2.0 } else { value };
                let weight = match i {
                    0 => 1.0,
                    i if i == half => 1.0,
                    i if i % 2 == 1 => 4.0,
                    _ => 2.0,
                };
                (at, value * weight * step / 3.0)
            })
            .collect();
        inside = 2.0 * carried.iter().map(|(_, mass)| mass).sum::<f64>();
        (places, density) = carried.into_iter().unzip();
        last = *now;
    }
    (1.0 - inside).clamp(0.0, 1.0)
}
