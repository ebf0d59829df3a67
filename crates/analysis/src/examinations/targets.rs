//! The commanded power over time, and its changes.

use super::integral::secs;
use crate::evidence::{Command, Load};

/// Commands that follow each other this closely in one direction are one change, ridden as a
/// ramp, s.
const RAMP_S: f64 = 2.5;

/// The commanded power as a held curve; empty where the load was not a power.
#[derive(Clone, Debug)]
pub(super) struct Targets {
    /// Moment and target, in order of time.
    steps: Vec<(f64, Option<f64>)>,
    confirmed_s: Vec<Option<f64>>,
}

/// One change of the commanded power.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct TargetChange {
    pub(super) at_s: f64,
    pub(super) confirmed_s: Option<f64>,
    pub(super) from_w: f64,
    pub(super) to_w: f64,
    /// How long the target before had been held.
    pub(super) held_s: f64,
    /// When the target changed again.
    pub(super) until_s: f64,
}

impl TargetChange {
    pub(super) fn size_w(&self) -> f64 {
        self.to_w - self.from_w
    }
}

impl Targets {
    pub(super) fn new(commands: &[Command]) -> Self {
        let mut steps: Vec<(f64, Option<f64>)> = Vec::new();
        let mut confirmed_s = Vec::new();
        for command in commands {
            let at_s = secs(command.at);
            let target = match command.load {
                Load::PowerW(power_w) if power_w.is_finite() => Some(power_w),
                _ => None,
            };
            if steps
                .last()
                .is_some_and(|(last_s, last)| *last == target || at_s < *last_s)
            {
                continue;
            }
            steps.push((at_s, target));
            confirmed_s.push(command.confirmed_at.map(secs));
        }
        Self { steps, confirmed_s }
    }

    /// Mean target over a span that lies wholly under power targets.
    pub(super) fn mean(&self, from_s: f64, to_s: f64) -> Option<f64> {
        let mut index = self
            .steps
            .partition_point(|(at_s, _)| *at_s <= from_s)
            .checked_sub(1)?;
        let mut sum = 0.0;
        let mut begin = from_s;
        loop {
            let target = self.steps[index].1?;
            let end = self
                .steps
                .get(index + 1)
                .map_or(f64::MAX, |(at_s, _)| *at_s)
                .min(to_s);
            sum += target * (end - begin);
            if end >= to_s {
                return (to_s > from_s).then(|| sum / (to_s - from_s));
            }
            begin = end;
            index += 1;
        }
    }

    /// All changes from one power to another, ramps joined.
    pub(super) fn changes(&self) -> Vec<TargetChange> {
        let mut changes = Vec::new();
        let mut index = 1;
        while index < self.steps.len() {
            let (Some(from_w), (at_s, Some(mut to_w))) =
                (self.steps[index - 1].1, self.steps[index])
            else {
                index += 1;
                continue;
            };
            let held_s = at_s - self.steps[index - 1].0;
            let confirmed_s = self.confirmed_s[index];
            let up = to_w > from_w;
            let mut last_s = at_s;
            while let Some(&(next_s, Some(next_w))) = self.steps.get(index + 1) {
                if next_s - last_s > RAMP_S || (next_w > to_w) != up {
                    break;
                }
                (last_s, to_w) = (next_s, next_w);
                index += 1;
            }
            let until_s = self
                .steps
                .get(index + 1)
                .map_or(f64::MAX, |(next_s, _)| *next_s);
            changes.push(TargetChange {
                at_s,
                confirmed_s,
                from_w,
                to_w,
                held_s,
                until_s,
            });
            index += 1;
        }
        changes
    }
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::at;
    use super::*;

    fn command(secs: f64, load: Load) -> Command {
        Command {
            at: at(secs),
            confirmed_at: None,
            load,
        }
    }

    #[test]
    fn a_ramp_is_one_change_and_a_release_none() {
        let targets = Targets::new(&[
            command(0.0, Load::PowerW(100.0)),
            command(30.0, Load::PowerW(200.0)),
            command(31.0, Load::PowerW(300.0)),
            command(60.0, Load::Released),
            command(90.0, Load::PowerW(150.0)),
        ]);
        let changes = targets.changes();
        assert_eq!(changes.len(), 1);
        assert_eq!(
            (changes[0].at_s, changes[0].to_w, changes[0].until_s),
            (30.0, 300.0, 60.0)
        );
        assert_eq!(targets.mean(29.0, 31.0), Some(150.0));
        assert_eq!(targets.mean(59.0, 61.0), None);
        assert_eq!(targets.mean(-5.0, 1.0), None);
        assert_eq!(targets.mean(95.0, 99.0), Some(150.0));
    }
}
