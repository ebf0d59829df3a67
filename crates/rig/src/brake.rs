//! The brake: what load it was told, how it tries to hold it, and how far it can.
//!
//! In power control the brake regulates what *it* believes the power to be. A brake that reads
//! four percent too much therefore brakes four percent too little, and its own word looks perfect.

use crate::load::{Load, Slope};
use crate::spec::BrakeSpec;
use units::{STANDARD_GRAVITY_M_PER_S2, Span, Timestamp};

/// Below this road speed a target power is not divided by the true speed any more, m/s.
const SLOWEST_MPS: f64 = 0.8;
/// Most that the loop's integral part may add or take, as a share of the set-point.
const INTEGRAL_SHARE: f64 = 0.3;
/// The same, constant part, W.
const INTEGRAL_W: f64 = 20.0;

/// A brake with its control loop.
#[derive(Clone, Debug)]
pub(crate) struct Brake {
    spec: BrakeSpec,
    told: Load,
    acting: Load,
    awaiting: Vec<(Timestamp, Load)>,
    set_point_w: f64,
    integral_w: f64,
    heard_w: f64,
    force_n: f64,
}

/// What the brake's own instrument makes of the truth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct OwnWord {
    /// Factor between true and indicated power.
    pub(crate) gain: f64,
    /// Indicated power without noise, smoothing and delay, W.
    pub(crate) indicated_w: f64,
}

impl Brake {
    pub(crate) fn new(spec: BrakeSpec) -> Self {
        Self {
            spec,
            told: Load::Released,
            acting: Load::Released,
            awaiting: Vec::new(),
            set_point_w: 0.0,
            integral_w: 0.0,
            heard_w: 0.0,
            force_n: 0.0,
        }
    }

    /// Gives the brake another load. A release acts at once, everything else after the dead time.
    pub(crate) fn tell(&mut self, now: Timestamp, load: Load) {
        self.told = load;
        if load == Load::Released {
            self.awaiting.clear();
            self.enter(load);
        } else {
            self.awaiting
                .push((now + Span::from_secs_f64(self.spec.dead_time_s), load));
        }
    }

    /// The load last told.
    pub(crate) fn told(&self) -> Load {
        self.told
    }

    /// The load acted upon now.
    pub(crate) fn acting(&self) -> Load {
        self.acting
    }

    fn enter(&mut self, load: Load) {
        if let (Load::Power(_), false) = (load, matches!(self.acting, Load::Power(_))) {
            // Power control starts from the power that is there, not from a jump.
            self.set_point_w = self.heard_w.max(0.0);
            self.integral_w = 0.0;
        }
        self.acting = load;
    }

    /// The force on the flywheel in the coming step, N, from the speed now and what the brake's
    /// own instrument said in the last one.
    pub(crate) fn step(
        &mut self,
        now: Timestamp,
        step_s: f64,
        speed_mps: f64,
        word: OwnWord,
    ) -> f64 {
        while let Some(&(due, load)) = self.awaiting.first() {
            if due > now {
                break;
            }
            self.awaiting.remove(0);
            self.enter(load);
        }
        let listen = step_s / (self.spec.listen_s + step_s);
        self.heard_w += (word.indicated_w - self.heard_w) * listen;

        let least_n = self.floor_n(speed_mps);
        let most_n = self.ceiling_n(speed_mps).max(least_n);
        let believed_n = match self.acting {
            Load::Released => 0.0,
            Load::Level(level) => self.level_n(level, speed_mps),
            Load::Slope(slope) => self.slope_n(slope, speed_mps),
            Load::Power(target_w) => self.power_n(target_w, step_s, speed_mps),
        };
        let wanted_n = (believed_n / word.gain).clamp(least_n, most_n);
        if let Load::Power(_) = self.acting {
            let error_w = self.set_point_w - self.heard_w;
            let short_n = believed_n / word.gain - wanted_n;
            // At its limits the loop may only learn what leads away from them.
            if short_n * error_w <= 0.0 {
                let limit_w = INTEGRAL_W + INTEGRAL_SHARE * self.set_point_w;
                self.integral_w = (self.integral_w + error_w * self.spec.loop_per_s * step_s)
                    .clamp(-limit_w, limit_w);
            }
        }
        let follow = step_s / (self.spec.actuator_s + step_s);
        self.force_n += (wanted_n - self.force_n) * follow;
        self.force_n = self.force_n.clamp(least_n.min(self.force_n), most_n);
        self.force_n
    }

