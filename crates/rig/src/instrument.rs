//! One simulated instrument, whatever its kind, with its clock, its failures and its link.

use crate::cadence::CadenceSensor;
use crate::control::{Abilities, ControlPoint, SpinDownEvent, att};
use crate::identity;
use crate::link::{Air, Link, LinkChange};
use crate::load::Load;
use crate::meter::Meter;
use crate::noise::Dice;
use crate::signal::Signal;
use crate::spec::{BrakeSpec, InstrumentSpec, KindSpec, UpsetKind};
use crate::step::StepView;
use crate::strap::Strap;
use crate::trainer::Trainer;
use crate::truth::Fault;
use crate::upsets::{Pedalling, Upsets};
use crate::wire;
use sensor::assigned;
use sensor::fitness_machine::status::{SpinDownStatus, Status};
use sensor::fitness_machine::training_status::TrainingStatus;
use units::{AttError, Characteristic, SourceId, Span, Timestamp};

/// From one read to the next after connecting.
const READ_TAKES: Span = Span::from_millis(30);

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

/// A characteristic that is notified at intervals.
#[derive(Clone, Debug)]
struct Schedule {
    characteristic: Characteristic,
    interval: Span,
    next: Timestamp,
    before: Option<Timestamp>,
    /// What was sent last, which a frozen instrument repeats.
    last: Vec<Vec<u8>>,
}

/// What an accepted write means for the rest of the rig.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Consequence {
    /// The load from now on, if it changes.
    pub(crate) load: Option<Load>,
}

impl Instrument {
    pub(crate) fn new(
        id: SourceId,
        spec: &InstrumentSpec,
        brake: &BrakeSpec,
        step_s: f64,
        seed: u64,
    ) -> Self {
        let dice = |use_no: u64| Dice::new(seed, u64::from(id.0) * 16 + use_no);
        let signal = Signal::new(spec.signal, dice(0), step_s);
        let mut phase = dice(4);
        let clock = 1.0 + spec.link.clock_ppm * 1e-6;
        let mut schedule = |characteristic, interval_ms: u32| {
            let interval_s = f64::from(interval_ms) / 1000.0 / clock;
            let share = phase.between(0.0, 1.0);
            let share = spec.link.phase.unwrap_or(share);
            Schedule {
                characteristic,
                interval: Span::from_secs_f64(interval_s),
                next: Timestamp::from_secs_f64(interval_s * share),
                before: None,
                last: Vec::new(),
            }
        };
        let (kind, schedules) = match &spec.kind {
            KindSpec::Trainer(trainer) => {
                let abilities = Abilities {
                    resistance_most: brake.resistance_most,
                    power_range_w: brake.power_range_w,
                    spin_down_kmh: trainer.spin_down_kmh,
                    answer_after: Span::from_millis(i64::from(trainer.answer_ms)),
                    lacks: trainer.lacks.clone(),
                };
                let mut schedules = vec![schedule(assigned::INDOOR_BIKE_DATA, trainer.report_ms)];
                if let Some(report_ms) = trainer.power_service_ms {
                    schedules.push(schedule(assigned::CYCLING_POWER_MEASUREMENT, report_ms));
                }
                let control = ControlPoint::new(abilities);
                let trainer = Trainer::new(trainer.clone(), signal, control, step_s, dice(1));
                (Kind::Trainer(Box::new(trainer)), schedules)
            }
            KindSpec::Meter(meter) => {
                let schedules = vec![schedule(
                    assigned::CYCLING_POWER_MEASUREMENT,
                    meter.report_ms,
                )];
                let ppm = spec.link.clock_ppm;
                let meter = Meter::new(meter.clone(), spec.place, signal, ppm, dice(1));
                (Kind::Meter(Box::new(meter)), schedules)
            }
            KindSpec::Cadence(sensor) => {
                let schedules = vec![schedule(assigned::CSC_MEASUREMENT, sensor.report_ms)];
                let sensor = CadenceSensor::new(*sensor, spec.link.clock_ppm);
                (Kind::Cadence(Box::new(sensor)), schedules)
            }
            KindSpec::HeartRate(strap) => {
                let schedules = vec![schedule(assigned::HEART_RATE_MEASUREMENT, strap.report_ms)];
                let strap = Strap::new(*strap, dice(1));
                (Kind::HeartRate(Box::new(strap)), schedules)
            }
        };
        let mut takeovers: Vec<Span> = match &spec.kind {
            KindSpec::Trainer(trainer) => trainer
                .taken_over
                .iter()
                .map(|after_s| Span::from_secs_f64(*after_s))
                .collect(),
            _ => Vec::new(),
        };
        takeovers.sort_by_key(|after| std::cmp::Reverse(*after));
        Self {
            id,
            kind,
            link: Link::new(spec.link.clone(), id, dice(2)),
            upsets: Upsets::new(&spec.upsets, dice(3)),
            indications: Indications::On,
            schedules,
            takeovers,
            outbox: Vec::new(),
            spec: spec.clone(),
        }
    }

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

