//! The whole simulated bench: the rider on the bicycle, what turns, and the instruments, moved on
//! together in fixed steps. Sans-IO: time is an argument, packets are asked for.

use crate::body::{Body, Legs};
use crate::brake::{Brake, OwnWord};
use crate::file::RigPlan;
use crate::identity;
use crate::instrument::{Indications, Instrument, Kind};
use crate::link::{Air, LinkChange, LinkState};
use crate::load::{Instruction, Load};
use crate::noise::Dice;
use crate::ride::RecordedRide;
use crate::rider::Rider;
use crate::spec::{BrakeSpec, KindSpec, RoleSpec, SteeredBy};
use crate::step::StepView;
use crate::truth::{Fault, Ledger, Truth};
use std::collections::VecDeque;
use std::sync::Arc;
use units::{
    AttError, Characteristic, MetresPerSecond, Packet, RadPerSecond, SourceId, Span, Timestamp,
    Write,
};

/// Length of one step of the physics.
pub const STEP: Span = Span::from_millis(20);
/// How fast the load brings the flywheel to a recorded cadence, s.
const FOLLOW_S: f64 = 0.5;

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

/// One instrument as it shows itself before it is connected.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RigSource {
    /// Which source it is.
    pub id: SourceId,
    /// Name for people.
    pub name: String,
    /// What it is for: `under-test`, `reference`, `second-reference` or `witness`.
    pub role: &'static str,
    /// Where it measures: `hub`, `crank`, `pedals`, `one-side` or `body`.
    pub place: &'static str,
    /// Assigned numbers of the services it offers.
    pub services: Vec<u16>,
    /// The characteristics it offers.
    pub characteristics: Vec<Characteristic>,
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
        self.instruments
            .iter()
            .map(|instrument| RigSource {
                id: instrument.id,
                name: instrument.spec.name.clone(),
                role: match instrument.spec.role {
                    RoleSpec::UnderTest => "under-test",
                    RoleSpec::Reference => "reference",
                    RoleSpec::SecondReference => "second-reference",
                    RoleSpec::Witness => "witness",
                },
                place: identity::place_word(instrument.spec.place),
                services: identity::services(&instrument.spec),
                characteristics: identity::characteristics(&instrument.spec, brake),
            })
            .collect()
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

    fn step(&mut self) {
        let step_s = STEP.as_secs_f64();
        let begins = self.begin_of(self.steps);
        let ends = self.begin_of(self.steps + 1);
        self.step_links(begins, step_s);

        let legs = self.rider.step(begins, step_s, &mut self.body);
        let word = self.own_word();
        let brake_n = self.brake.step(begins, step_s, self.body.speed_mps(), word);
        let brake_n = self.following_n(begins, legs).unwrap_or(brake_n);
        let flow = self.body.step(step_s, legs, brake_n);
        self.rider.tire(flow.crank_w * step_s);

        let speed_kmh = MetresPerSecond(flow.speed_mps).to_kilometres_per_hour();
        let view = StepView {
            ends,
            step_s,
            flow,
            speed_kmh,
        };
        let load = self.brake.acting();
        for instrument in &mut self.instruments {
            instrument.absorb(&view, &mut self.truth.faults);
            instrument.send(ends, load, &mut self.air);
        }
        self.write_down(begins, &view);
        self.steps += 1;
    }

    fn step_links(&mut self, now: Timestamp, step_s: f64) {
        let brake = &self.plan.file().brake;
        for instrument in &mut self.instruments {
            if instrument.takeover_due(now) && instrument.taken_over(now) {
                self.brake.tell(now, Load::Released);
                let source = instrument.id;
                self.truth
                    .faults
                    .push(Fault::ControlTaken { source, at: now });
            }
            let faults = &mut self.truth.faults;
            let air = &mut self.air;
            let Some(change) = instrument.step_link(now, step_s, brake, air, faults) else {
                continue;
            };
            if change.state == LinkState::Down {
                let source = instrument.id;
                self.truth.faults.push(Fault::LostLink { source, at: now });
                if let Kind::Trainer(_) = instrument.kind {
                    self.brake.tell(now, Load::Released);
                }
            }
            self.changes.push_back(change);
        }
    }

    /// What the trainer's own instrument says; the truth if there is no trainer.
    fn own_word(&self) -> OwnWord {
        let speed_kmh = MetresPerSecond(self.body.speed_mps()).to_kilometres_per_hour();
        let trainer = self
            .instruments
            .iter()
            .find(|instrument| matches!(instrument.kind, Kind::Trainer(_)));
        let heard = trainer.map(|trainer| match &trainer.kind {
            Kind::Trainer(it) if it.spec().steered_by == SteeredBy::FirstMeter => self
                .instruments
                .iter()
                .find(|instrument| matches!(instrument.kind, Kind::Meter(_)))
                .unwrap_or(trainer),
            _ => trainer,
        });
        match heard.and_then(Instrument::signal) {
            Some(signal) => OwnWord {
                gain: signal.gain(speed_kmh),
                indicated_w: signal.ideal_w(),
            },
            None => OwnWord {
                gain: 1.0,
                indicated_w: 0.0,
            },
        }
    }

    /// The load while a recorded ride is repeated: what brings the flywheel to the recorded
    /// cadence under the recorded power.
    fn following_n(&self, now: Timestamp, legs: Legs) -> Option<f64> {
        let (ride, begin) = self.rider.reproducing()?;
        let aim_mps = ride.moment(now - begin).cadence_rpm / 60.0 * self.body.development_m();
        let Legs::Turn { torque_nm, .. } = legs else {
            return Some(0.0);
        };
        let missing_mps = aim_mps - self.body.speed_mps();
        let inertia_n = self.body.equivalent_mass_kg() * missing_mps / FOLLOW_S;
        Some((self.body.driving_force_n(torque_nm) - inertia_n).max(0.0))
    }

    fn write_down(&mut self, begins: Timestamp, view: &StepView) {
        let BrakeSpec {
            warm_up_tau_s,
            warm_up_k,
            room_c,
            ..
        } = self.plan.file().brake;
        let flow = &view.flow;
        // First-order warm-up, to the rise given for 200 W in proportion to the power.
        let steady_k = warm_up_k * flow.brake_w / 200.0;
        self.temperature_k += (steady_k - self.temperature_k) * view.step_s / warm_up_tau_s;
        let work = &mut self.truth.work;
        work.crank_j += flow.crank_w * view.step_s;
        work.loss_j += flow.loss_w * view.step_s;
        work.brake_j += flow.brake_w * view.step_s;
        work.kinetic_j += flow.kinetic_w * view.step_s;
        let cadence_rpm = RadPerSecond(flow.crank_rad_per_s).to_rev_per_min().get();
        let values = [
            flow.crank_w,
            flow.hub_w(),
            flow.brake_w,
            cadence_rpm,
            view.speed_kmh,
        ];
        self.ledger.add(
            begins,
            values,
            self.instruments.iter().map(Instrument::ideal_w),
        );
        let temperature_c = room_c + self.temperature_k;
        self.ledger
            .close(view.ends, temperature_c, &self.ids, &mut self.truth);
    }
}

