//! The machine that brakes.

use serde::{Deserialize, Serialize};

/// The machine that brakes, its control loop and its heat.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct BrakeSpec {
    /// Moving mass with the flywheel's kinetic energy at road speed, kg.
    pub equivalent_mass_kg: f64,
    /// From a new load to the first reaction, s.
    pub dead_time_s: f64,
    /// Fastest rise of the power aimed at, W/s.
    pub rise_w_per_s: f64,
    /// Fastest fall of the power aimed at, W/s.
    pub fall_w_per_s: f64,
    /// Road speed below which a target power is let go, m/s; it is taken up again from zero.
    pub power_from_mps: f64,
    /// Averaging of the power the loop listens to, s.
    pub listen_s: f64,
    /// Integral gain of the loop, 1/s.
    pub loop_per_s: f64,
    /// Time constant of the actuator, s.
    pub actuator_s: f64,
    /// Least force, N, at standstill …
    pub floor_n: f64,
    /// … and how it grows with the square of the speed, N/(m/s)².
    pub floor_n_per_mps2: f64,
    /// Greatest force, N.
    pub ceiling_n: f64,
    /// Greatest force per speed at low speed, N/(m/s).
    pub ceiling_n_per_mps: f64,
    /// Force at the highest resistance level and high speed, N.
    pub full_resistance_n: f64,
    /// Highest resistance level.
    pub resistance_most: f64,
    /// Lowest and highest power that may be asked for, W.
    pub power_range_w: (i16, i16),
    /// Mass of rider and bicycle in slope simulation, kg.
    pub simulated_mass_kg: f64,
    /// Steepest slope it can simulate, %.
    pub grade_most_pct: f64,
    /// Share of the commanded grade that is simulated: 1 is honest.
    pub grade_share: f64,
    /// Time constant of the casing's warm-up, s.
    pub warm_up_tau_s: f64,
    /// Rise of the casing at steady 200 W, K.
    pub warm_up_k: f64,
    /// Temperature of the room, °C.
    pub room_c: f64,
}

impl Default for BrakeSpec {
    fn default() -> Self {
        Self {
            equivalent_mass_kg: 32.0,
            dead_time_s: 0.35,
            rise_w_per_s: 120.0,
            fall_w_per_s: 200.0,
            power_from_mps: 1.8,
            listen_s: 0.3,
            // Slow against the flywheel and the legs, which are an integrator with a controller of its
            // own: a faster loop rings with a period of about ten seconds.
            loop_per_s: 0.15,
            actuator_s: 0.25,
            floor_n: 3.0,
            floor_n_per_mps2: 0.035,
            ceiling_n: 260.0,
            ceiling_n_per_mps: 55.0,
            full_resistance_n: 130.0,
            resistance_most: 25.0,
            power_range_w: (0, 2000),
            simulated_mass_kg: 83.0,
            grade_most_pct: 16.0,
            grade_share: 1.0,
            warm_up_tau_s: 600.0,
            warm_up_k: 22.0,
            room_c: 20.0,
        }
    }
}