    /// Makes the link and reads everything there is to read.
    pub(crate) fn connect(
        &mut self,
        now: Timestamp,
        brake: &BrakeSpec,
        air: &mut Air,
    ) -> LinkChange {
        let change = self.link.connect(now);
        self.after_connect(now, brake, air);
        change
    }

    fn after_connect(&mut self, now: Timestamp, brake: &BrakeSpec, air: &mut Air) {
        let mut at = now;
        for (characteristic, bytes) in identity::reads(&self.spec, brake) {
            at += READ_TAKES;
            self.link.answer(at, characteristic, bytes, air);
        }
        for schedule in &mut self.schedules {
            schedule.skip_to(now);
        }
    }

    /// Asks for the control point's indications, or stops asking.
    pub(crate) fn set_indications(&mut self, indications: Indications) {
        self.indications = indications;
    }

    /// Follows the link over one step; everything that ends with a link ends here.
    pub(crate) fn step_link(
        &mut self,
        now: Timestamp,
        step_s: f64,
        brake: &BrakeSpec,
        air: &mut Air,
        faults: &mut Vec<Fault>,
    ) -> Option<LinkChange> {
        let change = self.link.step(now, step_s, air)?;
        if self.link.is_up() {
            self.after_connect(now, brake, air);
        } else {
            self.end_link();
        }
        if self.link.take_restart() {
            self.restart(now);
            faults.push(Fault::Restart {
                source: self.id,
                at: now,
            });
        }
        Some(change)
    }

    /// Ends the link from outside; it is made again with the first step from `back_at` on.
    pub(crate) fn cut(
        &mut self,
        now: Timestamp,
        back_at: Timestamp,
        air: &mut Air,
    ) -> Option<LinkChange> {
        if !self.link.is_up() {
            return None;
        }
        self.end_link();
        Some(self.link.lose(now, back_at, air))
    }