    fn power_n(&mut self, target_w: f64, step_s: f64, speed_mps: f64) -> f64 {
        if speed_mps < self.spec.power_from_mps {
            // Nobody could start, or start again after a stall, against a full target.
            self.set_point_w = 0.0;
            self.integral_w = 0.0;
            return 0.0;
        }
        let change_w = target_w - self.set_point_w;
        let rise_w = self.spec.rise_w_per_s * step_s;
        let fall_w = self.spec.fall_w_per_s * step_s;
        self.set_point_w += change_w.clamp(-fall_w, rise_w);
        ((self.set_point_w + self.integral_w) / speed_mps.max(SLOWEST_MPS)).max(0.0)
    }

    /// An eddy-current-like brake: nothing at standstill, most of its force from jogging speed on.
    fn level_n(&self, level: f64, speed_mps: f64) -> f64 {
        let share = level / self.spec.resistance_most;
        share * self.spec.full_resistance_n * speed_mps / (speed_mps + 3.0)
    }

    /// Weight along the slope, rolling resistance and air. The air coefficient is taken as
    /// frontal area × drag coefficient × density, so the force is half of it times the square
    /// of the air speed; head wind positive. Both readings are practice, not stated by the
    /// service text that was read.
    fn slope_n(&self, slope: Slope, speed_mps: f64) -> f64 {
        let most_pct = self.spec.grade_most_pct;
        let grade = slope.grade_pct.clamp(-most_pct, most_pct) * self.spec.grade_share / 100.0;
        let angle = grade.atan();
        let weight_n = self.spec.simulated_mass_kg * STANDARD_GRAVITY_M_PER_S2;
        let air_mps = speed_mps + slope.head_wind_mps;
        weight_n * (angle.sin() + slope.rolling * angle.cos())
            + 0.5 * slope.air_kg_per_m * air_mps * air_mps.abs()
    }

    /// The least force at this speed: bearings, belt and air of the flywheel.
    fn floor_n(&self, speed_mps: f64) -> f64 {
        self.spec.floor_n + self.spec.floor_n_per_mps2 * speed_mps * speed_mps
    }

    /// The most force at this speed.
    fn ceiling_n(&self, speed_mps: f64) -> f64 {
        self.spec
            .ceiling_n
            .min(self.spec.ceiling_n_per_mps * speed_mps)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settle(load: Load, speed_mps: f64, gain: f64) -> f64 {
        let mut brake = Brake::new(BrakeSpec::default());
        brake.tell(Timestamp::ZERO, load);
        let (step_s, mut force_n) = (0.02, 0.0);
        for step in 0..3000 {
            let word = OwnWord {
                gain,
                indicated_w: gain * force_n * speed_mps,
            };
            force_n = brake.step(Timestamp::from_millis(20 * step), step_s, speed_mps, word);
        }
        force_n
    }

    /// P = F·v: 200 W at 8 m/s are 25 N, and a brake that reads 4 % too much brakes 25/1.04 N.
    #[test]
    fn power_control_holds_what_the_brake_believes() {
        assert!((settle(Load::Power(200.0), 8.0, 1.0) - 25.0).abs() < 0.01);
        assert!((settle(Load::Power(200.0), 8.0, 1.04) - 25.0 / 1.04).abs() < 0.01);
    }

    /// m·g·sin(arctan 0.05) + Crr·m·g·cos(arctan 0.05) + Cw/2·v², by hand for 83 kg, 5 %,
    /// Crr 0.004, Cw 0.51 and 5 m/s: 40.6468 + 3.2517 + 6.375 N.
    #[test]
    fn a_slope_is_weight_rolling_and_air() {
        let slope = Slope {
            head_wind_mps: 0.0,
            grade_pct: 5.0,
            rolling: 0.004,
            air_kg_per_m: 0.51,
        };
        let force_n = settle(Load::Slope(slope), 5.0, 1.0);
        assert!((force_n - 50.274).abs() < 0.01, "{force_n}");
    }

    #[test]
    fn it_cannot_brake_below_its_floor_nor_above_its_ceiling() {
        let spec = BrakeSpec::default();
        let floor_n = spec.floor_n + spec.floor_n_per_mps2 * 144.0;
        assert!((settle(Load::Power(10.0), 12.0, 1.0) - floor_n).abs() < 1e-6);
        let ceiling_n = spec.ceiling_n.min(spec.ceiling_n_per_mps * 2.0);
        assert!((settle(Load::Power(2000.0), 2.0, 1.0) - ceiling_n).abs() < 1e-6);
    }
}
