//! What turns: crank, gear, chain, freewheel and flywheel.
//!
//! Everything behind the chain is written as one mass moving at the road speed of the gear. The
//! work of a step is force times the mean of the speeds before and after it, so that crank work,
//! loss, brake work and change of kinetic energy balance to rounding, whatever the step length.

use crate::spec::DrivetrainSpec;
use std::f64::consts::TAU;

/// Crank acceleration a pedalling rider can give an unloaded crank, rad/s².
const FREE_CRANK_ACCELERATION: f64 = 14.0;
/// How fast a crank that nobody turns comes to rest, rad/s².
const CRANK_DECELERATION: f64 = 9.0;
/// Below this crank speed the constant part of the loss fades in, rad/s (about 20 rpm).
const FULL_LOSS_FROM_RAD_PER_S: f64 = 2.0;

/// The state of everything that turns.
#[derive(Clone, Debug)]
pub(crate) struct Body {
    drivetrain: DrivetrainSpec,
    equivalent_mass_kg: f64,
    metres_per_rad: f64,
    speed_mps: f64,
    crank_rad_per_s: f64,
    engaged: bool,
    chain: Chain,
}

/// Whether the chain lies on its ring and sprocket.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Chain {
    On,
    Off,
}

/// What the legs do in one step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Legs {
    /// They turn the crank; if the freewheel is engaged with this torque, N·m. Without
    /// resistance they would turn it no faster than this, rad/s.
    Turn { torque_nm: f64, free_rad_per_s: f64 },
    /// They rest.
    Rest,
}

/// What flowed in one step, means over it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Flow {
    /// Power of the rider into the crank, W.
    pub(crate) crank_w: f64,
    /// Power lost between crank and hub, W.
    pub(crate) loss_w: f64,
    /// Power the brake takes out of the flywheel, W.
    pub(crate) brake_w: f64,
    /// Power that went into the flywheel, W; negative while it gives some back.
    pub(crate) kinetic_w: f64,
    /// Crank speed, rad/s.
    pub(crate) crank_rad_per_s: f64,
    /// Road speed of the flywheel, m/s.
    pub(crate) speed_mps: f64,
}

impl Flow {
    /// Power through the hub, W: what is left behind the chain.
    pub(crate) fn hub_w(&self) -> f64 {
        self.crank_w - self.loss_w
    }
}

impl Body {
    pub(crate) fn new(
        drivetrain: DrivetrainSpec,
        equivalent_mass_kg: f64,
        development_m: f64,
    ) -> Self {
        Self {
            drivetrain,
            equivalent_mass_kg,
            metres_per_rad: development_m / TAU,
            speed_mps: 0.0,
            crank_rad_per_s: 0.0,
            engaged: true,
            chain: Chain::On,
        }
    }

    /// The chain falls off: from now on the legs turn the crank and drive nothing.
    pub(crate) fn drop_chain(&mut self) {
        self.chain = Chain::Off;
    }

    /// Road speed of the flywheel, m/s.
    pub(crate) fn speed_mps(&self) -> f64 {
        self.speed_mps
    }

    /// Crank speed, rad/s.
    pub(crate) fn crank_rad_per_s(&self) -> f64 {
        self.crank_rad_per_s
    }

    /// Whether the crank drives the hub.
    pub(crate) fn engaged(&self) -> bool {
        self.engaged
    }

    /// Mass moving at the road speed that has the flywheel's kinetic energy, kg.
    pub(crate) fn equivalent_mass_kg(&self) -> f64 {
        self.equivalent_mass_kg
    }

    /// Metres of road per crank revolution.
    pub(crate) fn development_m(&self) -> f64 {
        self.metres_per_rad * TAU
    }

    /// Puts another gear in.
    pub(crate) fn shift(&mut self, development_m: f64) {
        self.metres_per_rad = development_m / TAU;
    }

    /// Lets the flywheel roll at this speed from now on, with the crank; gives the kinetic energy
    /// it gained, J.
    pub(crate) fn roll(&mut self, speed_mps: f64) -> f64 {
        let before_mps = std::mem::replace(&mut self.speed_mps, speed_mps.max(0.0));
        self.crank_rad_per_s = self.speed_mps / self.metres_per_rad;
        0.5 * self.equivalent_mass_kg * (self.speed_mps.powi(2) - before_mps.powi(2))
    }

