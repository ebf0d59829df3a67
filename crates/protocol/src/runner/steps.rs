//! Beginning and ending steps, pausing, and the end of the run.

use super::Runner;
use super::config::GateRepeat;
use super::current::Current;
use super::guard::Guard;
use super::output::{Answer, EndReason, Output, ReleaseReason, StepEnd};
use super::status::Phase;
use crate::feeds::Feeds;
use crate::load::{Cue, Pedalling};
use crate::safety;
use crate::script::Place;
use crate::step::{Ending, Length, Load, PlannedStep, StepKind};
use units::{Span, Watts};

/// A cool-down at least this long settles what hard steps owe.
const ENOUGH_COOL_DOWN: Span = Span::from_secs(180);
/// The cool-down that is offered.
const OFFERED_COOL_DOWN: Span = Span::from_secs(300);
const OFFERED_COOL_DOWN_W: f64 = 80.0;

impl Runner {
    /// Begins the first step.
    pub(super) fn begin_run(&mut self) {
        self.phase = Phase::Riding;
        self.begin_step(0, 1, false);
    }

    /// Begins a step, or ends the run if there is no such step. While paused the step begins
    /// without load and without cue; both come when somebody resumes.
    pub(super) fn begin_step(&mut self, index: usize, attempt: u32, is_repeat_of_failed: bool) {
        let Some(step) = self.plan.steps.get(index).cloned() else {
            self.current = None;
            self.steps_are_over();
            return;
        };
        self.say(Output::StepBegan { index, attempt });
        let offered = self
            .config
            .range
            .cap(step.target_at(Span::ZERO, 0.0))
            .is_some();
        let mut current = Current::new(index, attempt, step, self.now, &self.senses);
        current.is_repeat_of_failed = is_repeat_of_failed;
        if !offered {
            self.current = Some(current);
            self.end_step_and_go_on(StepEnd::NotOffered);
            return;
        }
        if matches!(self.phase, Phase::Paused(_)) {
            current.pause(self.now);
            self.current = Some(current);
        } else {
            self.current = Some(current);
            self.present_step();
        }
    }

    /// Tells the rider what to do, asks what the step asks, starts its procedure.
    pub(super) fn present_step(&mut self) {
        let Some(current) = &mut self.current else {
            return;
        };
        current.look(self.now, &self.senses, self.last_development_m);
        let step = &current.step;
        let (cue, ending) = (step.cue.clone(), step.ending);
        self.watch.cued(cue.cadence, self.now);
        self.cue = Some(cue.clone());
        let text = cue.text.clone();
        self.say(Output::Cue(cue));
        match ending {
            Ending::Acknowledged => self.ask(Answer::Acknowledge, text),
            Ending::PedallingResumes => self.ask(Answer::Pedal, text),
            Ending::GearSeen { .. } => self.ask(Answer::Gear, text),
            Ending::ProcedureDone(procedure) => self.say(Output::StartProcedure(procedure)),
            _ => {}
        }
    }

    /// Ends the current step and begins what follows: the same step once more if its gate failed
    /// for the first time, else the next.
    pub(super) fn end_step_and_go_on(&mut self, why: StepEnd) {
        let Some(mut current) = self.current.take() else {
            return;
        };
        let why = self.judged(&mut current, why);
        self.note_end(&current, &why);
        self.say(Output::StepEnded {
            index: current.index,
            attempt: current.attempt,
            why: why.clone(),
        });
        self.clear_prompt();

        let (index, attempt) = (current.index, current.attempt);
        let may_repeat =
            !current.is_repeat_of_failed && self.config.repeat_failed_gate == GateRepeat::Once;
        match why {
            StepEnd::GateFailed { .. } | StepEnd::NotReached if may_repeat => {
                self.begin_step(index, attempt + 1, true);
            }
            StepEnd::NotReached => {
                // What comes next depends on the aim that was missed.
                let depends = self.plan.steps.get(index + 1).map(|step| step.kind);
                if matches!(depends, Some(StepKind::FlywheelRung | StepKind::CoastDown)) {
                    self.say(Output::StepBegan {
                        index: index + 1,
                        attempt: 1,
                    });
                    let why = StepEnd::NotPossible;
                    self.say(Output::StepEnded {
                        index: index + 1,
                        attempt: 1,
                        why,
                    });
                    self.begin_step(index + 2, 1, false);
                } else {
                    self.begin_step(index + 1, 1, false);
                }
            }
            StepEnd::LimitReached if current.step.kind == StepKind::Prompt => {
                self.finish(ReleaseReason::NobodyAnswered, EndReason::NobodyAnswered);
            }
            StepEnd::LimitReached if current.step.kind == StepKind::BurstRest => {
                self.begin_step(index + 1, 1, false);
                if self.phase == Phase::Riding {
                    self.pause(ReleaseReason::NotRested);
                }
            }
            _ => self.begin_step(index + 1, 1, false),
        }
    }

