//! Between the bench and the trainer's control point: writes out, news in.

use crate::happening::Happening;
use crate::input::Output;
use crate::machine::{Bench, Evidence};
use crate::model::InstrumentRole;
use crate::procedures::Writer;
use protocol::{Fault, Input, Lost};
use sensor::assigned;
use sensor::control::{ControlEvent, ControlMode, ControlOutput, Demand};
use sensor::stream::{Quantity, Reading};
use units::{Characteristic, Packet, SourceId, Span, Write};

/// The mean of the reported power counts as near its target within this share of it …
const EVIDENCE_SHARE: f64 = 0.05;
/// … or within this, W …
const EVIDENCE_W: f64 = 5.0;
/// … over so long. Our own choice: longer than the rider's unsteadiness, shorter than the 30 s after
/// which a silent link is of no more use.
const EVIDENCE_OVER: Span = Span::from_secs(5);

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
        self.write(source, characteristic, bytes);
    }

    /// Hands bytes out to be written, and says so in the record.
    pub(crate) fn write(
        &mut self,
        source: SourceId,
        characteristic: Characteristic,
        bytes: Vec<u8>,
    ) {
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
            ControlEvent::Confirmed { .. } => {
                self.record.confirmed(now);
                // Some trainers give no control and obey nevertheless.
                self.runner.handle(now, Input::Back(Lost::Control));
            }
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
                // Also where nothing was loaded: only its confirmation tells that control is back.
                self.controller.want(now, Demand::Release);
                self.runner
                    .handle(now, Input::Fault(Fault::Lost(Lost::Control)));
            }
            ControlEvent::Instead { .. }
            | ControlEvent::Unconfirmed { .. }
            | ControlEvent::WriteFailed { .. }
            | ControlEvent::NotKept { .. } => self.notice(now, event.to_string()),
        }
    }

    /// Power that the device reports as evidence for a target that it never confirmed: its mean
    /// over a while is close to the target.
    pub(crate) fn weigh_evidence(&mut self, readings: &[Reading]) {
        let now = self.now;
        let state = self.controller.state();
        let Some(Demand::Power(target)) = state.told.filter(|_| !state.confirmed) else {
            self.evidence = None;
            return;
        };
        let same = |evidence: &Evidence| evidence.target_w == target.get();
        let evidence = self.evidence.take().filter(same);
        let mut evidence = evidence.unwrap_or(Evidence {
            target_w: target.get(),
            since: now,
            sum_w: 0.0,
            count: 0,
        });
        let powers = readings
            .iter()
            .filter(|reading| reading.quantity == Quantity::PowerW);
        for power in powers {
            evidence.sum_w += power.value;
            evidence.count += 1;
        }
        if now - evidence.since < EVIDENCE_OVER || evidence.count == 0 {
            self.evidence = Some(evidence);
            return;
        }
        // This window is over, and another begins if it showed nothing.
        let mean_w = evidence.sum_w / f64::from(evidence.count);
        let near_w = (EVIDENCE_SHARE * evidence.target_w).max(EVIDENCE_W);
        if (mean_w - evidence.target_w).abs() <= near_w {
            self.controller.handle_evidence(now, Demand::Power(target));
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
            // Without a range, what one octet of the control point holds.
            let [lowest, highest] = capabilities.resistance_range().unwrap_or([0.0, 25.5]);
            ControlMode::Resistance { lowest, highest }
        } else {
            ControlMode::Slope
        };
        self.controller.set_mode(mode);
    }
}
