//! What an audit comes to.

use super::consent::Consent;
use crate::peripheral::Identity;
use std::fmt;
use units::{Characteristic, Span};

/// What became of one rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Outcome {
    /// The device did what the rule asks.
    Kept,
    /// The device did something else.
    Broken,
    /// It could not be seen, or what was seen proves neither.
    NotObservable,
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Kept => "kept",
            Self::Broken => "broken",
            Self::NotObservable => "not observable",
        })
    }
}

/// One rule and what was seen of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RuleFinding {
    /// Stable name of the rule: service, place, property.
    pub id: String,
    /// The rule in words.
    pub title: String,
    /// Where it is written.
    pub clause: &'static str,
    /// What was sent for it, in hexadecimal, in order; empty if it was only watched.
    pub sent: Vec<String>,
    /// What came back, or was read or heard, in hexadecimal; a few examples where there is much.
    pub received: Vec<String>,
    /// What became of it.
    pub outcome: Outcome,
    /// Why, in words.
    pub words: String,
}

/// How many examples a finding shows at most.
const MOST_EXAMPLES: usize = 4;

impl RuleFinding {
    /// A rule of which nothing was seen yet.
    pub(super) fn new(
        id: impl Into<String>,
        title: impl Into<String>,
        clause: &'static str,
    ) -> Self {
        Self {
            id: id.into(),
            title: title.into(),
            clause,
            sent: Vec::new(),
            received: Vec::new(),
            outcome: Outcome::NotObservable,
            words: "nothing was seen of it".to_owned(),
        }
    }

    pub(super) fn sent(mut self, bytes: &[u8]) -> Self {
        self.sent.push(hex(bytes));
        self
    }

    pub(super) fn received(mut self, bytes: &[u8]) -> Self {
        if self.received.len() < MOST_EXAMPLES {
            self.received.push(hex(bytes));
        }
        self
    }

    pub(super) fn kept(self, words: impl Into<String>) -> Self {
        self.with(Outcome::Kept, words)
    }

    pub(super) fn broken(self, words: impl Into<String>) -> Self {
        self.with(Outcome::Broken, words)
    }

    pub(super) fn unseen(self, words: impl Into<String>) -> Self {
        self.with(Outcome::NotObservable, words)
    }

    fn with(self, outcome: Outcome, words: impl Into<String>) -> Self {
        Self {
            outcome,
            words: words.into(),
            ..self
        }
    }
}

/// Bytes as two hexadecimal digits each, with spaces.
pub(super) fn hex(bytes: &[u8]) -> String {
    let digits: Vec<_> = bytes.iter().map(|byte| format!("{byte:02X}")).collect();
    digits.join(" ")
}

/// When the notifications of one characteristic came.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StreamFigures {
    /// Which.
    pub characteristic: Characteristic,
    /// How many notifications.
    pub packets: usize,
    /// Median time between them within a link, ms; absent below three.
    pub median_interval_ms: Option<f64>,
    /// Mean absolute deviation of that time from its median, ms.
    pub jitter_ms: Option<f64>,
    /// The longest time between two, ms.
    pub longest_interval_ms: Option<f64>,
    /// How many seem to be missing: in intervals of more than 2.5 medians, as many medians as fit
    /// in less one (common practice). Lost by the air or never sent: that cannot be told.
    pub missing: usize,
}

/// How long a control point took to answer, from the write to the indication.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AnswerTimes {
    /// Which control point.
    pub characteristic: Characteristic,
    /// How many answers.
    pub answers: usize,
    /// Median, ms.
    pub median_ms: f64,
    /// Longest, ms.
    pub longest_ms: f64,
}

/// In which state an audit left the brake.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LoadLeft {
    /// Nothing about it was changed.
    Untouched,
    /// The machine confirmed the release at the end.
    Released,
    /// The machine did not confirm the release at the end; the load may be on.
    Unknown,
}

/// Everything an audit found.
#[derive(Clone, Debug, PartialEq)]
pub struct Audit {
    /// Who the device says it is.
    pub identity: Identity,
    /// What was allowed.
    pub consent: Consent,
    /// How long notifications were listened to.
    pub listened: Span,
    /// Every rule that applies to the services of the device, in the order of the services.
    pub rules: Vec<RuleFinding>,
    /// When notifications came, by characteristic.
    pub streams: Vec<StreamFigures>,
    /// How long control points took to answer.
    pub answers: Vec<AnswerTimes>,
    /// How the brake was left.
    pub load_left: LoadLeft,
}

impl Audit {
    /// The rules with this outcome.
    pub fn with(&self, outcome: Outcome) -> impl Iterator<Item = &RuleFinding> {
        self.rules
            .iter()
            .filter(move |rule| rule.outcome == outcome)
    }
}

/// The middle of `values`, or the mean of the two in the middle.
pub(super) fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    let upper = *values.get(middle)?;
    if values.len() % 2 == 1 {
        return Some(upper);
    }
    Some((values.get(middle - 1)? + upper) / 2.0)
}
