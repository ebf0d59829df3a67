//! How often each thing that was injected was found, over all sessions.

use serde_json::{Value, json};

/// Share of intervals that must cover the truth for a check to pass. The intervals are stated at
/// 95 %; a small number of sessions may miss by chance, which the binomial allowance below covers.
const STATED_COVERAGE: f64 = 0.95;

/// One kind of comparison, over all sessions.
#[derive(Clone, Debug, Default)]
pub struct Check {
    /// What is compared.
    pub name: &'static str,
    /// How often it was compared.
    pub tried: u32,
    /// How often the truth lay within the stated interval.
    pub within: u32,
    /// The largest miss, in stated standard uncertainties.
    pub worst_sigmas: f64,
    /// The misses, in words.
    pub misses: Vec<String>,
}

impl Check {
    /// Whether the truth lay within the interval as often as was stated, allowing for chance: the
    /// number of misses is not above what a 95 % interval exceeds once in a thousand self-tests.
    pub fn passes(&self) -> bool {
        let misses = self.tried - self.within;
        let allowed = binomial_upper(self.tried, 1.0 - STATED_COVERAGE, 0.999);
        self.tried > 0 && misses <= allowed
    }
}

/// The smallest count that a binomial variable exceeds with probability below `1 - level`.
fn binomial_upper(tried: u32, share: f64, level: f64) -> u32 {
    let mut term = (1.0 - share).powi(tried as i32);
    let mut sum = term;
    let mut count = 0;
    while sum < level && count < tried {
        term *= f64::from(tried - count) / f64::from(count + 1) * share / (1.0 - share);
        sum += term;
        count += 1;
    }
    count
}

/// All checks.
#[derive(Clone, Debug, Default)]
pub struct Ledger {
    checks: Vec<Check>,
}

impl Ledger {
    /// Notes one comparison of an estimate with the truth.
    pub fn compare(
        &mut self,
        name: &'static str,
        found: f64,
        truth: f64,
        u: f64,
        expanded: f64,
        place: &str,
    ) {
        let check = self.check(name);
        check.tried += 1;
        let miss = (found - truth).abs();
        check.worst_sigmas = check.worst_sigmas.max(miss / u.max(f64::MIN_POSITIVE));
        if miss <= expanded {
            check.within += 1;
        } else {
            check.misses.push(format!(
                "{place}: found {found:.3} ± {expanded:.3}, injected {truth:.3}"
            ));
        }
    }

    /// Notes something that must hold.
    pub fn expect(&mut self, name: &'static str, holds: Result<(), String>) {
        let check = self.check(name);
        check.tried += 1;
        match holds {
            Ok(()) => check.within += 1,
            Err(words) => check.misses.push(words),
        }
    }

    /// The checks in the order they were first made.
    pub fn checks(&self) -> &[Check] {
        &self.checks
    }

    /// Whether all of them pass.
    pub fn passes(&self) -> bool {
        !self.checks.is_empty() && self.checks.iter().all(Check::passes)
    }

    /// The document of `prony selftest --json`.
    pub fn document(&self, sessions: u32) -> Value {
        json!({
            "schema": "prony-selftest-1",
            "program": concat!("prony ", env!("CARGO_PKG_VERSION")),
            "sessions": sessions,
            "passed": self.passes(),
            "checks": self.checks.iter().map(|check| json!({
                "name": check.name,
                "tried": check.tried,
                "within": check.within,
                "worst_sigmas": check.worst_sigmas,
                "passed": check.passes(),
                "misses": check.misses,
            })).collect::<Vec<_>>(),
        })
    }

    fn check(&mut self, name: &'static str) -> &mut Check {
        let index = self
            .checks
            .iter()
            .position(|check| check.name == name)
            .unwrap_or_else(|| {
                self.checks.push(Check {
                    name,
                    ..Check::default()
                });
                self.checks.len() - 1
            });
        &mut self.checks[index]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Quantiles of the binomial distribution with share 0.05: for 100 tries the 99.9 % quantile
    /// is 13 and for 20 tries it is 5 (computed independently with exact fractions).
    #[test]
    fn the_allowance_for_chance_is_the_binomial_quantile() {
        assert_eq!(binomial_upper(20, 0.05, 0.999), 5);
        assert_eq!(binomial_upper(100, 0.05, 0.999), 13);
    }

    #[test]
    fn a_check_without_tries_or_with_too_many_misses_fails() {
        assert!(!Check::default().passes());
        assert!(!Ledger::default().passes());
        let mut ledger = Ledger::default();
        for _ in 0..10 {
            ledger.compare("bias", 4.0, 1.0, 0.5, 1.0, "200 W");
        }
        assert!(!ledger.passes());
        assert_eq!(ledger.checks()[0].misses.len(), 10);
    }
}
