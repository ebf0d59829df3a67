//! The whole simulated bench: the rider on the bicycle, what turns, and the instruments, moved on
//! together in fixed steps. Sans-IO: time is an argument, packets are asked for.

mod faults;
mod source;
mod stepping;

use crate::body::Body;
use crate::brake::Brake;
use crate::file::RigPlan;
use crate::instrument::{Indications, Instrument, Kind};
use crate::link::{Air, LinkChange};
use crate::load::{Instruction, Load};
use crate::noise::Dice;
use crate::ride::RecordedRide;
use crate::rider::Rider;
use crate::truth::{Fault, Ledger, Truth};
use faults::made_with;
pub use source::RigSource;
use std::collections::VecDeque;
use std::sync::Arc;
use units::{AttError, Packet, SourceId, Span, Timestamp, Write};

/// Length of one step of the physics.
pub const STEP: Span = Span::from_millis(20);

/// A simulated bench.
#[derive(Clone, Debug)]
pub struct Rig {
    plan: RigPlan,
    clock: Timestamp,
    steps: i64,
    body: Body,
    brake: Brake,
    temperature_k: f64,
    rider: Rider,
    instruments: Vec<Instrument>,
    ids: Vec<SourceId>,
    air: Air,
    changes: VecDeque<LinkChange>,
    truth: Truth,
    ledger: Ledger,
}

impl Rig {
    /// A rig at rest at the beginning of the session, cold, with nobody connected. The rider
    /// begins to pedal at the preferred cadence at once and waits for no prompt.
    pub fn new(plan: RigPlan, seed: u64) -> Self {
        let file = plan.file();
        let step_s = STEP.as_secs_f64();
        let instruments: Vec<_> = (1_u16..)
            .zip(&file.instruments)
            .map(|(id, spec)| Instrument::new(SourceId(id), spec, &file.brake, step_s, seed))
            .collect();
        let ids: Vec<_> = instruments.iter().map(|instrument| instrument.id).collect();
        let truth = Truth {
            faults: made_with(&plan, &ids),
            ..Truth::default()
        };
        Self {
            clock: Timestamp::ZERO,
            steps: 0,
            body: Body::new(
                file.drivetrain,
                file.brake.equivalent_mass_kg,
                file.development_m,
            ),
            brake: Brake::new(file.brake.clone()),
            temperature_k: 0.0,
            rider: Rider::new(file.rider.clone(), Dice::new(seed, 1)),
            ledger: Ledger::new(ids.len()),
            instruments,
            ids,
            air: Air::default(),
            changes: VecDeque::new(),
            truth,
            plan,
        }
    }

    /// The plan of the rig.
    pub fn plan(&self) -> &RigPlan {
        &self.plan
    }

    /// The instruments, in the order of the rig file.
    pub fn sources(&self) -> Vec<RigSource> {
        let brake = &self.plan.file().brake;
        let of = |instrument| RigSource::of(instrument, brake);
        self.instruments.iter().map(of).collect()
    }

    /// Connects to every instrument: the values that can be read arrive as packets, then the
    /// notifications. A link that is lost later comes back by itself and reads them again.
    pub fn connect(&mut self, now: Timestamp) {
        self.advance(now);
        let brake = &self.plan.file().brake;
        for instrument in &mut self.instruments {
            if !instrument.link.is_up() {
                self.changes
                    .push_back(instrument.connect(now, brake, &mut self.air));
            }
        }
    }

    /// Cuts the link to an instrument from outside, as a client does that goes away: control and
    /// load end with it. The rig makes the link again with its next step.
    pub fn cut(&mut self, now: Timestamp, source: SourceId) {
        self.advance(now);
        let Some(instrument) = self.instruments.iter_mut().find(|i| i.id == source) else {
            return;
        };
        let Some(change) = instrument.cut(now, now, &mut self.air) else {
            return;
        };
        if let Kind::Trainer(_) = instrument.kind {
            self.brake.tell(now, Load::Released);
        }
        self.truth.faults.push(Fault::LostLink { source, at: now });
        self.changes.push_back(change);
    }

    /// Another controller takes control of the trainer and releases the brake, as the button at
    /// the machine or a second program does. The trainer says so in its status.
    pub fn take_control(&mut self, now: Timestamp) {
        self.advance(now);
        for instrument in &mut self.instruments {
            if instrument.taken_over(now) {
                self.brake.tell(now, Load::Released);
                let source = instrument.id;
                self.truth
                    .faults
                    .push(Fault::ControlTaken { source, at: now });
            }
        }
    }

