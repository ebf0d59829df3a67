//! What time, a packet, the answer to a write or a lost link does to every procedure that runs.

use crate::machine::Bench;
use crate::procedures::{RELEASED_WITHIN, Running, STILL_WITHIN, Stage, Writer};
use sensor::assigned;
use sensor::fitness_machine::control::{Request, Response, ResultCode, op_code};
use units::{AttError, Characteristic, Packet, SourceId, Span};

impl Bench {
    /// Lets every procedure do what is possible or due now. Gives whether one did anything.
    pub(crate) fn advance_procedures(&mut self) -> bool {
        let now = self.now;
        let mut did = false;
        for _ in 0..self.procedures.running.len() {
            let mut one = self.procedures.running.remove(0);
            match one.stage {
                Stage::Release { since } => {
                    let released = self.controller.is_idle() && self.controller.state().released;
                    if released && self.controller.state().has_control {
                        one.stage = Stage::SpinDown(self.start_spin_down(one.source));
                        did = true;
                    } else if released {
                        self.write_to_trainer(one.source, &Request::RequestControl);
                        one.stage = Stage::Control { asked: now };
                        did = true;
                    } else if now >= since + RELEASED_WITHIN {
                        let words = "it does not confirm that it is released".to_owned();
                        self.procedure_failed(&one, words);
                        did = true;
                        continue;
                    }
                }
                Stage::Control { asked } => {
                    if now >= asked + sensor::control::spin_down::ANSWER_WITHIN {
                        let words = "it does not answer the request for control".to_owned();
                        self.procedure_failed(&one, words);
                        did = true;
                        continue;
                    }
                }
                Stage::SpinDown(ref mut run) => {
                    if let Some(event) = run.handle_time(now) {
                        did = true;
                        // It may still be in the middle of it.
                        self.write_to_trainer(one.source, &Request::Reset);
                        if !self.hear_spin_down(&one, event) {
                            continue;
                        }
                    }
                }
                Stage::StandStill {
                    since,
                    look_at,
                    need,
                } => {
                    if now >= look_at && self.stands_still(one.source) {
                        did = true;
                        self.ask_for_zero(&one, need);
                        continue;
                    } else if now >= since + STILL_WITHIN {
                        did = true;
                        let words = "the cranks did not come to rest within a minute".to_owned();
                        self.procedure_failed(&one, words);
                        continue;
                    } else if now >= look_at {
                        one.stage = Stage::look_again(since, now, need);
                    }
                }
                Stage::Meter(ref mut transaction, _) => {
                    if let Some(event) = transaction.handle_time(now) {
                        did = true;
                        self.hear_meter(one, event);
                        continue;
                    }
                }
            }
            self.procedures.running.push(one);
        }
        if did {
            self.tell_runner();
        }
        did
    }

    /// Takes a packet that a procedure may be waiting for.
    pub(crate) fn hear_procedures(&mut self, packet: &Packet) {
        let mut position = 0;
        while position < self.procedures.running.len() {
            if self.procedures.running[position].source != packet.source {
                position += 1;
                continue;
            }
            let mut one = self.procedures.running.remove(position);
            let goes_on = match &mut one.stage {
                Stage::Control { .. } => match control_answer(packet) {
                    None => true,
                    Some(ResultCode::Success) => {
                        one.stage = Stage::SpinDown(self.start_spin_down(one.source));
                        true
                    }
                    Some(result) => {
                        self.procedure_failed(&one, format!("it refuses control: {result}"));
                        false
                    }
                },
                Stage::SpinDown(run) => match run.handle_packet(packet) {
                    Some(event) => self.hear_spin_down(&one, event),
                    None => true,
                },
                Stage::Meter(transaction, _) => match transaction.handle_packet(packet) {
                    Some(event) => {
                        self.hear_meter(one, event);
                        continue;
                    }
                    None => true,
                },
                Stage::Release { .. } | Stage::StandStill { .. } => true,
            };
            if goes_on {
                self.procedures.running.insert(position, one);
                position += 1;
            }
        }
        self.tell_runner();
    }

    /// Takes the answer to a write, if a procedure wrote it. Gives whether one did.
    pub(crate) fn hear_write_reply(
        &mut self,
        source: SourceId,
        characteristic: Characteristic,
        result: &Result<(), AttError>,
    ) -> bool {
        let to_trainer = characteristic == assigned::FITNESS_MACHINE_CONTROL_POINT;
        if to_trainer && self.writers.pop_front() != Some(Writer::Procedure) {
            return false;
        }
        if !to_trainer && characteristic != assigned::CYCLING_POWER_CONTROL_POINT {
            return false;
        }
        let fits = |one: &Running| {
            one.source == source
                && match one.stage {
                    Stage::Control { .. } | Stage::SpinDown(_) => to_trainer,
                    Stage::Meter(..) => !to_trainer,
                    Stage::Release { .. } | Stage::StandStill { .. } => false,
                }
        };
        if let Some(position) = self.procedures.running.iter().position(fits) {
            let mut one = self.procedures.running.remove(position);
            let goes_on = match (&mut one.stage, result) {
                (Stage::Control { .. }, Err(error)) => {
                    self.procedure_failed(&one, format!("control could not be asked for: {error}"));
                    false
                }
                (Stage::SpinDown(run), result) => match run.handle_write_result(result) {
                    Some(event) => self.hear_spin_down(&one, event),
                    None => true,
                },
                (Stage::Meter(transaction, _), result) => {
                    match transaction.handle_write_result(result) {
                        Some(event) => {
                            self.hear_meter(one, event);
                            self.tell_runner();
                            return true;
                        }
                        None => true,
                    }
                }
                _ => true,
            };
            if goes_on {
                self.procedures.running.insert(position, one);
            }
            self.tell_runner();
        }
        true
    }

    /// The link to an instrument is gone, and every procedure with it.
    pub(crate) fn procedures_lose_link(&mut self, source: SourceId) {
        while let Some(position) = self
            .procedures
            .running
            .iter()
            .position(|one| one.source == source)
        {
            let one = self.procedures.running.remove(position);
            self.procedure_failed(&one, "the link was lost".to_owned());
        }
        self.tell_runner();
    }
}

fn control_answer(packet: &Packet) -> Option<ResultCode> {
    if packet.characteristic != assigned::FITNESS_MACHINE_CONTROL_POINT {
        return None;
    }
    let response = Response::decode(&packet.bytes).ok()?.value;
    (response.request_op == op_code::REQUEST_CONTROL).then_some(response.result)
}

/// The longest any of it takes by itself; the limits of a step are the script's.
const _: () = assert!(STILL_WITHIN.as_nanos() < Span::from_secs(300).as_nanos());
