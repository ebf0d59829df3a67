//! What the runner does with what it is told.

use super::Runner;
use super::config::ReadinessRule;
use super::input::{Command, Fault, GateState, Input, Lost};
use super::output::{Answer, EndReason, Output, ReleaseReason, StepEnd};
use super::status::Phase;
use crate::safety;
use crate::step::Ending;
use units::Span;

/// The most a step can be extended altogether.
const MOST_EXTENSION: Span = Span::from_secs(1200);

impl Runner {
    /// Takes one input at the present moment.
    pub(super) fn take(&mut self, input: Input) {
        if self.phase == Phase::Finished {
            return;
        }
        match input {
            Input::Tick => {}
            Input::Start => self.start(),
            Input::Reading(reading) => {
                self.senses.read(self.now, reading);
                self.watch
                    .look(self.now, &self.senses, &self.governor, &self.config.stall);
                if self.phase == Phase::Riding
                    && let Some(current) = &mut self.current
                {
                    current.look(self.now, &self.senses, self.last_development_m);
                }
            }
            Input::Gate(gate) => self.judge_gate(gate),
            Input::Decision(decision) => {
                if let Some(current) = &mut self.current {
                    current.decided = decision == super::DecisionState::Decided;
                }
            }
            Input::Command(command) => self.command(command),
            Input::Fault(fault) => self.fault(fault),
            Input::Back(lost) => {
                self.lost.remove(&lost);
            }
            Input::ProcedureEnded { procedure, outcome } => {
                if let Some(current) = &mut self.current
                    && current.step.ending == Ending::ProcedureDone(procedure)
                {
                    current.procedure = Some(outcome);
                }
            }
        }
    }

    fn start(&mut self) {
        if self.phase != Phase::NotStarted {
            return;
        }
        self.since = self.now;
        match self.config.readiness {
            ReadinessRule::Ask => {
                self.phase = Phase::Readiness;
                self.ask(Answer::Readiness, safety::readiness_text());
            }
            ReadinessRule::AlreadyAccepted => self.begin_run(),
        }
    }

    fn judge_gate(&mut self, gate: GateState) {
        if self.phase != Phase::Riding {
            return;
        }
        let Some(current) = &mut self.current else {
            return;
        };
        if matches!(current.step.ending, Ending::SteadyFor(_)) {
            if gate == GateState::Steady {
                current.so_since.get_or_insert(self.now);
            } else {
                current.so_since = None;
            }
        }
        current.judge_gate(self.now, gate);
    }

    fn command(&mut self, command: Command) {
        match command {
            Command::Mark(text) => self.say(Output::Marker { text }),
            Command::Stop => self.finish(ReleaseReason::Stopped, EndReason::Stopped),
            Command::Pause => {
                if self.phase == Phase::Riding {
                    self.pause(ReleaseReason::Paused);
                }
            }
            Command::Resume => {
                if matches!(self.phase, Phase::Paused(_)) {
                    self.resume_if_possible();
                }
            }
            Command::Skip => match self.phase {
                Phase::Riding | Phase::Paused(_) => {
                    // A paused run stays paused; its question stays as well.
                    let question = self.prompt.clone().filter(|_| self.phase != Phase::Riding);
                    self.end_step_and_go_on(StepEnd::Skipped);
                    self.ask_again(question);
                }
                Phase::CoolDownOffered => {
                    self.finish(ReleaseReason::Complete, EndReason::Complete);
                }
                _ => {}
            },
            Command::Repeat => {
                if matches!(self.phase, Phase::Riding | Phase::Paused(_))
                    && let Some(current) = self.current.take()
                {
                    let question = self.prompt.clone().filter(|_| self.phase != Phase::Riding);
                    let (index, attempt) = (current.index, current.attempt);
                    self.say(Output::StepEnded {
                        index,
                        attempt,
                        why: StepEnd::Repeated,
                    });
                    self.clear_prompt();
                    self.begin_step(index, attempt + 1, current.is_repeat_of_failed);
                    self.ask_again(question);
                }
            }
            Command::Extend(span) => {
                if let Some(current) = &mut self.current {
                    let span = span.max(Span::ZERO);
                    current.extension = (current.extension + span).min(MOST_EXTENSION);
                }
            }
            Command::Acknowledge => self.acknowledge(),
            Command::AcceptReadiness => {
                if self.phase == Phase::Readiness {
                    self.consent(Answer::Readiness);
                    self.begin_run();
                }
            }
        }
    }

    /// Puts a paused run's question back after the step under it changed.
    fn ask_again(&mut self, question: Option<super::PromptView>) {
        if let Some(question) = question
            && matches!(self.phase, Phase::Paused(_))
        {
            self.ask(question.answer, question.text);
        }
    }

    fn acknowledge(&mut self) {
        match self.phase {
            Phase::CoolDownOffered if self.lost.is_empty() => {
                self.consent(Answer::CoolDown);
                self.begin_cool_down();
            }
            Phase::Riding => {
                if let Some(prompt) = &self.prompt {
                    let answer = prompt.answer;
                    self.consent(answer);
                    if let Some(current) = &mut self.current {
                        current.acknowledged = true;
                    }
                }
            }
            _ => {}
        }
    }

    fn consent(&mut self, to: Answer) {
        self.say(Output::Consent { to });
        self.clear_prompt();
    }

    fn resume_if_possible(&mut self) {
        match self.lost.first().copied() {
            Some(lost) => {
                self.clear_prompt();
                self.ask(Answer::Resume, safety::cannot_resume(lost));
            }
            None => {
                self.consent(Answer::Resume);
                self.resume();
            }
        }
    }

    fn fault(&mut self, fault: Fault) {
        let reason = match fault {
            Fault::RecordingFailed(_) => {
                self.finish(ReleaseReason::RecordingFailed, EndReason::RecordingFailed);
                return;
            }
            Fault::Lost(lost) => {
                self.lost.insert(lost);
                ReleaseReason::Lost(lost)
            }
            Fault::Refused(why) => ReleaseReason::Refused(why),
            Fault::BenchStalled => ReleaseReason::BenchStalled,
        };
        if self.phase == Phase::Riding {
            self.pause(reason);
        }
    }

    /// What is lost at present.
    pub fn lost(&self) -> impl Iterator<Item = Lost> + '_ {
        self.lost.iter().copied()
    }
}
