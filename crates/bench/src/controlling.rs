//! Between the bench and the trainer's control point: writes out, news in.

use crate::calibrating::Writer;
use crate::happening::Happening;
use crate::input::Output;
use crate::machine::Bench;
use crate::model::InstrumentRole;
use protocol::{Fault, Input, Lost};
use sensor::assigned;
use sensor::control::{ControlEvent, ControlMode, ControlOutput};
use units::{Packet, Write};

impl Bench {
    /// Passes on what the controller wants written, and takes in what the conversation came to.
    /// Gives whether it said anything.
    pub(crate) fn drain_controller(&mut self) -> bool {
        let mut spoke = false;
        while let Some(output) = self.controller.poll_output() {
            spoke = true;
            match output {
                ControlOutput::Write(bytes) => self.write_control(bytes),
                ControlOutput::Event(event) => self.control_event(&event),
            }
        }
        spoke
    }

    fn write_control(&mut self, bytes: Vec<u8>) {
        let Some(index) = self.position(InstrumentRole::UnderTest) else {
            return;
        };
        let source = self.instruments[index].plan().id;
        let characteristic = assigned::FITNESS_MACHINE_CONTROL_POINT;
        self.writers.push_back(Writer::Controller);
        let hex = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
        self.event(
            self.now,
            Happening::Write {
                source: source.0,
                characteristic: characteristic.to_string(),
                bytes: hex,
            },
        );
        self.outputs.push_back(Output::Write(Write {
            source,
            characteristic,
            bytes,
        }));
    }

    fn control_event(&mut self, event: &ControlEvent) {
        let now = self.now;
        self.brake.answer = event.to_string();
        self.event(
            now,
            Happening::Control {
                words: event.to_string(),
            },
        );
        match event {
            ControlEvent::Confirmed { .. } => self.record.confirmed(now),
            ControlEvent::Granted => self.runner.handle(now, Input::Back(Lost::Control)),
            ControlEvent::Refused { asked, answer } => {
                self.notice(now, event.to_string());
                if !self.load_is_off {
                    let words = format!("{asked}: {answer}");
                    self.runner.handle(now, Input::Fault(Fault::Refused(words)));
                }
            }
            ControlEvent::Lost { .. } | ControlEvent::TimedOut => {
                self.notice(now, event.to_string());
                self.runner
                    .handle(now, Input::Fault(Fault::Lost(Lost::Control)));
            }
            ControlEvent::Unconfirmed { .. }
            | ControlEvent::WriteFailed { .. }
            | ControlEvent::NotKept { .. } => self.notice(now, event.to_string()),
        }
    }

    /// How the trainer is unloaded follows from what it says it can do; target power first, then
    /// resistance, then slope.
    pub(crate) fn adopt_capabilities(&mut self, index: usize, packet: &Packet) {
        let about_control = [
            assigned::FITNESS_MACHINE_FEATURE,
            assigned::SUPPORTED_POWER_RANGE,
            assigned::SUPPORTED_RESISTANCE_LEVEL_RANGE,
        ];
        if !about_control.contains(&packet.characteristic) {
            return;
        }
        let capabilities = self.instruments[index].capabilities();
        if capabilities.fitness_machine().is_none() {
            return;
        }
        let mode = if capabilities.can_set_power() {
            let lowest_w = capabilities
                .power_range_w()
                .map_or(0.0, |[lowest, _]| lowest);
            ControlMode::Power {
                lowest_w: lowest_w as i16,
            }
        } else if capabilities.can_set_resistance() {
            let lowest = capabilities
                .resistance_range()
                .map_or(0.0, |[lowest, _]| lowest);
            ControlMode::Resistance { lowest }
        } else {
            ControlMode::Slope
        };
        self.controller.set_mode(mode);
    }
}