    /// Force at the road speed that a crank torque leaves behind the chain, N.
    pub(crate) fn driving_force_n(&self, torque_nm: f64) -> f64 {
        let fraction = self.drivetrain.fraction_pct / 100.0;
        let constant_nm =
            self.drivetrain.constant_w / self.crank_rad_per_s.max(FULL_LOSS_FROM_RAD_PER_S);
        ((torque_nm * (1.0 - fraction) - constant_nm) / self.metres_per_rad).max(0.0)
    }

    /// Moves on by `step_s` under the torque of the legs and the force of the brake.
    pub(crate) fn step(&mut self, step_s: f64, legs: Legs, brake_n: f64) -> Flow {
        let crank_before = self.crank_rad_per_s;
        let catch_up = self.speed_mps / self.metres_per_rad;
        let torque_nm = match legs {
            Legs::Turn {
                torque_nm,
                free_rad_per_s,
            } => {
                let reach = crank_before + FREE_CRANK_ACCELERATION * step_s;
                let driving = self.chain == Chain::On;
                self.engaged = driving && reach >= catch_up && free_rad_per_s > 0.0;
                if self.engaged {
                    self.crank_rad_per_s = catch_up;
                } else if !driving {
                    self.crank_rad_per_s = reach.min(free_rad_per_s.max(0.0));
                } else {
                    self.crank_rad_per_s = reach.min(free_rad_per_s.max(0.0)).min(catch_up);
                }
                if self.engaged {
                    torque_nm.max(0.0)
                } else {
                    0.0
                }
            }
            Legs::Rest => {
                self.engaged = false;
                self.crank_rad_per_s = (crank_before - CRANK_DECELERATION * step_s).max(0.0);
                0.0
            }
        };
        let drive_n = self.driving_force_n(torque_nm);
        let before_mps = self.speed_mps;
        // The brake can stop the flywheel but never turn it backwards.
        let brake_n = brake_n.clamp(0.0, drive_n + self.equivalent_mass_kg * before_mps / step_s);
        self.speed_mps =
            (before_mps + (drive_n - brake_n) / self.equivalent_mass_kg * step_s).max(0.0);
        let mean_mps = 0.5 * (before_mps + self.speed_mps);
        if self.engaged {
            self.crank_rad_per_s = self.speed_mps / self.metres_per_rad;
        }
        let crank_w = torque_nm / self.metres_per_rad * mean_mps;
        Flow {
            crank_w,
            loss_w: crank_w - drive_n * mean_mps,
            brake_w: brake_n * mean_mps,
            kinetic_w: self.equivalent_mass_kg * mean_mps * (self.speed_mps - before_mps) / step_s,
            crank_rad_per_s: 0.5 * (crank_before + self.crank_rad_per_s),
            speed_mps: mean_mps,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEP_S: f64 = 0.02;

    fn body() -> Body {
        Body::new(
            DrivetrainSpec {
                constant_w: 0.6,
                fraction_pct: 1.7,
            },
            30.0,
            5.0,
        )
    }

    /// A crank torque T at ω loses 1.7 % and 0.6 W on the way, by definition of the loss model.
    #[test]
    fn the_chain_takes_its_share() {
        let mut body = body();
        let legs = Legs::Turn {
            torque_nm: 25.0,
            free_rad_per_s: 12.0,
        };
        let mut flow = Flow::default();
        for _ in 0..2000 {
            flow = body.step(STEP_S, legs, 24.0 + 0.7 * body.speed_mps());
        }
        let expected = 0.6 + 0.017 * flow.crank_w;
        assert!(
            (flow.loss_w - expected).abs() < 0.01,
            "{} is not {expected}",
            flow.loss_w
        );
    }

    /// Free of brake and legs the flywheel keeps its speed and the crank comes to rest.
    #[test]
    fn a_coasting_flywheel_does_not_turn_the_crank() {
        let mut body = body();
        for _ in 0..500 {
            body.step(
                STEP_S,
                Legs::Turn {
                    torque_nm: 20.0,
                    free_rad_per_s: 30.0,
                },
                5.0,
            );
        }
        let rolling = body.speed_mps();
        for _ in 0..500 {
            let flow = body.step(STEP_S, Legs::Rest, 0.0);
            assert_eq!((flow.crank_w, flow.brake_w), (0.0, 0.0));
        }
        assert!((body.speed_mps() - rolling).abs() < 1e-9);
        assert_eq!(body.crank_rad_per_s(), 0.0);
    }

    #[test]
    fn a_brake_at_standstill_does_not_push_back() {
        let mut body = body();
        let flow = body.step(STEP_S, Legs::Rest, 500.0);
        assert_eq!(body.speed_mps(), 0.0);
        assert_eq!(flow.brake_w, 0.0);
    }
}
