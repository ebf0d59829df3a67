//! The last gate before the brake: caps and rise limits.
//!
//! Falling is free and immediate. A rise happens at most once in a second and by at most one
//! second's worth; a change of mode begins low.

use crate::load::{SlopeLoad, Target};
use crate::range::{DeviceRange, Interval};
use units::{Span, Timestamp, Watts};

/// The least time between two rises.
const BETWEEN_RISES: Span = Span::from_secs(1);
/// The share of the resistance range a level may rise in one second.
const RESISTANCE_SHARE_PER_RISE: f64 = 0.2;
/// The most a grade may rise in one second, in percent grade.
const GRADE_PER_RISE_PCT: f64 = 3.0;

#[derive(Debug)]
pub(super) struct Governor {
    range: DeviceRange,
    rise_w: f64,
    low_load: Watts,
    sent: Option<Target>,
    last_rise: Option<Timestamp>,
    /// Whether the last wish was higher than what was sent.
    wants_more: bool,
}

impl Governor {
    pub(super) fn new(range: DeviceRange, rise_w_per_s: f64, low_load: Watts) -> Self {
        let rise_w = rise_w_per_s * BETWEEN_RISES.as_secs_f64();
        Self {
            range,
            rise_w,
            low_load,
            sent: None,
            last_rise: None,
            wants_more: false,
        }
    }

    /// What the brake was last asked for; `None` while it is released.
    pub(super) fn sent(&self) -> Option<Target> {
        self.sent
    }

    /// The power the brake was last asked for, zero in other modes.
    pub(super) fn sent_power(&self) -> Watts {
        match self.sent {
            Some(Target::Power(power)) => power,
            _ => Watts::ZERO,
        }
    }

    /// Forgets the brake's state after a release; what follows begins low.
    pub(super) fn released(&mut self) {
        self.sent = None;
        self.wants_more = false;
    }

    /// When the next rise is due, if one is wanted.
    pub(super) fn deadline(&self) -> Option<Timestamp> {
        self.last_rise
            .filter(|_| self.wants_more)
            .map(|at| at + BETWEEN_RISES)
    }

    /// The target to send now on the way to `wish`, if there is anything to send. A mode the
    /// device does not offer becomes no load.
    pub(super) fn towards(&mut self, wish: Target, now: Timestamp) -> Option<Target> {
        let capped = |target| self.range.cap(target).unwrap_or(Target::Free);
        // Rounding downwards may leave the range at its lower end.
        let wish = capped(rounded(capped(wish)));
        let (start, step) = self.start_and_step(wish);
        let here = match (self.sent, wish) {
            (Some(Target::Power(_)), Target::Power(_))
            | (Some(Target::Resistance(_)), Target::Resistance(_))
            | (Some(Target::Slope(_)), Target::Slope(_)) => self.sent.map(magnitude),
            _ => None,
        };
        let goal = magnitude(wish);
        let may_rise = self.last_rise.is_none_or(|at| now >= at + BETWEEN_RISES);
        let next = match here {
            Some(here) if goal > here && may_rise => goal.min(here + step),
            Some(here) if goal > here => here,
            Some(_) => goal,
            None => goal.min(start),
        };
        self.wants_more = next < goal;
        let target = with_magnitude(wish, next);
        if self.sent == Some(target) {
            return None;
        }
        let begins = here.is_none() && !matches!(target, Target::Free);
        if begins || here.is_some_and(|here| next > here) {
            self.last_rise = Some(now);
        }
        self.sent = Some(target);
        Some(target)
    }

    /// Where a mode begins and how far it may rise at once.
    fn start_and_step(&self, wish: Target) -> (f64, f64) {
        let min = |range: Option<Interval>| range.map_or(0.0, |range| range.min);
        match wish {
            Target::Free => (0.0, 0.0),
            Target::Power(_) => (
                self.low_load.get().max(min(self.range.power_w)),
                self.rise_w,
            ),
            Target::Resistance(_) => {
                let width = self.range.resistance.map_or(0.0, |range| range.width());
                (
                    min(self.range.resistance),
                    width * RESISTANCE_SHARE_PER_RISE,
                )
            }
            Target::Slope(_) => (0.0_f64.max(min(self.range.grade_pct)), GRADE_PER_RISE_PCT),
        }
    }
}

/// How large a target is within its own mode.
fn magnitude(target: Target) -> f64 {
    match target {
        Target::Power(power) => power.get(),
        Target::Resistance(level) => level,
        Target::Slope(slope) => slope.grade_pct,
        Target::Free => 0.0,
    }
}

fn with_magnitude(target: Target, value: f64) -> Target {
    match target {
        Target::Power(_) => Target::Power(Watts(value)),
        Target::Resistance(_) => Target::Resistance(value),
        Target::Slope(slope) => Target::Slope(SlopeLoad {
            grade_pct: value,
            ..slope
        }),
        Target::Free => Target::Free,
    }
}

/// To the resolution of the control point (1 W, 0.1, 0.01 %), downwards, so that neither a cap nor
/// a needless write comes of rounding.
fn rounded(target: Target) -> Target {
    let resolution = match target {
        Target::Power(_) => 1.0,
        Target::Resistance(_) => 10.0,
        Target::Slope(_) => 100.0,
        Target::Free => return target,
    };
    // The small addition keeps 29.999999999999996 from becoming 29.
    with_magnitude(
        target,
        (magnitude(target) * resolution + 1e-6).floor() / resolution,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn governor() -> Governor {
        Governor::new(
            DeviceRange::WIDE.with_ceiling(Watts(400.0)),
            100.0,
            Watts(50.0),
        )
    }

    #[test]
    fn power_begins_low_rises_by_seconds_and_falls_at_once() {
        let mut governor = governor();
        let mut ask = |watts: f64, millis: i64| match governor
            .towards(Target::Power(Watts(watts)), Timestamp::from_millis(millis))
        {
            Some(Target::Power(power)) => Some(power.get()),
            _ => None,
        };
        assert_eq!(ask(300.0, 0), Some(50.0));
        assert_eq!(ask(300.0, 999), None);
        assert_eq!(ask(300.0, 1000), Some(150.0));
        assert_eq!(ask(300.0, 2000), Some(250.0));
        assert_eq!(ask(100.0, 2100), Some(100.0));
        assert_eq!(ask(300.0, 2500), None);
        assert_eq!(ask(300.0, 3000), Some(200.0));
        assert_eq!(ask(9000.0, 9000), Some(300.0));
        assert_eq!(ask(9000.0, 10_000), Some(400.0));
        assert_eq!(ask(9000.0, 11_000), None);
    }

    #[test]
    fn a_mode_the_device_lacks_becomes_no_load() {
        let range = DeviceRange {
            resistance: None,
            ..DeviceRange::WIDE
        };
        let mut governor = Governor::new(range, 100.0, Watts(50.0));
        let first = governor.towards(Target::Resistance(40.0), Timestamp::ZERO);
        assert_eq!(first, Some(Target::Free));
    }
}
