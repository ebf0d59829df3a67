//! The rider: hears prompts and acts a moment later, holds a cadence as people do, tires, stands up,
//! stalls when the torque asked for is more than the legs have.
//!
//! The legs are a source of torque that leans towards a cadence, so that cadence settles by itself
//! under a brake that holds power, where less cadence means more torque. The stroke is averaged
//! away: what is left of it is a torque that wanders with a short memory.

use crate::body::{Body, Legs};
use crate::load::Instruction;
use crate::noise::{Dice, Wander};
use crate::ride::RecordedRide;
use crate::spec::RiderSpec;
use std::collections::VecDeque;
use std::sync::Arc;
use units::{RevPerMin, Span, Timestamp};

/// How much more torque per missing cadence, N·m/(rad/s).
const LEAN_NM_PER_RAD: f64 = 26.0;
/// How fast the legs learn the torque a load needs, N·m/(rad/s)/s.
const LEARN_NM_PER_RAD_S: f64 = 9.0;
/// Fastest change of torque, N·m/s.
const TORQUE_RATE_NM_PER_S: f64 = 140.0;
/// How fast a rider moves from one asked cadence to another, rpm/s.
const CADENCE_RATE_RPM_PER_S: f64 = 5.0;
/// Memory of the torque's wandering, s.
const TORQUE_MEMORY_S: f64 = 0.8;
/// A rider free to choose eases off above this cadence …
const EASE_FROM_RPM: f64 = 110.0;
/// … and has let go at this one.
const EASE_TO_RPM: f64 = 122.0;
/// Below this cadence a rider free to choose leans into the pedals.
const LEAN_BELOW_RPM: f64 = 62.0;
/// Cadence lost while standing, rpm.
const STANDING_DROP_RPM: f64 = 3.0;
/// A rider who is free to choose changes gear outside these cadences, rpm …
const OWN_GEAR_RPM: std::ops::RangeInclusive<f64> = 65.0..=103.0;
/// … after so long outside them, s …
const OWN_GEAR_AFTER_S: f64 = 2.5;
/// … by one sprocket, a factor of about …
const OWN_GEAR_STEP: f64 = 1.13;
/// … within the gears of a road bicycle, metres per crank revolution.
const GEARS_M: std::ops::RangeInclusive<f64> = 1.8..=9.5;
/// Cadence at which a rider who is told a speed only looks for another gear, rpm: outside these.
const SPEED_GEAR_RPM: std::ops::RangeInclusive<f64> = 50.0..=110.0;
/// The cadence that gear gives, rpm.
const SPEED_GEAR_AIM_RPM: f64 = 75.0;
/// Power below which a recorded second counts as not pedalling, W.
const RECORDED_REST_W: f64 = 0.5;

/// What the rider is doing.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Doing {
    Cadence,
    Effort(f64),
    Speed(f64),
    Rest,
    Reproduce,
}

/// A rider.
#[derive(Clone, Debug)]
pub(crate) struct Rider {
    spec: RiderSpec,
    dice: Dice,
    doing: Doing,
    before_rest: Doing,
    burst: Option<(f64, Timestamp)>,
    standing_until: Timestamp,
    heard: VecDeque<(Timestamp, Instruction)>,
    asked_rpm: f64,
    aim_rpm: f64,
    cadence_wander: Wander,
    torque_wander: Wander,
    learned_nm: f64,
    torque_nm: f64,
    work_j: f64,
    ride: Option<(Arc<RecordedRide>, Timestamp)>,
    /// The gear that was asked for, while the rider rides one of their own.
    asked_gear_m: Option<f64>,
    out_of_gear_s: f64,
}

impl Rider {
    pub(crate) fn new(spec: RiderSpec, dice: Dice) -> Self {
        Self {
            doing: Doing::Cadence,
            before_rest: Doing::Cadence,
            burst: None,
            standing_until: Timestamp::ZERO,
            heard: VecDeque::new(),
            asked_rpm: spec.preferred_rpm,
            aim_rpm: 0.0,
            cadence_wander: Wander::new(spec.cadence_memory_s),
            torque_wander: Wander::new(TORQUE_MEMORY_S),
            learned_nm: 0.0,
            torque_nm: 0.0,
            work_j: 0.0,
            ride: None,
            asked_gear_m: None,
            out_of_gear_s: 0.0,
            spec,
            dice,
        }
    }

    /// From now on does what was recorded, second by second.
    pub(crate) fn reproduce(&mut self, ride: Arc<RecordedRide>, begin: Timestamp) {
        self.ride = Some((ride, begin));
        self.doing = Doing::Reproduce;
        self.before_rest = Doing::Reproduce;
        self.heard.clear();
    }

    /// The recorded ride that is being reproduced and the moment of its first record.
    pub(crate) fn reproducing(&self) -> Option<(&RecordedRide, Timestamp)> {
        match self.doing {
            Doing::Reproduce => self
                .ride
                .as_ref()
                .map(|(ride, begin)| (ride.as_ref(), *begin)),
            _ => None,
        }
    }

