//! How an instrument's word differs from the truth: scale, offset, drift with heat, dependence on
//! flywheel speed, then averaging and delay, then noise, then steps.
//!
//! Averaging runs over energy, so a reported mean is the exact mean of the window it claims.

use crate::noise::{Dice, Wander};
use crate::spec::{SignalSpec, Smoothing};

/// The power at which `drift_pct` is meant, W.
const DRIFT_AT_W: f64 = 200.0;
/// The cadence at which a scale that depends on cadence is right, rpm.
const PIVOT_RPM: f64 = 90.0;
/// A level counts as left when the mean of some seconds has moved by this much, W; and the time
/// constant of that mean, s.
const LEVEL_LEFT_W: f64 = 20.0;
const LEVEL_TAU_S: f64 = 5.0;

/// The running sum of a rate, remembered for as long as the longest look back.
#[derive(Clone, Debug)]
pub(crate) struct History {
    sums: Vec<f64>,
    steps: i64,
    step_s: f64,
}

impl History {
    /// Remembers `look_back_s` at steps of `step_s`.
    pub(crate) fn new(look_back_s: f64, step_s: f64) -> Self {
        let length = (look_back_s / step_s).ceil().max(1.0) as usize + 3;
        Self {
            sums: vec![0.0; length],
            steps: 0,
            step_s,
        }
    }

    /// Adds one step at `rate` per second.
    pub(crate) fn add(&mut self, rate: f64) {
        let sum = self.sum(self.steps) + rate * self.step_s;
        self.steps += 1;
        let length = self.sums.len() as i64;
        self.sums[self.steps.rem_euclid(length) as usize] = sum;
    }

    /// The mean rate over the `window_s` that ended `ago_s` ago; what was before the beginning
    /// counts as zero.
    pub(crate) fn mean(&self, window_s: f64, ago_s: f64) -> f64 {
        let window_s = window_s.max(self.step_s);
        (self.sum_ago(ago_s) - self.sum_ago(ago_s + window_s)) / window_s
    }

    /// The sum as it was `ago_s` ago.
    pub(crate) fn sum_ago(&self, ago_s: f64) -> f64 {
        let at = self.steps as f64 - ago_s / self.step_s;
        let before = at.floor();
        let share = at - before;
        let low = self.sum(before as i64);
        low + (self.sum(before as i64 + 1) - low) * share
    }

    fn sum(&self, step: i64) -> f64 {
        let length = self.sums.len() as i64;
        let oldest = (self.steps - length + 1).max(0);
        let step = step.clamp(oldest, self.steps);
        self.sums[step.rem_euclid(length) as usize]
    }
}

/// One power signal from truth to report.
#[derive(Clone, Debug)]
pub(crate) struct Signal {
    spec: SignalSpec,
    dice: Dice,
    wander: Wander,
    /// Share of the warm-up at steady 200 W; 0 is cold.
    warm: f64,
    /// Warmth at which the last spin-down set the scale.
    warm_at_zero: f64,
    first_order_w: f64,
    cadence_rpm: f64,
    /// Mean of some seconds, the extreme it reached since it last turned, and the side its level
    /// was reached from: 1 from below, −1 from above.
    level_w: f64,
    extreme_w: f64,
    side: f64,
    energy: History,
    ideal_w: f64,
}

impl Signal {
    pub(crate) fn new(spec: SignalSpec, dice: Dice, step_s: f64) -> Self {
        let window_s = match spec.smoothing {
            Smoothing::Mean(window_s) => window_s,
            Smoothing::FirstOrder(_) => step_s,
        };
        Self {
            wander: Wander::new(spec.wander_memory_s),
            warm: 0.0,
            warm_at_zero: 0.0,
            first_order_w: 0.0,
            cadence_rpm: PIVOT_RPM,
            level_w: 0.0,
            extreme_w: 0.0,
            side: 1.0,
            energy: History::new(window_s + spec.delay_s + step_s, step_s),
            ideal_w: 0.0,
            spec,
            dice,
        }
    }

    /// Factor between true and indicated power at this flywheel speed, km/h.
    pub(crate) fn gain(&self, speed_kmh: f64) -> f64 {
        let spec = &self.spec;
        let speed_pct = spec.speed_pct_per_10_kmh * (speed_kmh - spec.pivot_kmh) / 10.0;
        let drift_pct = spec.drift_pct * (self.warm - self.warm_at_zero);
        let cadence_pct = spec.cadence_pct_per_10_rpm * (self.cadence_rpm - PIVOT_RPM) / 10.0;
        let side_pct = 0.5 * spec.hysteresis_pct * self.side;
        (1.0 + spec.gain_pct / 100.0)
            * (1.0 + speed_pct / 100.0)
            * (1.0 + drift_pct / 100.0)
            * (1.0 + (cadence_pct + side_pct) / 100.0)
    }

    /// Tells the cadence, on which the scale may depend.
    pub(crate) fn turns(&mut self, cadence_rpm: f64) {
        self.cadence_rpm = cadence_rpm;
    }

    /// Notes from which side the present level was reached.
    fn note_level(&mut self, step_s: f64, true_w: f64) {
        self.level_w += (true_w - self.level_w) * step_s / LEVEL_TAU_S;
        if (self.level_w - self.extreme_w) * self.side > 0.0 {
            self.extreme_w = self.level_w;
        } else if (self.extreme_w - self.level_w) * self.side > LEVEL_LEFT_W {
            self.side = -self.side;
            self.extreme_w = self.level_w;
        }
    }

