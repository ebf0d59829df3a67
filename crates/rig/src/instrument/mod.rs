//! One simulated instrument, whatever its kind, with its clock, its failures and its link.

mod linking;
mod making;
mod reporting;
mod schedule;
mod writing;

use crate::cadence::CadenceSensor;
use crate::control::SpinDownEvent;
use crate::link::Link;
use crate::meter::Meter;
use crate::signal::Signal;
use crate::spec::InstrumentSpec;
use crate::step::StepView;
use crate::strap::Strap;
use crate::trainer::Trainer;
use crate::truth::Fault;
use crate::upsets::{Pedalling, Upsets};
use schedule::Schedule;
use sensor::assigned;
use sensor::fitness_machine::status::{SpinDownStatus, Status};
use units::{Characteristic, SourceId, Span, Timestamp};

/// An instrument of the rig.
#[derive(Clone, Debug)]
pub(crate) struct Instrument {
    pub(crate) id: SourceId,
    pub(crate) spec: InstrumentSpec,
    pub(crate) kind: Kind,
    pub(crate) link: Link,
    upsets: Upsets,
    indications: Indications,
    schedules: Vec<Schedule>,
    /// Moments at which another controller takes over, from the first connection, the next last.
    takeovers: Vec<Span>,
    outbox: Vec<(Timestamp, Characteristic, Vec<u8>)>,
}

/// The kind of an instrument.
#[derive(Clone, Debug)]
pub(crate) enum Kind {
    Trainer(Box<Trainer>),
    Meter(Box<Meter>),
    Cadence(Box<CadenceSensor>),
    HeartRate(Box<Strap>),
}

/// Whether a client has asked for the indications of a control point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Indications {
    /// It has.
    On,
    /// It has not; a conforming device refuses writes then.
    Off,
}

impl Instrument {
    /// What the last step would ideally be indicated as, W; zero where no power is measured.
    pub(crate) fn ideal_w(&self) -> f64 {
        self.signal().map_or(0.0, Signal::ideal_w)
    }

    /// The power it indicates, if it measures power.
    pub(crate) fn signal(&self) -> Option<&Signal> {
        match &self.kind {
            Kind::Trainer(trainer) => Some(&trainer.signal),
            Kind::Meter(meter) => Some(&meter.signal),
            Kind::Cadence(_) | Kind::HeartRate(_) => None,
        }
    }

    /// Whether another controller takes over by plan at this moment; each moment once.
    pub(crate) fn takeover_due(&mut self, now: Timestamp) -> bool {
        self.next_takeover()
            .is_some_and(|at| now >= at && self.takeovers.pop().is_some())
    }

    fn next_takeover(&self) -> Option<Timestamp> {
        Some(self.link.connected_since()? + *self.takeovers.last()?)
    }

    /// Another controller takes control and everybody is told; whether this is a trainer.
    pub(crate) fn taken_over(&mut self, now: Timestamp) -> bool {
        let Kind::Trainer(trainer) = &mut self.kind else {
            return false;
        };
        let status = trainer.control.taken_over();
        if self.link.is_up() {
            self.outbox
                .push((now, assigned::FITNESS_MACHINE_STATUS, status.encode()));
        }
        true
    }

    /// The device is switched off and on: what it counts begins at zero.
    pub(crate) fn restart(&mut self, now: Timestamp) {
        let now_s = now.as_secs_f64();
        match &mut self.kind {
            Kind::Meter(meter) => meter.restart(now_s),
            Kind::Cadence(sensor) => sensor.restart(now_s),
            Kind::Trainer(_) | Kind::HeartRate(_) => {}
        }
    }

    /// Asks for the control point's indications, or stops asking.
    pub(crate) fn set_indications(&mut self, indications: Indications) {
        self.indications = indications;
    }

    /// Takes in one step of the physics.
    pub(crate) fn absorb(&mut self, step: &StepView, faults: &mut Vec<Fault>) {
        let source = self.id;
        match &mut self.kind {
            Kind::Trainer(trainer) => {
                trainer.absorb(step);
                let event = trainer
                    .control
                    .step(step.step_s, step.speed_kmh, step.flow.crank_w);
                if let Some(event) = event {
                    if event == SpinDownEvent::Success {
                        let pct = trainer.signal.forget_drift();
                        faults.push(Fault::DriftZeroed {
                            source,
                            at: step.ends,
                            pct,
                        });
                    }
                    let value = match event {
                        SpinDownEvent::StopPedalling => SpinDownStatus::StopPedaling,
                        SpinDownEvent::Success => SpinDownStatus::Success,
                        SpinDownEvent::Error => SpinDownStatus::Error,
                    };
                    let bytes = Status::SpinDown(value).encode();
                    self.outbox
                        .push((step.ends, assigned::FITNESS_MACHINE_STATUS, bytes));
                }
            }
            Kind::Meter(meter) => {
                if let Some(torque_nm) = meter.absorb(step) {
                    faults.push(Fault::Zero {
                        source,
                        at: step.ends,
                        torque_nm,
                    });
                }
                if let Some((answer, zero_nm)) = meter.compensated(step.ends) {
                    self.outbox
                        .push((step.ends, assigned::CYCLING_POWER_CONTROL_POINT, answer));
                    if let Some(torque_nm) = zero_nm {
                        faults.push(Fault::Zero {
                            source,
                            at: step.ends,
                            torque_nm,
                        });
                    }
                }
            }
            Kind::Cadence(sensor) => sensor.absorb(step),
            Kind::HeartRate(strap) => strap.absorb(step),
        }
        let works = step.flow.crank_w > 20.0 && step.flow.crank_rad_per_s > 3.2;
        let pedalling = if works { Pedalling::Yes } else { Pedalling::No };
        if let Some(begun) = self.upsets.step(step.ends, step.step_s, pedalling) {
            let (kind, to) = (begun.kind, begun.until);
            faults.push(Fault::DropOut {
                source,
                kind,
                from: step.ends,
                to,
            });
        }
    }

    /// When this instrument does something next.
    pub(crate) fn next_deed(&self) -> Option<Timestamp> {
        let takeover = self.next_takeover();
        let change = self.link.next_change().into_iter().chain(takeover).min();
        if !self.link.is_up() {
            return change;
        }
        let compensation = match &self.kind {
            Kind::Meter(meter) => meter.compensation_due(),
            _ => None,
        };
        let reports = self.schedules.iter().map(|schedule| schedule.next);
        let answers = self.outbox.iter().map(|&(at, _, _)| at);
        reports
            .chain(answers)
            .chain(change)
            .chain(compensation)
            .min()
    }
}