/// What the instruments are made with, as typed faults.
fn made_with(plan: &RigPlan, ids: &[SourceId]) -> Vec<Fault> {
    let file = plan.file();
    let mut faults = Vec::new();
    for (&source, spec) in ids.iter().zip(&file.instruments) {
        let signal = &spec.signal;
        let mut when = |there: bool, fault: Fault| {
            if there {
                faults.push(fault);
            }
        };
        when(
            signal.gain_pct != 0.0,
            Fault::Gain {
                source,
                pct: signal.gain_pct,
            },
        );
        when(
            signal.offset_w != 0.0,
            Fault::Offset {
                source,
                offset_w: signal.offset_w,
            },
        );
        when(
            signal.speed_pct_per_10_kmh != 0.0,
            Fault::SpeedDependence {
                source,
                pct_per_10_kmh: signal.speed_pct_per_10_kmh,
                pivot_kmh: signal.pivot_kmh,
            },
        );
        when(
            signal.drift_pct != 0.0,
            Fault::WarmUpDrift {
                source,
                pct: signal.drift_pct,
                tau_s: signal.drift_tau_s,
            },
        );
        let report_ms = match &spec.kind {
            KindSpec::Trainer(trainer) => trainer.report_ms,
            KindSpec::Meter(meter) => meter.report_ms,
            // They measure no power: nothing of what follows can be wrong with them.
            KindSpec::Cadence(_) | KindSpec::HeartRate(_) => continue,
        };
        let transport_s = (spec.link.delay_ms + spec.link.jitter_ms) / 1000.0;
        when(
            true,
            Fault::Lag {
                source,
                group_delay_s: signal.smoothing.group_delay_s() + signal.delay_s + transport_s,
                smoothing_s: signal.smoothing.length_s(),
                interval_s: f64::from(report_ms) / 1000.0,
            },
        );
        when(
            spec.link.lost_pct > 0.0,
            Fault::LostPackets {
                source,
                pct: spec.link.lost_pct,
            },
        );
        match &spec.kind {
            KindSpec::Trainer(trainer) => {
                let share = trainer.echo_share;
                when(share > 0.0, Fault::Echo { source, share });
                let mass_kg = (1.0 - trainer.inertia_share) * file.brake.equivalent_mass_kg;
                when(
                    mass_kg.abs() > 1e-9,
                    Fault::MissingInertia { source, mass_kg },
                );
                let share = file.brake.grade_share;
                when(
                    (share - 1.0).abs() > 1e-9,
                    Fault::GradeShare { source, share },
                );
            }
            KindSpec::Meter(meter) => {
                let torque_nm = meter.zero_nm;
                when(
                    torque_nm != 0.0,
                    Fault::Zero {
                        source,
                        at: Timestamp::ZERO,
                        torque_nm,
                    },
                );
                if let Some(one_sided) = meter.one_sided {
                    when(
                        true,
                        Fault::OneSided {
                            source,
                            left_pct: one_sided.left_pct,
                        },
                    );
                }
            }
            KindSpec::Cadence(_) | KindSpec::HeartRate(_) => {}
        }
    }
    faults
}