    /// A step that was ridden to its end but cannot be judged has failed its gate.
    fn judged(&mut self, current: &mut Current, why: StepEnd) -> StepEnd {
        let ridden_out = matches!(why, StepEnd::Complete | StepEnd::Decided);
        if !ridden_out || !current.step.feeds.wants_steady() {
            return why;
        }
        if let Some(because) = &self.invalid {
            current.spoil(self.now, because);
        }
        match current.failed_gate(self.now) {
            Some(because) => StepEnd::GateFailed { because },
            None => why,
        }
    }

    /// Remembers what later steps and the end of the run need to know.
    fn note_end(&mut self, current: &Current, why: &StepEnd) {
        let step = &current.step;
        if step.kind == StepKind::FlywheelRung {
            self.last_development_m = self.senses.development_m(self.now);
        }
        let ridden = current.ridden(self.now);
        let share = self.config.rider_ceiling * self.config.hard_share;
        let hard_w = self.config.hard_from.unwrap_or(share).get();
        let asked = step
            .planned_power()
            .map_or(0.0, |(from, to)| from.max(to).get());
        if step.kind == StepKind::CoolDown {
            self.owes_cool_down &= ridden < ENOUGH_COOL_DOWN;
        } else if (step.kind == StepKind::Burst || asked >= hard_w)
            && *why != StepEnd::NotOffered
            && ridden > Span::ZERO
        {
            self.owes_cool_down = true;
        }
    }

    /// After the last step: offers a cool-down if a hard step was not followed by one.
    fn steps_are_over(&mut self) {
        if !self.owes_cool_down || self.phase != Phase::Riding || !self.lost.is_empty() {
            self.finish(ReleaseReason::Complete, EndReason::Complete);
            return;
        }
        self.say(Output::Release {
            reason: ReleaseReason::Complete,
        });
        self.governor.released();
        self.watch.forget();
        self.guard = Guard::Watching;
        self.valid_again();
        self.phase = Phase::CoolDownOffered;
        self.since = self.now;
        self.ask(Answer::CoolDown, safety::COOL_DOWN_OFFER.to_owned());
    }

    /// Adds the offered cool-down to the plan and begins it.
    pub(super) fn begin_cool_down(&mut self) {
        self.owes_cool_down = false;
        let index = self.plan.steps.len();
        let power = Watts(OFFERED_COOL_DOWN_W);
        self.plan.steps.push(PlannedStep {
            index,
            title: "cool down".to_owned(),
            kind: StepKind::CoolDown,
            load: Load::Power {
                from: power,
                to: power * 0.5,
            },
            length: Length::Fixed(OFFERED_COOL_DOWN),
            ending: Ending::Time,
            settle: Span::ZERO,
            feeds: Feeds::Nothing,
            cue: Cue {
                pedalling: Pedalling::Easily,
                cadence: None,
                gear: None,
                speed: None,
                effort: None,
                text: "cool down: keep the legs turning, easily".to_owned(),
            },
            place: Place::START,
        });
        self.phase = Phase::Riding;
        self.begin_step(index, 1, false);
    }

    /// Takes the load off and waits for somebody to resume.
    pub(super) fn pause(&mut self, reason: ReleaseReason) {
        self.say(Output::Release {
            reason: reason.clone(),
        });
        self.governor.released();
        self.watch.forget();
        self.guard = Guard::Watching;
        if let Some(current) = &mut self.current {
            current.pause(self.now);
        }
        self.invalid_from(reason.to_string());
        self.clear_prompt();
        self.phase = Phase::Paused(reason.clone());
        self.since = self.now;
        self.ask(Answer::Resume, safety::resume_question(&reason));
    }

    /// Goes on from low load.
    pub(super) fn resume(&mut self) {
        let Some(current) = &mut self.current else {
            return;
        };
        current.resume(self.now);
        self.phase = Phase::Riding;
        let from = self.config.low_load;
        self.guard = Guard::ComingBack {
            from,
            since: self.now,
        };
        self.present_step();
    }

    /// Takes the load off for good.
    pub(super) fn finish(&mut self, reason: ReleaseReason, why: EndReason) {
        if let Some(current) = self.current.take() {
            let (index, attempt) = (current.index, current.attempt);
            self.say(Output::StepEnded {
                index,
                attempt,
                why: StepEnd::RunEnded,
            });
        }
        self.clear_prompt();
        self.say(Output::Release { reason });
        self.governor.released();
        self.watch.forget();
        self.guard = Guard::Watching;
        self.valid_again();
        self.phase = Phase::Finished;
        self.ended = Some(why.clone());
        self.say(Output::Finished { why });
    }
}
