//! When an instrument fails altogether: planned in seconds of pedalling, or by chance.

use crate::noise::Dice;
use crate::spec::{ChanceUpset, PlannedUpset, UpsetKind, UpsetsSpec};
use units::{Span, Timestamp};

/// The failures of one instrument.
#[derive(Clone, Debug)]
pub(crate) struct Upsets {
    /// Still to come, the next one last.
    planned: Vec<PlannedUpset>,
    by_chance: Option<ChanceUpset>,
    dice: Dice,
    ridden_s: f64,
    active: Option<(UpsetKind, Timestamp)>,
}

/// A failure that has just begun.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Begun {
    pub(crate) kind: UpsetKind,
    pub(crate) until: Timestamp,
}

impl Upsets {
    pub(crate) fn new(spec: &UpsetsSpec, dice: Dice) -> Self {
        let mut planned = spec.planned.clone();
        planned.sort_by(|a, b| b.after_ridden_s.total_cmp(&a.after_ridden_s));
        Self {
            planned,
            by_chance: spec.by_chance,
            dice,
            ridden_s: 0.0,
            active: None,
        }
    }

    /// Moves on to `now`; `pedalling` says whether the rider works against a load.
    pub(crate) fn step(
        &mut self,
        now: Timestamp,
        step_s: f64,
        pedalling: Pedalling,
    ) -> Option<Begun> {
        if self.active.is_some_and(|(_, until)| now >= until) {
            self.active = None;
        }
        if pedalling == Pedalling::No {
            return None;
        }
        self.ridden_s += step_s;
        if self.active.is_some() {
            return None;
        }
        let (kind, seconds) = self.next(step_s)?;
        let until = now + Span::from_secs_f64(seconds);
        self.active = Some((kind, until));
        Some(Begun { kind, until })
    }

    fn next(&mut self, step_s: f64) -> Option<(UpsetKind, f64)> {
        if self
            .planned
            .last()
            .is_some_and(|upset| upset.after_ridden_s <= self.ridden_s)
        {
            return self.planned.pop().map(|upset| (upset.kind, upset.seconds));
        }
        let chance = self.by_chance?;
        if !self.dice.happens(chance.per_hour * step_s / 3600.0) {
            return None;
        }
        Some((
            chance.kind,
            self.dice.between(chance.seconds.0, chance.seconds.1),
        ))
    }

    /// How the instrument fails at this moment, if it does.
    pub(crate) fn active(&self) -> Option<UpsetKind> {
        self.active.map(|(kind, _)| kind)
    }
}

/// Whether the rider works against a load.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Pedalling {
    Yes,
    No,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn planned_failures_wait_for_the_rider() {
        let spec = UpsetsSpec {
            planned: vec![PlannedUpset {
                kind: UpsetKind::Zero,
                after_ridden_s: 5.0,
                seconds: 2.0,
            }],
            by_chance: None,
        };
        let mut upsets = Upsets::new(&spec, Dice::new(1, 1));
        let mut begun_at = None;
        for second in 0..20 {
            let pedalling = if second < 10 {
                Pedalling::No
            } else {
                Pedalling::Yes
            };
            let now = Timestamp::from_secs(second);
            if let Some(begun) = upsets.step(now, 1.0, pedalling) {
                begun_at = Some(second);
                assert_eq!(begun.until, now + Span::from_secs(2));
            }
            assert_eq!(upsets.active().is_some(), (14..16).contains(&second));
        }
        assert_eq!(begun_at, Some(14));
    }
}