    /// Hears a prompt; acts on it after a reaction time, prompts in the order heard.
    pub(crate) fn hear(&mut self, now: Timestamp, instruction: Instruction) {
        let (shortest, longest) = self.spec.reaction_s;
        let mut due = now + Span::from_secs_f64(self.dice.between(shortest, longest));
        if let Some(&(last, _)) = self.heard.back() {
            due = due.max(last);
        }
        self.heard.push_back((due, instruction));
    }

    /// Counts the work of a step.
    pub(crate) fn tire(&mut self, work_j: f64) {
        self.work_j += work_j;
    }

    /// The legs in the coming step. Shifts `body` when a prompt asks for another gear.
    pub(crate) fn step(&mut self, now: Timestamp, step_s: f64, body: &mut Body) -> Legs {
        while let Some(&(due, instruction)) = self.heard.front() {
            if due > now {
                break;
            }
            self.heard.pop_front();
            self.act(now, instruction, body);
        }
        let weariness = 1.0 + self.work_j / 1000.0 / self.spec.tires_after_kj;
        let stands_per_s = self.spec.stands_per_hour * weariness / 3600.0;
        if self.doing == Doing::Cadence && self.dice.happens(stands_per_s * step_s) {
            let seconds = self.dice.between(6.0, 12.0);
            self.standing_until = now + Span::from_secs_f64(seconds);
        }
        let standing = now < self.standing_until;
        let cadence_sd_rpm =
            self.spec.cadence_sd_rpm * weariness * if standing { 1.6 } else { 1.0 };
        let cadence_stray_rpm = self.cadence_wander.step(step_s, &mut self.dice) * cadence_sd_rpm;
        let torque_stray =
            self.torque_wander.step(step_s, &mut self.dice) * self.spec.torque_sd_pct / 100.0
                * if standing { 2.0 } else { 1.0 };
        if self.burst.is_some_and(|(_, until)| now >= until) {
            self.burst = None;
            self.learned_nm = self.learned_nm.min(self.spec.strength_nm);
        }

        let crank = body.crank_rad_per_s();
        let crank_rpm = crank * 60.0 / std::f64::consts::TAU;
        let wanted_nm = match (self.burst, self.doing) {
            (_, Doing::Rest) => {
                self.torque_nm = 0.0;
                self.learned_nm = 0.0;
                self.aim_rpm = 0.0;
                return Legs::Rest;
            }
            (_, Doing::Reproduce) => return self.legs_of_record(now, body),
            (Some((power_w, _)), _) => power_w / crank.max(2.0),
            (None, Doing::Effort(power_w)) => {
                self.choose_gear(step_s, crank_rpm, body);
                self.effort_nm(power_w, crank, crank_rpm)
            }
            (None, Doing::Cadence | Doing::Speed(_)) => {
                let goal_rpm = match self.doing {
                    Doing::Speed(mps) => mps / body.development_m() * 60.0,
                    _ => self.asked_rpm - if standing { STANDING_DROP_RPM } else { 0.0 },
                };
                let rate = CADENCE_RATE_RPM_PER_S * step_s;
                // From rest the aim starts where the legs are, a little ahead of them.
                self.aim_rpm = self.aim_rpm.max(crank_rpm.min(goal_rpm).min(30.0));
                self.aim_rpm += (goal_rpm - self.aim_rpm).clamp(-rate, 2.0 * rate);
                let aim = RevPerMin(self.aim_rpm + cadence_stray_rpm)
                    .to_rad_per_second()
                    .get();
                self.lean_nm(aim, crank, step_s, body.engaged())
            }
        };
        let limit_nm = self.limit_nm(crank_rpm);
        let wanted_nm = (wanted_nm * (1.0 + torque_stray)).clamp(0.0, limit_nm);
        let rate_nm = TORQUE_RATE_NM_PER_S * step_s;
        self.torque_nm += (wanted_nm - self.torque_nm).clamp(-rate_nm, rate_nm);
        let free_rpm = match self.doing {
            Doing::Cadence | Doing::Speed(_) => self.aim_rpm.max(self.asked_rpm),
            _ => EASE_FROM_RPM,
        };
        Legs::Turn {
            torque_nm: self.torque_nm,
            free_rad_per_s: RevPerMin(free_rpm).to_rad_per_second().get(),
        }
    }

