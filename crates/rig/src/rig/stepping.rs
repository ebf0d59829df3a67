//! One step of the physics: links, rider, brake and body, then what the instruments take in and
//! send.

use super::{Rig, STEP};
use crate::body::Legs;
use crate::brake::OwnWord;
use crate::instrument::{Instrument, Kind};
use crate::link::LinkState;
use crate::load::Load;
use crate::spec::{BrakeSpec, SteeredBy};
use crate::step::StepView;
use crate::truth::Fault;
use units::{MetresPerSecond, RadPerSecond, Timestamp};

/// How fast the load brings the flywheel to a recorded cadence, s.
const FOLLOW_S: f64 = 0.5;

impl Rig {
    pub(super) fn step(&mut self) {
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