    fn end_link(&mut self) {
        self.outbox.clear();
        match &mut self.kind {
            Kind::Trainer(trainer) => trainer.control.link_lost(),
            Kind::Meter(meter) => meter.link_lost(),
            Kind::Cadence(_) | Kind::HeartRate(_) => {}
        }
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

    /// Sends what is due by `now`: answers first, then reports.
    pub(crate) fn send(&mut self, now: Timestamp, load: Load, air: &mut Air) {
        let mut index = 0;
        while index < self.outbox.len() {
            if self.outbox[index].0 <= now {
                let (_, characteristic, bytes) = self.outbox.remove(index);
                self.link.answer(now, characteristic, bytes, air);
            } else {
                index += 1;
            }
        }
        for index in 0..self.schedules.len() {
            let Some(since_s) = self.schedules[index].due(now) else {
                continue;
            };
            let frozen = self.upsets.active() == Some(UpsetKind::Frozen);
            if !frozen || self.schedules[index].last.is_empty() {
                let characteristic = self.schedules[index].characteristic;
                self.schedules[index].last = self.records(characteristic, since_s, load);
            }
            if self.upsets.active() == Some(UpsetKind::Silent) {
                continue;
            }
            let schedule = &self.schedules[index];
            for bytes in &schedule.last {
                self.link
                    .notify(now, schedule.characteristic, bytes.clone(), air);
            }
        }
    }

    /// The notifications of one report.
    fn records(
        &mut self,
        characteristic: Characteristic,
        since_s: f64,
        load: Load,
    ) -> Vec<Vec<u8>> {
        let upset = self.upsets.active();
        let shown = |power_w: f64| {
            if upset == Some(UpsetKind::Zero) {
                0.0
            } else {
                power_w
            }
        };
        match &mut self.kind {
            Kind::Trainer(trainer) => {
                let mut record = trainer.record(since_s, load);
                record.power_w = shown(record.power_w);
                if characteristic == assigned::CYCLING_POWER_MEASUREMENT {
                    return vec![wire::bare_power(record.power_w)];
                }
                wire::bike_data(&record, trainer.spec().records)
            }
            Kind::Meter(meter) => {
                let averaged_w = meter.signal.averaged_w();
                let power_w = shown(meter.signal.report(averaged_w, since_s));
                vec![wire::power_measurement(power_w, &meter.record())]
            }
            Kind::Cadence(sensor) => vec![sensor.record()],
            Kind::HeartRate(strap) => vec![strap.record()],
        }
    }

    /// Takes a write.
    ///
    /// # Errors
    /// The ATT error with which the device refuses it.
    pub(crate) fn write(
        &mut self,
        now: Timestamp,
        characteristic: Characteristic,
        bytes: &[u8],
        brake: &BrakeSpec,
    ) -> Result<Consequence, AttError> {
        if !self.link.is_up() {
            return Err(AttError::NotConnected);
        }
        let offered = identity::characteristics(&self.spec, brake);
        if !offered.contains(&characteristic) {
            return Err(AttError::Code(att::ATTRIBUTE_NOT_FOUND));
        }
        let control_point = match &self.kind {
            Kind::Trainer(_) => Some(assigned::FITNESS_MACHINE_CONTROL_POINT),
            Kind::Meter(_) => Some(assigned::CYCLING_POWER_CONTROL_POINT),
            Kind::Cadence(_) | Kind::HeartRate(_) => None,
        };
        if Some(characteristic) != control_point {
            return Err(AttError::Code(att::WRITE_NOT_PERMITTED));
        }
        if self.indications == Indications::Off {
            return Err(AttError::Code(att::CCCD_NOT_SET));
        }
        match &mut self.kind {
            Kind::Trainer(trainer) => {
                let outcome = trainer.control.write(now, bytes)?;
                let at = outcome.answer_at;
                self.outbox
                    .push((at, assigned::FITNESS_MACHINE_CONTROL_POINT, outcome.answer));
                if let Some(status) = outcome.status {
                    self.outbox
                        .push((at, assigned::FITNESS_MACHINE_STATUS, status.encode()));
                }
                if let Some(training) = outcome.training {
                    self.outbox.push((
                        at,
                        assigned::TRAINING_STATUS,
                        TrainingStatus::new(training).encode(),
                    ));
                }
                Ok(Consequence { load: outcome.load })
            }
            Kind::Meter(meter) => {
                if let Some((at, answer)) = meter.write(now, bytes)? {
                    self.outbox
                        .push((at, assigned::CYCLING_POWER_CONTROL_POINT, answer));
                }
                Ok(Consequence::default())
            }
            // They have no control point, so nothing gets here.
            Kind::Cadence(_) | Kind::HeartRate(_) => Ok(Consequence::default()),
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

impl Schedule {
    /// Whether a report is due at `now`: the time since the one before it, s.
    fn due(&mut self, now: Timestamp) -> Option<f64> {
        if now < self.next {
            return None;
        }
        let since = self.before.map_or(self.interval, |before| now - before);
        self.before = Some(now);
        self.next += self.interval;
        Some(since.as_secs_f64())
    }

    /// Leaves out the reports that nobody could have received before `now`.
    fn skip_to(&mut self, now: Timestamp) {
        if self.next < now {
            let missed = (now - self.next).as_nanos() / self.interval.as_nanos().max(1) + 1;
            self.next += self.interval * missed;
        }
    }
}
