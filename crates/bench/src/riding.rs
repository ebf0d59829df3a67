//! Between the bench and the runner: readings in, targets and steps out.

use crate::happening::Happening;
use crate::input::Output as BenchOutput;
use crate::machine::{Awaiting, Bench};
use crate::model::InstrumentRole;
use crate::procedures::Which;
use analysis::evidence::Load;
use protocol::{Answer, Instrument, Output, Target};
use sensor::control::Demand;
use sensor::stream::{Quantity, Reading};
use units::{MetresPerSecond, RevPerMin, Timestamp, Watts};

impl Bench {
    /// Hands an instrument's readings to the runner: only the main stream of the device under test
    /// and of the primary reference, and cadence from whichever of them reports it.
    pub(crate) fn pass_on(&mut self, index: usize, readings: &[Reading]) {
        let instrument = match self.instruments[index].plan().role {
            InstrumentRole::UnderTest => Instrument::UnderTest,
            InstrumentRole::PrimaryReference => Instrument::Reference,
            InstrumentRole::SecondReference | InstrumentRole::Witness => return,
        };
        let main = self.instruments[index].main();
        for reading in readings
            .iter()
            .filter(|reading| Some(reading.origin) == main)
        {
            let quantity = match reading.quantity {
                Quantity::PowerW => protocol::Quantity::Power(Watts(reading.value)),
                Quantity::CadenceRpm => protocol::Quantity::Cadence(RevPerMin(reading.value)),
                Quantity::SpeedKmh => protocol::Quantity::Speed(
                    MetresPerSecond::from_kilometres_per_hour(reading.value),
                ),
                _ => continue,
            };
            let reading = protocol::Reading {
                instrument,
                quantity,
            };
            self.runner
                .handle(self.now, protocol::Input::Reading(reading));
        }
    }

    /// Does and records what the runner asks for. Gives whether it said anything.
    pub(crate) fn drain_runner(&mut self) -> bool {
        let mut spoke = false;
        while let Some((at, output)) = self.runner.poll_output() {
            spoke = true;
            self.carry_out(at, output);
        }
        spoke
    }

    fn carry_out(&mut self, at: Timestamp, output: Output) {
        match output {
            Output::SetTarget(target) => self.set_target(at, target),
            Output::Release { reason } => {
                self.release(at, &reason.to_string());
                self.notice(at, format!("brake released: {reason}"));
            }
            Output::Cue(cue) => {
                self.event(
                    at,
                    Happening::Cue {
                        words: cue.text.clone(),
                    },
                );
                self.outputs.push_back(BenchOutput::Cue(cue));
            }
            Output::StepBegan { index, attempt } => {
                self.awaiting = self.awaiting.filter(|waits| *waits != Awaiting::Start);
                let planned = self.runner.plan().steps[index].clone();
                self.record.begin_step(at, &planned, attempt);
                if (index, attempt) == (0, 1)
                    && let Some(words) = self.judge.early_end_words()
                {
                    self.notice(at, words);
                }
                self.event(
                    at,
                    Happening::StepBegan {
                        index,
                        attempt,
                        title: planned.title,
                    },
                );
            }
            Output::StepEnded {
                index,
                attempt,
                why,
            } => {
                self.break_off(at, Which::OfStep, "the step ended");
                self.record.end_step(at);
                self.event(
                    at,
                    Happening::StepEnded {
                        index,
                        attempt,
                        why: why.to_string(),
                    },
                );
            }
            Output::Prompt { text, answer } => {
                self.awaiting = Some(awaiting(answer));
                self.event(at, Happening::Cue { words: text });
            }
            Output::PromptCleared => self.awaiting = None,
            Output::Consent { to } => {
                self.event(
                    at,
                    Happening::Consent {
                        to: format!("{to:?}").to_lowercase(),
                    },
                );
            }
            Output::InvalidFrom { because } => {
                self.event(
                    at,
                    Happening::InvalidFrom {
                        reason: because.clone(),
                    },
                );
                self.record.invalid_from(at, because);
            }
            Output::ValidAgain => {
                self.event(at, Happening::ValidAgain);
                self.record.valid_again(at);
            }
            Output::Marker { text } => self.event(at, Happening::Mark { words: text }),
            Output::StartProcedure(procedure) => self.start_procedure(at, procedure),
            Output::Finished { why } => {
                self.record.end_step(at);
                self.release(at, "the session is over");
                self.ended = Some(why.to_string());
                self.event(
                    at,
                    Happening::Ended {
                        reason: why.to_string(),
                    },
                );
            }
        }
    }

    fn set_target(&mut self, at: Timestamp, target: Target) {
        let (demand, load) = match target {
            Target::Power(power) => (Demand::Power(power), Load::PowerW(power.get())),
            Target::Resistance(level) => (Demand::ResistanceLevel(level), Load::Resistance(level)),
            Target::Slope(slope) => (
                Demand::Slope {
                    grade_pct: slope.grade_pct,
                    wind_m_per_s: slope.wind_m_per_s,
                    crr: slope.crr,
                    cw_kg_per_m: slope.cw_kg_per_m,
                },
                Load::Slope {
                    grade_pct: slope.grade_pct,
                    wind_m_per_s: slope.wind_m_per_s,
                    crr: slope.crr,
                    cw_kg_per_m: slope.cw_kg_per_m,
                },
            ),
            Target::Free => {
                self.free(at);
                return;
            }
        };
        let power_w = if let Target::Power(power) = target {
            Some(power.get())
        } else {
            None
        };
        self.break_off(at, Which::All, "a load was asked for");
        self.load_is_off = false;
        self.record.command(at, load);
        self.judge.command(at, power_w);
        if let Some(power_w) = power_w {
            self.target_w.push(at, power_w);
        }
        self.brake.told = target.to_string();
        self.event(
            at,
            Happening::Target {
                words: target.to_string(),
                power_w,
            },
        );
        self.controller.want(at.max(self.now), demand);
    }

    /// A planned stretch without load: the rider goes on, nothing is invalid.
    fn free(&mut self, at: Timestamp) {
        self.record.command(at, Load::Released);
        self.judge.command(at, None);
        self.brake.told = "no load".to_owned();
        self.event(
            at,
            Happening::Target {
                words: "no load".to_owned(),
                power_w: None,
            },
        );
        self.controller.want(at.max(self.now), Demand::Release);
    }

    /// Takes the load off and remembers why.
    pub(crate) fn release(&mut self, at: Timestamp, reason: &str) {
        self.break_off(at, Which::All, reason);
        self.record.released(at, reason.to_owned());
        self.judge.command(at, None);
        self.brake.told = "released".to_owned();
        if !self.load_is_off {
            self.event(
                at,
                Happening::Release {
                    reason: reason.to_owned(),
                },
            );
            self.target_w.push(at, 0.0);
        }
        self.load_is_off = true;
        self.controller.want(at.max(self.now), Demand::Release);
    }
}

fn awaiting(answer: Answer) -> Awaiting {
    match answer {
        Answer::Readiness => Awaiting::Cautions,
        Answer::Acknowledge | Answer::Pedal | Answer::Gear => Awaiting::Acknowledgement,
        Answer::Resume => Awaiting::Resume,
        Answer::CoolDown => Awaiting::CoolDown,
    }
}
