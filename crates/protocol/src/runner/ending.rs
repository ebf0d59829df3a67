//! Whether what ends the current step has happened.

use super::Runner;
use super::current::Current;
use super::output::StepEnd;
use super::senses::Senses;
use crate::step::{Ending, StepKind};
use units::{RevPerMin, Span, Timestamp};

/// How long the asked gear must be seen before it counts.
const GEAR_SEEN_FOR: Span = Span::from_secs(3);
/// After this long without any speed reading a gear change cannot be checked.
const GEAR_UNCHECKED_AFTER: Span = Span::from_secs(30);
/// How near a measured development must be to the asked one: by itself, where the circumference
/// the device assumes is unknown, and as a change from the rung before.
const GEAR_TOLERANCE_ALONE: f64 = 0.25;
const GEAR_TOLERANCE_OF_CHANGE: f64 = 0.12;
/// Standing still and pedalling again, for hands-free prompts.
const STANDING_BELOW: RevPerMin = RevPerMin(20.0);
const PEDALLING_ABOVE: RevPerMin = RevPerMin(40.0);
const PEDALLING_FOR: Span = Span::from_secs(3);
/// How much of a step is ridden after settling before a decision may end it.
const LEAST_BEFORE_DECISION: Span = Span::from_secs(30);
/// How much above the resting level power may be for a rest to be over.
const RESTED_FACTOR: f64 = 1.5;

impl Current {
    /// Takes note of a reading that the ending may be waiting for.
    pub(super) fn look(
        &mut self,
        now: Timestamp,
        senses: &Senses,
        last_development_m: Option<f64>,
    ) {
        let so = match self.step.ending {
            Ending::PedallingResumes => {
                let cadence = senses.cadence(now).unwrap_or(RevPerMin::ZERO);
                self.stood_still |= cadence < STANDING_BELOW;
                self.stood_still && cadence >= PEDALLING_ABOVE
            }
            Ending::GearSeen { previous_m } => {
                let asked = self.step.cue.gear.map(|gear| gear.development_m);
                match (asked, senses.development_m(now)) {
                    (Some(asked), Some(measured)) => {
                        gear_is_in(asked, measured, previous_m.zip(last_development_m))
                    }
                    _ => false,
                }
            }
            Ending::Rested { resting, .. } => senses
                .power(now)
                .is_none_or(|power| power <= resting * RESTED_FACTOR),
            Ending::SpeedReached(speed) => senses.speed(now).is_some_and(|now| now >= speed),
            Ending::SpeedBelow { speed, .. } => senses.speed(now).is_some_and(|now| now <= speed),
            _ => return,
        };
        if so {
            self.so_since.get_or_insert(now);
        } else {
            self.so_since = None;
        }
    }

    /// Why the step is over, if it is.
    pub(super) fn ended(&self, now: Timestamp, senses: &Senses) -> Option<StepEnd> {
        let ridden = self.ridden(now);
        let so_for = |span: Span| self.so_since.is_some_and(|since| now >= since + span);
        if self.acknowledged {
            return Some(StepEnd::Complete);
        }
        let reached = match self.step.ending {
            Ending::Time => ridden >= self.limit(),
            Ending::Acknowledged => false,
            Ending::PedallingResumes => {
                so_for(PEDALLING_FOR)
                    && senses
                        .cadence(now)
                        .is_some_and(|cadence| cadence >= PEDALLING_ABOVE)
            }
            Ending::SteadyFor(_) => self.steady_moment().is_some_and(|moment| now >= moment),
            Ending::Decided { at_least } => self.decided && ridden >= at_least,
            Ending::GearSeen { .. } => so_for(GEAR_SEEN_FOR),
            Ending::Rested { at_least, .. } => ridden >= at_least && self.so_since.is_some(),
            Ending::Distance { metres } => self.metres >= metres,
            Ending::SpeedReached(_) => self.so_since.is_some(),
            Ending::SpeedBelow { at_least, .. } => ridden >= at_least && self.so_since.is_some(),
            Ending::ProcedureDone(_) => match &self.procedure {
                Some(Err(because)) => {
                    return Some(StepEnd::ProcedureFailed {
                        because: because.clone(),
                    });
                }
                done => done.is_some(),
            },
        };
        if reached {
            return Some(StepEnd::Complete);
        }
        let nobody_can_see =
            matches!(self.step.ending, Ending::GearSeen { .. }) && !senses.has_speed();
        if nobody_can_see && ridden >= GEAR_UNCHECKED_AFTER {
            return Some(StepEnd::NotChecked);
        }
        (ridden >= self.limit()).then_some(match self.step.kind {
            StepKind::GearChange | StepKind::SpinUp => StepEnd::NotReached,
            _ => StepEnd::LimitReached,
        })
    }

