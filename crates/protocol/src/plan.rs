//! A script unfolded into plain steps, one after the other, and what it adds up to.

use crate::step::{Ending, PlannedStep};
use std::collections::HashMap;
use units::{Joules, Span, Watts};

/// Everything that will be ridden, in order.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The script's name.
    pub name: String,
    /// The script's title.
    pub title: String,
    /// The steps; never empty.
    pub steps: Vec<PlannedStep>,
    /// The seeds of every shuffle, in the order of the script; the record needs them.
    pub seeds: Vec<u64>,
}

/// One corner of the planned target curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvePoint {
    /// Time from the beginning of the plan.
    pub at: Span,
    /// Position of the step in the plan.
    pub index: usize,
    /// Power asked of brake or rider; `None` where nobody asks for any.
    pub power: Option<Watts>,
}

impl Plan {
    /// The planned time of all steps, open ones by their expected length.
    pub fn total(&self) -> Span {
        self.steps
            .iter()
            .fold(Span::ZERO, |sum, step| sum + step.length.expected())
    }

    /// The longest the steps can take without pauses, repeats and extensions.
    pub fn longest(&self) -> Span {
        self.steps
            .iter()
            .fold(Span::ZERO, |sum, step| sum + step.length.limit())
    }

    /// The planned work, as far as brake or cue ask for a power.
    pub fn energy(&self) -> Joules {
        self.steps
            .iter()
            .fold(Joules::ZERO, |sum, step| match step.planned_power() {
                Some((from, to)) => sum + (from + to) * 0.5 * step.length.expected(),
                None => sum,
            })
    }

    /// The planned time above a power, as far as brake or cue ask for one.
    pub fn time_above(&self, threshold: Watts) -> Span {
        self.steps.iter().fold(Span::ZERO, |sum, step| {
            let Some((from, to)) = step.planned_power() else {
                return sum;
            };
            let (low, high) = (from.min(to).get(), from.max(to).get());
            let share = if low > threshold.get() {
                1.0
            } else if high <= threshold.get() {
                0.0
            } else {
                (high - threshold.get()) / (high - low)
            };
            sum + Span::from_secs_f64(step.length.expected().as_secs_f64() * share)
        })
    }

    /// The highest power asked for by brake or cue.
    pub fn highest_power(&self) -> Option<Watts> {
        let highest = |(from, to): (Watts, Watts)| from.max(to);
        self.steps
            .iter()
            .filter_map(|step| step.planned_power().map(highest))
            .reduce(Watts::max)
    }

    /// The most windows of one length that are planned for any one condition, all its repeats
    /// together. Steps are of one condition if load, cadence and gear are the same; only what a
    /// steady window is wanted of counts, settling not.
    pub fn windows_of_a_condition(&self, window: Span) -> usize {
        let mut conditions: HashMap<String, i64> = HashMap::new();
        for step in self.steps.iter().filter(|step| step.feeds.wants_steady()) {
            let condition = format!("{:?} {:?} {:?}", step.load, step.cadence(), step.cue.gear);
            let judged = (step.length.expected() - step.settle).max(Span::ZERO);
            *conditions.entry(condition).or_default() +=
                judged.as_nanos() / window.as_nanos().max(1);
        }
        let most = conditions.into_values().max().unwrap_or(0);
        usize::try_from(most).unwrap_or(usize::MAX)
    }

    /// Whether a step waits until its question is decided, so that a rule for that is needed.
    pub fn waits_for_decisions(&self) -> bool {
        self.steps
            .iter()
            .any(|step| matches!(step.ending, Ending::Decided { .. }))
    }

    /// The corners of the planned target curve, two for each step.
    pub fn curve(&self) -> Vec<CurvePoint> {
        let mut points = Vec::with_capacity(self.steps.len() * 2);
        let mut at = Span::ZERO;
        for step in &self.steps {
            let power = step.planned_power();
            points.push(CurvePoint {
                at,
                index: step.index,
                power: power.map(|ends| ends.0),
            });
            at += step.length.expected();
            points.push(CurvePoint {
                at,
                index: step.index,
                power: power.map(|ends| ends.1),
            });
        }
        points
    }

    /// When a step is planned to begin, from the beginning of the plan.
    pub fn starts_at(&self, index: usize) -> Span {
        self.steps
            .iter()
            .take(index)
            .fold(Span::ZERO, |sum, step| sum + step.length.expected())
    }
}