    /// An instrument is switched off and, `lasting` later, on again: its link is gone meanwhile,
    /// control and load end with it, and all it counted begins at zero.
    pub fn restart(&mut self, now: Timestamp, source: SourceId, lasting: Span) {
        self.advance(now);
        let Some(instrument) = self.instruments.iter_mut().find(|i| i.id == source) else {
            return;
        };
        instrument.restart(now);
        self.truth.faults.push(Fault::Restart { source, at: now });
        let Some(change) = instrument.cut(now, now + lasting, &mut self.air) else {
            return;
        };
        if let Kind::Trainer(_) = instrument.kind {
            self.brake.tell(now, Load::Released);
        }
        self.changes.push_back(change);
    }

    /// Asks an instrument for the indications of its control point, or stops asking; asked for
    /// at the beginning.
    pub fn set_indications(&mut self, source: SourceId, indications: Indications) {
        if let Some(instrument) = self.instruments.iter_mut().find(|i| i.id == source) {
            instrument.set_indications(indications);
        }
    }

    /// Writes to an instrument, with response.
    ///
    /// # Errors
    /// The ATT error with which the device refuses the write; nothing has begun then. A request
    /// that is understood and refused is answered by an indication instead.
    pub fn handle_write(&mut self, now: Timestamp, write: &Write) -> Result<(), AttError> {
        self.advance(now);
        let brake = &self.plan.file().brake;
        let instrument = self
            .instruments
            .iter_mut()
            .find(|instrument| instrument.id == write.source)
            .ok_or_else(|| AttError::Other("there is no such instrument on the rig".to_owned()))?;
        let done = instrument.write(now, write.characteristic, &write.bytes, brake)?;
        if let Some(load) = done.load {
            self.brake.tell(now, load);
        }
        Ok(())
    }

    /// Tells the rider something, who acts on it after a human reaction time.
    pub fn instruct(&mut self, now: Timestamp, instruction: Instruction) {
        self.advance(now);
        self.rider.hear(now, instruction);
    }

    /// The chain falls off: the legs go on turning, but nothing arrives at the flywheel.
    pub fn drop_chain(&mut self, now: Timestamp) {
        self.advance(now);
        self.body.drop_chain();
    }

    /// From `now` on the rider repeats a recorded ride and the load follows it, whatever the
    /// control point is told: power and cadence at the crank are those of the recording. The
    /// flywheel starts rolling at the first cadence, as the recording does.
    pub fn reproduce(&mut self, now: Timestamp, ride: Arc<RecordedRide>) {
        self.advance(now);
        let begin_rpm = ride.moment(Span::ZERO).cadence_rpm;
        let begin_mps = begin_rpm / 60.0 * self.body.development_m();
        let gained_j = self.body.roll(begin_mps);
        self.truth.work.kinetic_j += gained_j;
        self.rider.reproduce(ride, now);
    }

    /// The recorded ride that is being repeated, if one is.
    pub fn reproducing(&self) -> Option<&RecordedRide> {
        self.rider.reproducing().map(|(ride, _)| ride)
    }

    /// The load the brake was last told.
    pub fn commanded_load(&self) -> Load {
        self.brake.told()
    }

    /// Moves the rig on to `to`; a moment in the past does nothing.
    pub fn advance(&mut self, to: Timestamp) {
        self.clock = self.clock.max(to);
        while self.begin_of(self.steps + 1) <= to {
            self.step();
        }
    }

    /// The next packet that has arrived by the moment last advanced to, in order of time.
    pub fn poll_packet(&mut self) -> Option<Packet> {
        self.air.receive(self.clock)
    }

    /// The next link that was made or lost, in order of time.
    pub fn poll_link_change(&mut self) -> Option<LinkChange> {
        self.changes.pop_front()
    }

    /// When to advance to next: a packet arrives then, or an instrument sends, answers or loses
    /// its link. [`Timestamp::MAX`] while nothing is connected and nothing on its way.
    pub fn poll_timeout(&self) -> Timestamp {
        let arrival = self.air.next_arrival().unwrap_or(Timestamp::MAX);
        let deed = self
            .instruments
            .iter()
            .filter_map(Instrument::next_deed)
            .min()
            .map_or(Timestamp::MAX, |at| self.step_end_after(at));
        arrival.min(deed)
    }

    /// The hidden truth, for tests of the tests.
    pub fn truth(&self) -> &Truth {
        &self.truth
    }

    fn begin_of(&self, step: i64) -> Timestamp {
        Timestamp::ZERO + STEP * step
    }

    /// The end of the first step not yet done that ends at or after `at`.
    fn step_end_after(&self, at: Timestamp) -> Timestamp {
        let length = STEP.as_nanos();
        let step = (at.as_nanos() + length - 1).div_euclid(length);
        self.begin_of(step.max(self.steps + 1))
    }
}
