//! What was done to an instrument before a session: zeros that were set, spin-downs that were
//! ridden.
//!
//! A session file keeps it with the instrument, sealed before the first sample, because a zero or
//! a spin-down decides what every value of the ride means.

use crate::evidence::ZeroOffset;
use serde::{Deserialize, Serialize};
use units::Timestamp;

/// What a procedure that measures the losses of a trainer by letting it coast is called.
pub const SPIN_DOWN: &str = "spin-down";
/// What a procedure that finds the zero is called.
pub const ZERO_OFFSET: &str = "zero offset";

/// The calibration record of one instrument, as the session file keeps it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CalibrationRecord {
    /// What was done before the session, the earliest first.
    #[serde(default)]
    pub before_session: Vec<BeforeSession>,
}

/// One procedure that an instrument carried out before the session.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BeforeSession {
    /// `zero offset` or `spin-down`.
    pub procedure: String,
    /// Whether it succeeded.
    pub succeeded: bool,
    /// How long before the session began it ended, s.
    pub seconds_before: f64,
    /// What was found, if that is a number.
    pub value: Option<f64>,
    /// Its unit.
    pub unit: Option<String>,
    /// What came of it, in words.
    pub words: String,
}

impl CalibrationRecord {
    /// The zero that the instrument began the session with, on the session's clock, where it told
    /// one as a torque. Zeros before the last one were replaced by it, whatever it told.
    pub fn zero(&self) -> Option<ZeroOffset> {
        let mut done = self.before_session.iter().rev();
        let last = done.find(|one| one.succeeded && one.procedure == ZERO_OFFSET)?;
        Some(ZeroOffset {
            at: Timestamp::from_secs_f64(-last.seconds_before),
            torque_nm: last.torque_nm()?,
        })
    }
}

impl BeforeSession {
    /// What was found as torque at the crank, N·m. A force becomes one by the length of the crank
    /// only, which nobody asked for.
    pub fn torque_nm(&self) -> Option<f64> {
        self.value.filter(|_| self.unit.as_deref() == Some("N·m"))
    }

    /// What was done, when, and what came of it.
    pub fn sentence(&self) -> String {
        let minutes = self.seconds_before / 60.0;
        let when = if minutes < 1.0 {
            "less than a minute before".to_owned()
        } else {
            format!("{minutes:.0}\u{a0}min before")
        };
        format!("{}, {when}: {}", self.procedure, self.words)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn zero(seconds_before: f64, torque_nm: Option<f64>, succeeded: bool) -> BeforeSession {
        BeforeSession {
            procedure: "zero offset".to_owned(),
            succeeded,
            seconds_before,
            value: torque_nm,
            unit: Some("N·m".to_owned()),
            words: "found".to_owned(),
        }
    }

    #[test]
    fn the_last_zero_that_was_found_is_the_one_that_counts() {
        let record = CalibrationRecord {
            before_session: vec![
                zero(900.0, Some(0.4), true),
                zero(600.0, Some(0.1), true),
                zero(300.0, None, false),
            ],
        };
        let found = record.zero().expect("two were found");
        assert_eq!(found.at, Timestamp::from_secs(-600));
        assert!((found.torque_nm - 0.1).abs() < 1e-12);
        assert_eq!(CalibrationRecord::default().zero(), None);
        // A newer one that told no torque has replaced it all the same.
        let mut newer = record;
        newer.before_session.push(zero(60.0, None, true));
        assert_eq!(newer.zero(), None);
    }

    #[test]
    fn a_sentence_says_how_long_before() {
        let words = zero(719.0, Some(0.1), true).sentence();
        assert_eq!(words, "zero offset, 12\u{a0}min before: found");
        let words = zero(20.0, None, false).sentence();
        assert_eq!(words, "zero offset, less than a minute before: found");
    }
}
