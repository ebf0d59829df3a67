//! What the conversation with a trainer's control point came to, in words for the record.

use super::demand::Demand;
use std::fmt;
use units::{AttError, Span};

/// What the controller wants done or has to tell.
#[derive(Clone, Debug, PartialEq)]
pub enum ControlOutput {
    /// Write these bytes to the control point, with response.
    Write(Vec<u8>),
    /// Something happened.
    Event(ControlEvent),
}

/// What the conversation came to.
#[derive(Clone, Debug, PartialEq)]
pub enum ControlEvent {
    /// The trainer gave control.
    Granted,
    /// The trainer confirmed a demand.
    Confirmed {
        /// Which.
        demand: Demand,
        /// Time from the write to the confirmation.
        after: Span,
    },
    /// No answer for three seconds; measured power will have to tell.
    Unconfirmed {
        /// Which demand.
        demand: Option<Demand>,
    },
    /// No answer for thirty seconds: by the standard this link is of no more use for control.
    TimedOut,
    /// The trainer does not take what is demanded; something else stands in for it.
    Instead {
        /// What is demanded.
        demand: Demand,
        /// What is asked for instead.
        asked: Demand,
    },
    /// The trainer refused, or the demand cannot be put to it.
    Refused {
        /// What was asked.
        asked: String,
        /// What it answered, or why it was not asked.
        answer: String,
    },
    /// A write did not get through.
    WriteFailed {
        /// What was asked.
        asked: String,
        /// What went wrong.
        error: AttError,
    },
    /// Control was lost, and why.
    Lost {
        /// Why.
        reason: &'static str,
    },
    /// The demand was not kept because there is no link.
    NotKept {
        /// Which.
        demand: Demand,
    },
}

impl fmt::Display for ControlEvent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Granted => f.write_str("control granted"),
            Self::Confirmed { demand, after } => {
                let after_ms = after.as_secs_f64() * 1e3;
                write!(f, "{demand} confirmed after {after_ms:.0} ms")
            }
            Self::Unconfirmed {
                demand: Some(demand),
            } => {
                write!(
                    f,
                    "{demand} not confirmed within 3 s; watch the measured power"
                )
            }
            Self::Unconfirmed { demand: None } => f.write_str("no answer within 3 s"),
            Self::TimedOut => f.write_str("no answer within 30 s; the link has to be made anew"),
            Self::Instead { demand, asked } => write!(
                f,
                "this trainer takes no target power: {asked} stands in for {demand}, and so on; it \
                 holds no power, cadence and gear make it"
            ),
            Self::Refused { asked, answer } => write!(f, "{asked} refused: {answer}"),
            Self::WriteFailed { asked, error } => f.write_str(&could_not_be_written(asked, error)),
            Self::Lost { reason } => write!(f, "control lost: {reason}"),
            Self::NotKept { demand } => write!(f, "{demand} not kept: there is no link"),
        }
    }
}

/// What an error of the attribute protocol means for a control point, and what to do about it.
/// Nothing but words depends on the code, because not every system tells it.
///
/// `0x80` and `0x81` are what `0xFE` and `0xFD` were before they had numbers of their own
/// (bluetooth.md §9).
pub fn advice(error: &AttError) -> Option<&'static str> {
    match error {
        AttError::Code(0xFE | 0x80) => Some("it is still busy with the procedure before"),
        AttError::Code(0xFD | 0x81) => {
            Some("its indications are not switched on; subscribe to the control point again")
        }
        AttError::Code(0x05 | 0x08 | 0x0C | 0x0F) => {
            Some("it wants to be paired; pair it in the settings of the system, then link again")
        }
        AttError::Code(0x01 | 0x0A) => Some(
            "its service table has changed; remove it in the settings of the system and link again",
        ),
        _ => None,
    }
}

/// What was not written, why, and what to do about it where the code tells.
pub(super) fn could_not_be_written(asked: &str, error: &AttError) -> String {
    match advice(error) {
        Some(advice) => format!("{asked} could not be written: {error}; {advice}"),
        None => format!("{asked} could not be written: {error}"),
    }
}

/// A summary for the screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ControlState {
    /// The newest demand.
    pub told: Option<Demand>,
    /// Whether the trainer confirmed it.
    pub confirmed: bool,
    /// Whether the brake is released as far as can be known.
    pub released: bool,
    /// Whether the trainer gave us control.
    pub has_control: bool,
    /// Whether only a new link can help.
    pub needs_new_link: bool,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_write_says_what_to_do_where_the_code_tells() {
        let event = |code| {
            ControlEvent::WriteFailed {
                asked: "release".to_owned(),
                error: AttError::Code(code),
            }
            .to_string()
        };
        for (code, part) in [
            (0xFE, "still busy"),
            (0x80, "still busy"),
            (0xFD, "subscribe"),
            (0x81, "subscribe"),
            (0x05, "pair it"),
            (0x01, "remove it"),
        ] {
            assert!(event(code).contains(part), "{}", event(code));
        }
        assert_eq!(
            event(0x0E),
            "release could not be written: attribute error 0x0E"
        );
    }
}
