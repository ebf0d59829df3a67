//! Chance with a seed: every part of the rig draws from a stream of its own, so that one more
//! draw in one place never changes what another place does.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

/// A private stream of random numbers.
#[derive(Clone, Debug)]
pub(crate) struct Dice(ChaCha8Rng);

impl Dice {
    /// The stream number `stream` of the rig with this seed.
    pub(crate) fn new(seed: u64, stream: u64) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        generator.set_stream(stream);
        Self(generator)
    }

    /// A draw from the normal distribution with mean 0 and standard deviation 1.
    pub(crate) fn normal(&mut self) -> f64 {
        self.0.sample(StandardNormal)
    }

    /// A draw between `low` and `high`, every value equally likely.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// Whether something of this probability happens now.
    pub(crate) fn happens(&mut self, probability: f64) -> bool {
        probability > 0.0 && self.0.random::<f64>() < probability
    }
}

/// A value that strays around zero with a memory: the Ornstein–Uhlenbeck process, which sampled at
/// equal steps is first-order autoregressive with coefficient exp(−step/memory).
#[derive(Clone, Debug)]
pub(crate) struct Wander {
    value: f64,
    memory_s: f64,
    /// Step the two coefficients below were computed for.
    step_s: f64,
    keep: f64,
    kick: f64,
}

impl Wander {
    /// Standard deviation 1, correlation time `memory_s`.
    pub(crate) fn new(memory_s: f64) -> Self {
        Self {
            value: 0.0,
            memory_s,
            step_s: 0.0,
            keep: 0.0,
            kick: 1.0,
        }
    }

    /// Moves on by `step_s` and gives the new value.
    #[expect(
        clippy::float_cmp,
        reason = "the step is the same constant nearly always"
    )]
    pub(crate) fn step(&mut self, step_s: f64, dice: &mut Dice) -> f64 {
        if step_s != self.step_s {
            self.step_s = step_s;
            self.keep = if self.memory_s > 0.0 {
                (-step_s / self.memory_s).exp()
            } else {
                0.0
            };
            self.kick = (1.0 - self.keep * self.keep).sqrt();
        }
        self.value = self.keep * self.value + self.kick * dice.normal();
        self.value
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The lag-one autocorrelation of an Ornstein–Uhlenbeck process sampled every h is exp(−h/τ)
    /// (Uhlenbeck and Ornstein 1930): here exp(−0.5) = 0.606531.
    #[test]
    fn a_wander_has_the_memory_it_was_given() {
        let mut dice = Dice::new(1, 0);
        let mut wander = Wander::new(2.0);
        let values: Vec<f64> = (0..200_000).map(|_| wander.step(1.0, &mut dice)).collect();
        let variance = values.iter().map(|v| v * v).sum::<f64>() / values.len() as f64;
        let lagged =
            values.windows(2).map(|w| w[0] * w[1]).sum::<f64>() / (values.len() - 1) as f64;
        assert!((variance - 1.0).abs() < 0.03, "variance {variance}");
        assert!(
            (lagged / variance - 0.606_531).abs() < 0.01,
            "memory {}",
            lagged / variance
        );
    }

    #[test]
    fn streams_of_one_seed_differ_and_repeat() {
        let draw = |seed, stream| Dice::new(seed, stream).normal();
        assert_eq!(draw(7, 1).to_bits(), draw(7, 1).to_bits());
        assert_ne!(draw(7, 1).to_bits(), draw(7, 2).to_bits());
        assert_ne!(draw(7, 1).to_bits(), draw(8, 1).to_bits());
    }
}
