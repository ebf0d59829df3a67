//! What time does: deadlines, and everything that follows from the present state.

use super::Runner;
use super::guard::{Alarm, Guard};
use super::output::{EndReason, Output, ReleaseReason};
use super::status::Phase;
use crate::load::Target;
use units::{Span, Timestamp};

/// How long an offered cool-down waits for an answer.
const COOL_DOWN_OFFERED_FOR: Span = Span::from_secs(60);

impl Runner {
    /// The next moment at which time alone changes something; always later than the present.
    pub(super) fn next_deadline(&self) -> Option<Timestamp> {
        let after_now = |moment: &Timestamp| *moment > self.now;
        match self.phase {
            Phase::NotStarted | Phase::Finished => None,
            Phase::Readiness | Phase::Paused(_) => {
                Some(self.since + self.config.answer_limit).filter(after_now)
            }
            Phase::CoolDownOffered => Some(self.since + COOL_DOWN_OFFERED_FOR).filter(after_now),
            Phase::Riding => {
                let current = self.current.as_ref()?;
                let changes = current.step.target_varies();
                let by_distance = matches!(current.step.ending, crate::Ending::Distance { .. });
                let second = (changes || by_distance).then(|| current.next_second(self.now));
                let guard = self.guard.deadline(self.now, self.config.stall.ramp_back);
                current
                    .ending_deadlines()
                    .chain(self.watch.deadlines(&self.senses))
                    .chain(second)
                    .chain(guard)
                    .chain(self.governor.deadline())
                    .filter(after_now)
                    .min()
            }
        }
    }

    /// Brings everything up to the present. Doing it twice changes nothing.
    pub(super) fn advance(&mut self) {
        loop {
            match self.phase {
                Phase::NotStarted | Phase::Finished => return,
                Phase::Readiness | Phase::Paused(_) => {
                    if self.now >= self.since + self.config.answer_limit {
                        self.finish(ReleaseReason::NobodyAnswered, EndReason::NobodyAnswered);
                    }
                    return;
                }
                Phase::CoolDownOffered => {
                    if self.now >= self.since + COOL_DOWN_OFFERED_FOR {
                        self.finish(ReleaseReason::Complete, EndReason::Complete);
                    }
                    return;
                }
                Phase::Riding => {}
            }
            if let Some(current) = &mut self.current {
                current.at_second(self.now, &self.senses);
            }
            if self.heed_alarm() {
                continue;
            }
            if let Some(why) = self.step_ended() {
                self.end_step_and_go_on(why);
                continue;
            }
            // A new target is a new situation for the guard.
            if !self.drive() {
                return;
            }
        }
    }

    /// Does what the guard wants; whether that changed the phase or the guard.
    fn heed_alarm(&mut self) -> bool {
        let Some(current) = &self.current else {
            return false;
        };
        let alarm = self.watch.alarm(
            self.now,
            self.guard,
            (&self.senses, &self.governor),
            (&self.config.stall, current),
        );
        match alarm {
            Alarm::None => return false,
            Alarm::Ease => {
                let cap = self.governor.sent_power() * self.config.stall.eased_share;
                self.guard = Guard::Eased {
                    cap,
                    since: self.now,
                };
                self.watch.eased();
                self.invalid_from("the cadence fell under load and the target was eased".into());
            }
            Alarm::ComeBack => {
                let from = self.governor.sent_power();
                self.guard = Guard::ComingBack {
                    from,
                    since: self.now,
                };
            }
            Alarm::Back => {
                self.guard = Guard::Watching;
                self.valid_again();
            }
            Alarm::Release(because) => self.pause(because.into()),
        }
        true
    }

    /// Sends the target of the present, as far as guard, caps and rise limit allow; whether there
    /// was anything to send.
    fn drive(&mut self) -> bool {
        let Some(current) = &self.current else {
            return false;
        };
        let wish = match current.planned {
            Target::Power(power) => Target::Power(self.guard.allows(
                power.min(self.config.rider_ceiling),
                self.now,
                self.config.stall.ramp_back,
            )),
            other => other,
        };
        let Some(target) = self.governor.towards(wish, self.now) else {
            return false;
        };
        self.watch
            .load(self.now, self.guard, &self.governor, &self.config.stall);
        self.say(Output::SetTarget(target));
        true
    }
}