    fn act(&mut self, now: Timestamp, instruction: Instruction, body: &mut Body) {
        let reproducing = self.doing == Doing::Reproduce;
        match instruction {
            Instruction::Gear { development_m } if development_m > 0.0 => body.shift(development_m),
            // Whoever repeats a recorded ride repeats it to the end.
            _ if reproducing => {}
            Instruction::Gear { .. } => {}
            Instruction::Cadence { rpm } => {
                self.return_to_asked_gear(body);
                self.asked_rpm = rpm.clamp(0.0, 180.0);
                self.doing = Doing::Cadence;
            }
            Instruction::Effort { power_w } => self.doing = Doing::Effort(power_w.max(0.0)),
            Instruction::Burst { power_w, seconds } => {
                self.burst = Some((
                    power_w.max(0.0),
                    now + Span::from_secs_f64(seconds.max(0.0)),
                ));
                if self.doing == Doing::Rest {
                    self.doing = self.before_rest;
                }
            }
            Instruction::Stand { seconds } => {
                self.standing_until = now + Span::from_secs_f64(seconds);
            }
            Instruction::Sit => self.standing_until = now,
            Instruction::Accelerate { speed_kmh } => {
                let speed_mps = speed_kmh.clamp(0.0, 80.0) / 3.6;
                self.return_to_asked_gear(body);
                if !SPEED_GEAR_RPM.contains(&(speed_mps / body.development_m() * 60.0)) {
                    self.shift_freely(speed_mps / SPEED_GEAR_AIM_RPM * 60.0, body);
                }
                self.doing = Doing::Speed(speed_mps);
            }
            Instruction::StopPedalling => {
                if self.doing != Doing::Rest {
                    self.before_rest = self.doing;
                }
                self.burst = None;
                self.doing = Doing::Rest;
            }
            Instruction::Resume => {
                if self.doing == Doing::Rest {
                    self.doing = self.before_rest;
                }
            }
        }
    }

    /// Changes gear as anybody does whose legs turn too slowly or too fast.
    fn choose_gear(&mut self, step_s: f64, crank_rpm: f64, body: &mut Body) {
        if OWN_GEAR_RPM.contains(&crank_rpm) || !body.engaged() {
            self.out_of_gear_s = 0.0;
            return;
        }
        self.out_of_gear_s += step_s;
        if self.out_of_gear_s > OWN_GEAR_AFTER_S {
            self.out_of_gear_s = 0.0;
            let slow = crank_rpm < *OWN_GEAR_RPM.start();
            let factor = if slow {
                1.0 / OWN_GEAR_STEP
            } else {
                OWN_GEAR_STEP
            };
            self.shift_freely(body.development_m() * factor, body);
        }
    }

    fn shift_freely(&mut self, development_m: f64, body: &mut Body) {
        self.asked_gear_m.get_or_insert(body.development_m());
        body.shift(development_m.clamp(*GEARS_M.start(), *GEARS_M.end()));
    }

    fn return_to_asked_gear(&mut self, body: &mut Body) {
        if let Some(development_m) = self.asked_gear_m.take() {
            body.shift(development_m);
        }
    }

    /// Torque that leans towards a cadence and learns what the load needs.
    fn lean_nm(&mut self, aim: f64, crank: f64, step_s: f64, engaged: bool) -> f64 {
        let missing = aim - crank;
        let wanted_nm = self.learned_nm + LEAN_NM_PER_RAD * missing;
        let within = (0.0..=self.spec.strength_nm).contains(&wanted_nm);
        if engaged && within {
            self.learned_nm = (self.learned_nm + LEARN_NM_PER_RAD_S * missing * step_s)
                .clamp(0.0, self.spec.strength_nm);
        }
        wanted_nm
    }

    /// Torque for a power, eased where the cadence leaves what a person would choose.
    fn effort_nm(&mut self, power_w: f64, crank: f64, crank_rpm: f64) -> f64 {
        let ease = ((EASE_TO_RPM - crank_rpm) / (EASE_TO_RPM - EASE_FROM_RPM)).clamp(0.0, 1.0);
        let lean_rad = RevPerMin(LEAN_BELOW_RPM).to_rad_per_second().get() - crank;
        self.learned_nm = power_w / crank.max(3.0) * ease + LEAN_NM_PER_RAD * lean_rad.max(0.0);
        self.learned_nm
    }

    fn limit_nm(&self, crank_rpm: f64) -> f64 {
        let burst_nm =
            self.spec.burst_nm * (1.0 - crank_rpm / self.spec.burst_end_rpm).clamp(0.0, 1.0);
        if self.burst.is_some() {
            burst_nm
        } else {
            self.spec.strength_nm.min(burst_nm)
        }
    }

    /// Torque that gives the recorded power at the speed the crank has.
    fn legs_of_record(&mut self, now: Timestamp, body: &Body) -> Legs {
        let Some((ride, begin)) = &self.ride else {
            return Legs::Rest;
        };
        let moment = ride.moment(now - *begin);
        if moment.power_w < RECORDED_REST_W && moment.cadence_rpm < 1.0 {
            return Legs::Rest;
        }
        let free_rad_per_s = RevPerMin(moment.cadence_rpm.max(20.0))
            .to_rad_per_second()
            .get();
        // The crank turns with the flywheel, which the load keeps at the recorded cadence; from
        // standstill the first strokes are limited by what legs can do.
        let crank = body.crank_rad_per_s().max(1.0);
        let torque_nm = (moment.power_w / crank).min(self.spec.burst_nm * 1.5);
        Legs::Turn {
            torque_nm,
            free_rad_per_s,
        }
    }
}
