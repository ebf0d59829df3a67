//! Claims with a limit on one side, or a nominal value with a tolerance: largest power, largest
//! slope, noise, mass, dimensions. The same rule as for power accuracy, guarded both ways.

use crate::outcome::Estimate;
use crate::verdict::{DecisionRule, Judgement, Verdict};

/// A limit as claimed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Limit {
    /// At least so much.
    AtLeast(f64),
    /// At most so much.
    AtMost(f64),
    /// Between two values.
    Between(f64, f64),
}

/// What a measurement below an "at least" means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reached {
    /// The device was driven to its end: less than claimed speaks against it.
    End,
    /// Something else ended the trial (the rider's legs): less than claimed says nothing.
    NotEnd,
}

impl Limit {
    /// Chance that the true value conforms.
    pub fn conformance(self, rule: &DecisionRule, measured: Estimate) -> f64 {
        let Estimate { value, u, dof } = measured;
        let below = |limit: f64| {
            if u > 0.0 {
                rule.coverage.probability((limit - value) / u, dof)
            } else {
                f64::from(u8::from(value <= limit))
            }
        };
        let p = match self {
            Self::AtLeast(limit) if u > 0.0 => 1.0 - below(limit),
            Self::AtLeast(limit) => f64::from(u8::from(value >= limit)),
            Self::AtMost(limit) => below(limit),
            Self::Between(low, high) if u > 0.0 => below(high) - below(low),
            Self::Between(low, high) => f64::from(u8::from(low <= value && value <= high)),
        };
        p.clamp(0.0, 1.0)
    }

    /// Whether the true value is beyond one limit with the probability asked for. Of two limits
    /// each counts on its own: a large uncertainty alone speaks against nothing.
    fn is_beyond(self, rule: &DecisionRule, measured: Estimate) -> bool {
        let most = 1.0 - rule.shown_at;
        match self {
            Self::Between(low, high) => {
                Self::AtLeast(low).conformance(rule, measured) <= most
                    || Self::AtMost(high).conformance(rule, measured) <= most
            }
            _ => self.conformance(rule, measured) <= most,
        }
    }

    /// Judges a measured value. A trial that did not reach the device's end can show an "at least"
    /// to be met, but not to be missed.
    pub fn judge(self, rule: &DecisionRule, measured: Estimate, reached: Reached) -> Judgement {
        let p_conform = self.conformance(rule, measured);
        let k = rule.coverage.factor(measured.dof);
        let expanded = k * measured.u;
        let capability = match self {
            Self::Between(low, high) if expanded > 0.0 => 0.5 * (high - low).abs() / expanded,
            _ => f64::MAX,
        };
        let inconclusive =
            matches!(self, Self::AtLeast(_)) && reached == Reached::NotEnd && p_conform < 0.5;
        let verdict = if inconclusive {
            Verdict::NotTested
        } else if self.is_beyond(rule, measured) {
            Verdict::ShownBeyond
        } else if capability < 1.0 {
            Verdict::BenchNotCapable
        } else if p_conform >= rule.shown_at {
            Verdict::ShownWithin
        } else if p_conform >= 0.5 {
            Verdict::LikelyWithin
        } else {
            Verdict::LikelyBeyond
        };
        Judgement {
            verdict,
            p_conform,
            k,
            expanded,
            capability,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::normal::Coverage;

    fn rule() -> DecisionRule {
        DecisionRule {
            coverage: Coverage::KTwo,
            ..DecisionRule::default()
        }
    }

    fn measured(value: f64, u: f64) -> Estimate {
        Estimate {
            value,
            u,
            dof: f64::MAX,
        }
    }

    /// Two examples of JCGM 106:2012, from memory of the document (0.92 and 0.66); the digits
    /// were recomputed for the project's check list.
    #[test]
    fn conformance_of_the_guide() {
        let diode = Limit::AtMost(-5.40).conformance(&rule(), measured(-5.47, 0.05));
        assert!((diode - 0.9192433).abs() < 5e-8);
        let oil = Limit::Between(12.5, 16.3).conformance(&rule(), measured(13.6, 1.8));
        assert!((oil - 0.6626298).abs() < 5e-8);
    }

    #[test]
    fn tired_legs_say_nothing_against_a_device() {
        let claim = Limit::AtLeast(2000.0);
        let legs = claim.judge(&rule(), measured(900.0, 9.0), Reached::NotEnd);
        assert_eq!(legs.verdict, Verdict::NotTested);
        let end = claim.judge(&rule(), measured(900.0, 9.0), Reached::End);
        assert_eq!(end.verdict, Verdict::ShownBeyond);
        let met = claim.judge(&rule(), measured(2100.0, 21.0), Reached::NotEnd);
        assert_eq!(met.verdict, Verdict::ShownWithin);
    }

    #[test]
    fn guards_on_both_sides() {
        for (value, verdict) in [
            (50.0, Verdict::ShownWithin),
            (54.0, Verdict::LikelyWithin),
            (56.0, Verdict::LikelyBeyond),
            (60.0, Verdict::ShownBeyond),
        ] {
            let found = Limit::AtMost(55.0).judge(&rule(), measured(value, 1.5), Reached::End);
            assert_eq!(found.verdict, verdict, "{value} dB");
        }
        let blunt = Limit::Between(9.5, 10.5).judge(&rule(), measured(10.0, 1.0), Reached::End);
        assert_eq!(blunt.verdict, Verdict::BenchNotCapable);
        let hopeless = Limit::Between(9.9, 10.1).judge(&rule(), measured(10.0, 9.0), Reached::End);
        assert_eq!(hopeless.verdict, Verdict::BenchNotCapable);
        let exact = Limit::AtLeast(16.0).judge(&rule(), measured(16.0, 0.0), Reached::End);
        assert_eq!(exact.verdict, Verdict::ShownWithin);
    }
}