    /// When the gate will have been steady for long enough after settling.
    fn steady_moment(&self) -> Option<Timestamp> {
        match (self.step.ending, self.so_since) {
            (Ending::SteadyFor(span), Some(since)) => {
                Some(since.max(self.moment(self.step.settle)) + span)
            }
            _ => None,
        }
    }

    /// When a decision may end the step at the earliest.
    pub(super) fn decision_moment(&self) -> Timestamp {
        self.moment(self.step.settle + LEAST_BEFORE_DECISION)
    }

    /// The moments at which time alone may end the step.
    pub(super) fn ending_deadlines(&self) -> impl Iterator<Item = Timestamp> {
        let after = |span: Span| self.so_since.map(|since| since + span);
        let own = match self.step.ending {
            Ending::PedallingResumes => after(PEDALLING_FOR),
            Ending::GearSeen { .. } => after(GEAR_SEEN_FOR),
            Ending::SteadyFor(_) => self.steady_moment(),
            Ending::Decided { at_least }
            | Ending::Rested { at_least, .. }
            | Ending::SpeedBelow { at_least, .. } => Some(self.moment(at_least)),
            _ => None,
        };
        let unchecked = match self.step.ending {
            Ending::GearSeen { .. } => Some(self.moment(GEAR_UNCHECKED_AFTER)),
            _ => None,
        };
        let decision = self.decided.then(|| self.decision_moment());
        [Some(self.moment(self.limit())), own, unchecked, decision]
            .into_iter()
            .flatten()
    }
}

/// Whether the measured development is the asked one. Where the rung before was measured, the
/// change is compared, because a device's assumed circumference scales both alike.
fn gear_is_in(asked: f64, measured: f64, before: Option<(f64, f64)>) -> bool {
    match before {
        Some((asked_before, measured_before)) if measured_before > 0.0 => {
            let asked_change = asked / asked_before;
            let tolerance = GEAR_TOLERANCE_OF_CHANGE.min((asked_change - 1.0).abs() / 2.0);
            (measured / measured_before / asked_change - 1.0).abs() <= tolerance.max(0.01)
        }
        _ => (measured / asked - 1.0).abs() <= GEAR_TOLERANCE_ALONE,
    }
}

impl Runner {
    /// Why the current step is over, if it is; an early end needs the operator's earlier consent.
    pub(super) fn step_ended(&self) -> Option<StepEnd> {
        let current = self.current.as_ref()?;
        if let Some(why) = current.ended(self.now, &self.senses) {
            return Some(why);
        }
        let early = self.config.early_end == super::EarlyEnd::WhenDecided
            && current.decided
            && current.step.feeds.wants_steady()
            && self.now >= current.decision_moment();
        early.then_some(StepEnd::Decided)
    }
}

#[cfg(test)]
mod tests {
    use super::gear_is_in;

    /// Developments with a 2.096 m rollout: 39×17 gives 4.81 m, 50×17 gives 6.16 m (teeth ratio
    /// times rollout).
    #[test]
    fn a_gear_is_recognised_by_itself_and_by_its_change() {
        assert!(gear_is_in(4.81, 5.1, None));
        assert!(!gear_is_in(4.81, 6.16, None));
        // A device that assumes a wheel 10 % too large scales both rungs alike.
        assert!(gear_is_in(6.16, 6.16 * 1.1, Some((4.81, 4.81 * 1.1))));
        assert!(!gear_is_in(6.16, 4.81 * 1.1, Some((4.81, 4.81 * 1.1))));
    }
}
