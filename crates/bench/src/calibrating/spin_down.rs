//! The spin-down of a trainer: it is asked to begin when it is released and ours to control, and
//! says when to pedal up and when to let it run.

use super::telling::News;
use crate::machine::Bench;
use crate::procedures::{AskedBy, Running, SPIN_DOWN, Stage, Writer};
use protocol::Pedalling;
use sensor::assigned;
use sensor::control::{SpinDown, SpinDownEvent};
use sensor::fitness_machine::control::Request;
use sensor::fitness_machine::status::{SpinDownStatus, Status};
use units::{MetresPerSecond, Packet, SourceId, Timestamp};

/// How far above the trainer's higher speed the rider is asked to go, so that it is surely passed.
const ABOVE_HIGH: f64 = 1.08;

impl Bench {
    pub(super) fn begin_spin_down(&mut self, at: Timestamp, source: SourceId, asked_by: AskedBy) {
        let running = Running {
            source,
            asked_by,
            stage: Stage::Release { since: at },
        };
        let offered = self
            .instruments
            .iter()
            .find(|one| one.plan().id == source)
            .is_some_and(|one| one.capabilities().can_spin_down());
        if !offered {
            self.procedure_failed(&running, "it does not offer a spin-down".to_owned());
            return;
        }
        if asked_by == AskedBy::Operator {
            self.controller.want(at, sensor::control::Demand::Release);
        }
        self.procedures.running.push(running);
    }

    pub(super) fn start_spin_down(&mut self, source: SourceId) -> SpinDown {
        let (run, bytes) = SpinDown::start(self.now);
        let words = "asked to begin".to_owned();
        self.tell_of(source, &News::plain(SPIN_DOWN, "begun", words));
        self.writers.push_back(Writer::Procedure);
        self.write(source, assigned::FITNESS_MACHINE_CONTROL_POINT, bytes);
        run
    }

    pub(super) fn write_to_trainer(&mut self, source: SourceId, request: &Request) {
        self.writers.push_back(Writer::Procedure);
        let point = assigned::FITNESS_MACHINE_CONTROL_POINT;
        self.write(source, point, request.encode());
    }

    /// A trainer may ask for a spin-down by itself; whether it gets one is the operator's choice.
    pub(crate) fn hear_wish(&mut self, packet: &Packet) {
        if packet.characteristic != assigned::FITNESS_MACHINE_STATUS {
            return;
        }
        let wishes = Status::decode(&packet.bytes)
            .is_ok_and(|status| status.value == Status::SpinDown(SpinDownStatus::Requested));
        if wishes && !self.procedures.spins_down() {
            let words = "asks for a spin-down".to_owned();
            self.tell_of(packet.source, &News::plain(SPIN_DOWN, "wanted", words));
        }
    }

    /// What a spin-down says. Gives whether it goes on.
    pub(super) fn hear_spin_down(&mut self, one: &Running, event: SpinDownEvent) -> bool {
        let now = self.now;
        match event {
            SpinDownEvent::Speeds { low_kmh, high_kmh } => {
                let words = match (low_kmh, high_kmh) {
                    (Some(low), Some(high)) => format!(
                        "pedal up above {high:.1}\u{a0}km/h; when told to, stop and let it run \
                         down to {low:.1}\u{a0}km/h"
                    ),
                    _ => "pedal up until told to stop, then let it run down".to_owned(),
                };
                for (state, speed) in [("low speed", low_kmh), ("high speed", high_kmh)] {
                    if speed.is_some() {
                        let news = News {
                            value: speed,
                            unit: Some("km/h"),
                            ..News::plain(SPIN_DOWN, state, words.clone())
                        };
                        self.record_of(now, one.source, &news);
                    }
                }
                self.tell_of(
                    one.source,
                    &News::plain(SPIN_DOWN, "accelerate", words.clone()),
                );
                let speed = high_kmh
                    .map(|high| MetresPerSecond::from_kilometres_per_hour(high * ABOVE_HIGH));
                self.cue_rider(now, Pedalling::Easily, speed, &words);
                true
            }
            SpinDownEvent::StopPedalling => {
                let words = "stop pedalling and let it run down; keep clear of the flywheel";
                let news = News::plain(SPIN_DOWN, "stop pedalling", words.to_owned());
                self.tell_of(one.source, &news);
                self.cue_rider(now, Pedalling::Stop, None, words);
                true
            }
            SpinDownEvent::Succeeded => {
                let words = "succeeded".to_owned();
                self.tell_of(one.source, &News::plain(SPIN_DOWN, "succeeded", words));
                self.procedure_is_over();
                false
            }
            SpinDownEvent::Failed { reason } => {
                self.procedure_failed(one, reason);
                false
            }
        }
    }
}