    /// Takes in one step of truth and gives what would be indicated without noise, averaging and
    /// delay, W. `extra_w` is an error that somebody else knows of, a wrong zero for example.
    pub(crate) fn absorb(
        &mut self,
        step_s: f64,
        true_w: f64,
        extra_w: f64,
        speed_kmh: f64,
        turning: Turning,
    ) -> f64 {
        self.warm += (true_w.max(0.0) / DRIFT_AT_W - self.warm) * step_s / self.spec.drift_tau_s;
        self.note_level(step_s, true_w);
        let offset_w = match turning {
            Turning::Yes => self.spec.offset_w + extra_w,
            Turning::No => 0.0,
        };
        self.ideal_w = true_w * self.gain(speed_kmh) + offset_w;
        let passed_w = match self.spec.smoothing {
            Smoothing::Mean(_) => self.ideal_w,
            Smoothing::FirstOrder(tau_s) => {
                self.first_order_w +=
                    (self.ideal_w - self.first_order_w) * step_s / (tau_s + step_s);
                self.first_order_w
            }
        };
        self.energy.add(passed_w);
        self.ideal_w
    }

    /// What the last step would be indicated as without noise, averaging and delay, W.
    pub(crate) fn ideal_w(&self) -> f64 {
        self.ideal_w
    }

    /// Averaged and delayed, without noise, W.
    pub(crate) fn averaged_w(&self) -> f64 {
        let window_s = match self.spec.smoothing {
            Smoothing::Mean(window_s) => window_s,
            Smoothing::FirstOrder(_) => 0.0,
        };
        self.energy.mean(window_s, self.spec.delay_s)
    }

    /// Adds the noise of one report to a power, `since_s` after the report before it, and rounds
    /// it to the steps the instrument knows.
    pub(crate) fn report(&mut self, power_w: f64, since_s: f64) -> f64 {
        let spec = &self.spec;
        let stray_pct = spec.noise_pct * self.dice.normal()
            + spec.wander_pct * self.wander.step(since_s, &mut self.dice);
        // An instrument at rest is quiet: its noise comes from turning.
        let constant_w = if power_w.abs() > 1.0 {
            spec.noise_w * self.dice.normal()
        } else {
            0.0
        };
        let noisy_w = power_w * (1.0 + stray_pct / 100.0) + constant_w;
        (noisy_w / spec.step_w).round() * spec.step_w
    }

    /// Takes the drift there is now as the new normal, as a good spin-down does; gives the drift
    /// that was taken away, %.
    pub(crate) fn forget_drift(&mut self) -> f64 {
        let drift_pct = self.spec.drift_pct * (self.warm - self.warm_at_zero);
        self.warm_at_zero = self.warm;
        drift_pct
    }
}

/// Whether the instrument turns; a constant error shows only then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Turning {
    /// It turns.
    Yes,
    /// It stands still.
    No,
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEP_S: f64 = 0.02;

    fn quiet() -> SignalSpec {
        SignalSpec {
            noise_pct: 0.0,
            noise_w: 0.0,
            ..SignalSpec::default()
        }
    }

    fn after(spec: SignalSpec, seconds: f64, power_w: f64, speed_kmh: f64) -> Signal {
        let mut signal = Signal::new(spec, Dice::new(1, 1), STEP_S);
        for _ in 0..(seconds / STEP_S).round() as usize {
            signal.absorb(STEP_S, power_w, 0.0, speed_kmh, Turning::Yes);
        }
        signal
    }

    /// By hand: 200 W × 1.04 × (1 + 0.8 % × (40 − 25)/10) + 2 W = 212.496 W.
    #[test]
    fn scale_speed_and_offset_add_up() {
        let spec = SignalSpec {
            gain_pct: 4.0,
            offset_w: 2.0,
            speed_pct_per_10_kmh: 0.8,
            ..quiet()
        };
        assert!((after(spec, 5.0, 200.0, 40.0).averaged_w() - 212.496).abs() < 1e-6);
    }

    /// A first-order step response reaches 1 − 1/e = 63.2121 % after one time constant.
    #[test]
    fn drift_and_first_order_smoothing_follow_the_exponential() {
        let spec = SignalSpec {
            drift_pct: -1.5,
            drift_tau_s: 60.0,
            ..quiet()
        };
        let drift = 1.0 - after(spec, 60.0, 200.0, 25.0).ideal_w() / 200.0;
        assert!((drift - 0.015 * 0.632_121).abs() < 1e-5, "{drift}");
        let spec = SignalSpec {
            smoothing: Smoothing::FirstOrder(3.0),
            ..quiet()
        };
        let share = after(spec, 3.0, 200.0, 25.0).averaged_w() / 200.0;
        assert!((share - 0.632_121).abs() < 0.003, "{share}");
    }

    /// A mean over 4 s, delayed by 1 s, is at a quarter 2 s after the step.
    #[test]
    fn a_delayed_mean_trails_as_it_should() {
        let spec = SignalSpec {
            smoothing: Smoothing::Mean(4.0),
            delay_s: 1.0,
            ..quiet()
        };
        let mut signal = after(spec, 2.0, 100.0, 25.0);
        assert!((signal.averaged_w() - 25.0).abs() < 1e-9);
        for _ in 0..500 {
            signal.absorb(STEP_S, 100.0, 0.0, 25.0, Turning::Yes);
        }
        assert!((signal.averaged_w() - 100.0).abs() < 1e-9);
    }
}
