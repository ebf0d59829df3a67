//! Global risk of a decision rule: how often, over a population of items, an acceptance or a
//! rejection would be wrong (JCGM 106:2012, clause 9.5).
//!
//! A verdict on one device rests on its own conformance probability; this module is for planning:
//! given what is known about devices of a kind, it says what a guard band costs.

use crate::stats::normal::normal_probability;

/// Steps of the numerical integration over true values; Simpson's rule needs an even number.
const STEPS: usize = 20_000;

/// A rule: a tolerance interval, an acceptance interval and the uncertainty of measuring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rule {
    /// Lower and upper tolerance limit; infinite where there is none.
    pub tolerance: [f64; 2],
    /// Lower and upper acceptance limit; infinite where there is none.
    pub acceptance: [f64; 2],
    /// Standard uncertainty of one measurement, normal.
    pub u: f64,
}

/// The shares of a population that a rule gets wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Risk {
    /// Share of items outside the tolerance.
    pub nonconforming: f64,
    /// Share of items that are outside the tolerance and accepted (consumer's risk).
    pub accepted_wrongly: f64,
    /// Share of items that are inside the tolerance and rejected (producer's risk).
    pub rejected_wrongly: f64,
}

impl Rule {
    /// Probability that an item with this true value is accepted.
    pub fn acceptance_probability(&self, true_value: f64) -> f64 {
        let [low, high] = self.acceptance;
        normal_probability((high - true_value) / self.u)
            - normal_probability((low - true_value) / self.u)
    }

    /// The risks over a population with a density of true values that is nil outside `support`.
    /// The density need not be normalised.
    pub fn risk(&self, density: impl Fn(f64) -> f64, support: [f64; 2]) -> Risk {
        let [low, high] = support;
        let [lower, upper] = self.tolerance.map(|limit| limit.clamp(low, high));
        let outside = |f: &dyn Fn(f64) -> f64| simpson(f, low, lower) + simpson(f, upper, high);
        let total = simpson(&density, low, lower)
            + simpson(&density, lower, upper)
            + simpson(&density, upper, high);
        if total <= 0.0 || !total.is_finite() {
            return Risk {
                nonconforming: 0.0,
                accepted_wrongly: 0.0,
                rejected_wrongly: 0.0,
            };
        }
        let accepted = |value: f64| density(value) * self.acceptance_probability(value);
        let rejected = |value: f64| density(value) * (1.0 - self.acceptance_probability(value));
        Risk {
            nonconforming: outside(&density) / total,
            accepted_wrongly: outside(&accepted) / total,
            rejected_wrongly: simpson(&rejected, lower, upper) / total,
        }
    }
}

fn simpson(f: &dyn Fn(f64) -> f64, low: f64, high: f64) -> f64 {
    if high <= low {
        return 0.0;
    }
    let step = (high - low) / STEPS as f64;
    let inner: f64 = (1..STEPS)
        .map(|i| f(low + i as f64 * step) * if i % 2 == 1 { 4.0 } else { 2.0 })
        .sum();
    (f(low) + inner + f(high)) * step / 3.0
}
