//! Everything that happens in a session apart from received bytes, as one closed list.
//!
//! Happenings are the rows of the session file's event table. Some of them are *inputs* of the
//! bench (the operator's commands, link news, answers to writes, a failed recording): together
//! with the packets they are all that a replay needs. The others are what the bench concluded; a
//! replay concludes them again, and a test compares the two.

use crate::command::Command;
use crate::model::Severity;
use crate::rules::RideRules;
use serde::{Deserialize, Serialize};

/// One thing that happened. Moments are kept beside it, in the row.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", content = "body", rename_all = "kebab-case")]
pub enum Happening {
    /// The rules of the ride, first in every session.
    Rules(RideRules),
    /// Input: the operator asked for something.
    Command(Command),
    /// Input: a link came up or went down.
    Link {
        /// Which instrument.
        source: u16,
        /// Whether it is linked now.
        up: bool,
        /// Number of the link.
        epoch: u32,
        /// What is known about it.
        words: String,
    },
    /// Input: an instrument answered a write; `error` is absent if it was accepted.
    WriteReply {
        /// Which instrument.
        source: u16,
        /// Characteristic in hexadecimal.
        characteristic: String,
        /// Attribute error code, if the instrument gave one.
        code: Option<u8>,
        /// What went wrong, in words.
        error: Option<String>,
    },
    /// Input: the recording failed.
    RecordingFailed {
        /// What the recorder said.
        words: String,
    },
    /// Input: something is the matter with the instruments.
    Trouble {
        /// In words, with the remedy.
        words: String,
    },
    /// Input: the program did not get to run for a while.
    Stalled,
    /// Bytes were written to an instrument.
    Write {
        /// Which instrument.
        source: u16,
        /// Characteristic in hexadecimal.
        characteristic: String,
        /// The bytes in hexadecimal.
        bytes: String,
    },
    /// What the control-point conversation came to.
    Control {
        /// In words.
        words: String,
    },
    /// A step began.
    StepBegan {
        /// Index in the flattened plan.
        index: usize,
        /// First attempt is 1.
        attempt: u32,
        /// Title in words.
        title: String,
    },
    /// A step ended.
    StepEnded {
        /// Index in the flattened plan.
        index: usize,
        /// First attempt is 1.
        attempt: u32,
        /// Why, in words.
        why: String,
    },
    /// The load asked for changed.
    Target {
        /// In words: "200 W", "released".
        words: String,
        /// Power asked for, W.
        power_w: Option<f64>,
    },
    /// The rider was told something.
    Cue {
        /// In words.
        words: String,
    },
    /// The brake was released.
    Release {
        /// Why.
        reason: String,
    },
    /// The rider or the operator agreed to what was asked.
    Consent {
        /// What was asked.
        to: String,
    },
    /// From here on nothing may be judged.
    InvalidFrom {
        /// Why.
        reason: String,
    },
    /// It may be judged again.
    ValidAgain,
    /// A window out of tolerance, or a drop-out.
    Flag {
        /// Beginning, ns from session start.
        from_ns: i64,
        /// End, ns from session start.
        to_ns: i64,
        /// How severe.
        severity: Severity,
        /// In words, with numbers and units.
        words: String,
    },
    /// What came of a procedure that an instrument carries out itself.
    Calibration {
        /// Which instrument.
        source: u16,
        /// `spin-down`, `zero offset` or `crank length`.
        procedure: String,
        /// `wanted` by the instrument, `begun`, `low speed`, `high speed`, `accelerate`, `stop pedalling`, `succeeded`,
        /// `failed` or `broken off`.
        state: String,
        /// What was told or found, if that is a number.
        value: Option<f64>,
        /// Its unit.
        unit: Option<String>,
        /// The same in words.
        words: String,
    },
    /// The rule for ending holds early looked at the condition being ridden.
    Decision {
        /// Which condition, in words.
        condition: String,
        /// What the look said, in words.
        words: String,
        /// Whether its question is decided, so that the hold may end.
        decided: bool,
    },
    /// Bytes that did not mean what they should.
    Anomaly {
        /// Which instrument.
        source: u16,
        /// In words.
        words: String,
    },
    /// A remark of the operator about this moment.
    Mark {
        /// The remark.
        words: String,
    },
    /// Something the operator was told.
    Notice {
        /// In words.
        words: String,
    },
    /// The session ended.
    Ended {
        /// Why.
        reason: String,
    },
}

impl Happening {
    /// The row's `kind` and its `body`.
    pub fn to_row(&self) -> (String, serde_json::Value) {
        let mut value = serde_json::to_value(self).expect("a happening holds only plain values");
        let kind = value["kind"].as_str().unwrap_or_default().to_owned();
        (kind, value["body"].take())
    }

    /// Reads a row back.
    ///
    /// # Errors
    /// If the kind is unknown or the body does not fit it; the message names both.
    pub fn from_row(kind: &str, body: &serde_json::Value) -> Result<Self, UnknownHappening> {
        serde_json::from_value(serde_json::json!({ "kind": kind, "body": body })).map_err(|error| {
            UnknownHappening {
                kind: kind.to_owned(),
                reason: error.to_string(),
            }
        })
    }

    /// Whether a replay needs it: commands, links, answers and failures come from outside.
    pub fn is_input(&self) -> bool {
        matches!(
            self,
            Self::Command(_)
                | Self::Link { .. }
                | Self::WriteReply { .. }
                | Self::RecordingFailed { .. }
                | Self::Trouble { .. }
                | Self::Stalled
        )
    }
}

/// A row of the event table that this version of the program does not understand.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("event of kind {kind:?} cannot be read: {reason}")]
pub struct UnknownHappening {
    /// Its kind.
    pub kind: String,
    /// What is wrong.
    pub reason: String,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_reads_back_as_itself() {
        for happening in [
            Happening::Command(Command::Start),
            Happening::Command(Command::Mark("chain noise".to_owned())),
            Happening::Link {
                source: 2,
                up: false,
                epoch: 3,
                words: "no packets".to_owned(),
            },
            Happening::Target {
                words: "released".to_owned(),
                power_w: None,
            },
            Happening::Flag {
                from_ns: 1,
                to_ns: 30_000_000_001,
                severity: Severity::ShownBeyond,
                words: "+4.1 %".to_owned(),
            },
        ] {
            let (kind, body) = happening.to_row();
            assert_eq!(Happening::from_row(&kind, &body), Ok(happening));
        }
        assert!(Happening::from_row("weather", &serde_json::Value::Null).is_err());
    }
}
