//! What the bench takes and what it gives.

use crate::command::Command;
use crate::happening::Happening;
use protocol::Cue;
use units::{AttError, Characteristic, Packet, SourceId, Timestamp, Write};

/// One thing that reaches the bench from outside.
#[derive(Clone, Debug, PartialEq)]
pub enum Input {
    /// A value was received.
    Packet(Packet),
    /// The operator asked for something.
    Command(Command),
    /// A link came up or went down.
    Link {
        /// Which instrument.
        source: SourceId,
        /// Whether it is linked now.
        up: bool,
        /// Number of the link.
        epoch: u32,
        /// What is known about it.
        words: String,
    },
    /// An instrument answered a write.
    WriteReply {
        /// Which instrument.
        source: SourceId,
        /// Which characteristic was written.
        characteristic: Characteristic,
        /// How it answered.
        result: Result<(), AttError>,
    },
    /// The recording failed.
    RecordingFailed {
        /// What the recorder said.
        words: String,
    },
    /// Something is the matter with the instruments that the operator has to know.
    Trouble {
        /// In words, with the remedy.
        words: String,
    },
    /// The program did not get to run for a while, so that targets would arrive bunched.
    Stalled,
    /// Nothing; time has passed.
    Tick,
}

impl Input {
    /// The input as a row of the event table; packets have a table of their own, and a tick leaves
    /// no trace because deadlines fire at their own moments.
    pub fn to_happening(&self) -> Option<Happening> {
        Some(match self {
            Self::Packet(_) | Self::Tick => return None,
            Self::Command(command) => Happening::Command(command.clone()),
            Self::Link {
                source,
                up,
                epoch,
                words,
            } => Happening::Link {
                source: source.0,
                up: *up,
                epoch: *epoch,
                words: words.clone(),
            },
            Self::WriteReply {
                source,
                characteristic,
                result,
            } => Happening::WriteReply {
                source: source.0,
                characteristic: characteristic.to_string(),
                code: match result {
                    Err(AttError::Code(code)) => Some(*code),
                    _ => None,
                },
                error: result.as_ref().err().map(ToString::to_string),
            },
            Self::RecordingFailed { words } => Happening::RecordingFailed {
                words: words.clone(),
            },
            Self::Trouble { words } => Happening::Trouble {
                words: words.clone(),
            },
            Self::Stalled => Happening::Stalled,
        })
    }

    /// The input that a row of the event table stands for, if it stands for one.
    pub fn from_happening(happening: &Happening) -> Option<Self> {
        Some(match happening {
            Happening::Command(command) => Self::Command(command.clone()),
            Happening::Link {
                source,
                up,
                epoch,
                words,
            } => Self::Link {
                source: SourceId(*source),
                up: *up,
                epoch: *epoch,
                words: words.clone(),
            },
            Happening::WriteReply {
                source,
                characteristic,
                code,
                error,
            } => Self::WriteReply {
                source: SourceId(*source),
                characteristic: Characteristic(u16::from_str_radix(characteristic, 16).ok()?),
                result: match (code, error) {
                    (Some(code), _) => Err(AttError::Code(*code)),
                    (None, Some(words)) if *words == AttError::NotConnected.to_string() => {
                        Err(AttError::NotConnected)
                    }
                    (None, Some(words)) => Err(AttError::Other(words.clone())),
                    (None, None) => Ok(()),
                },
            },
            Happening::RecordingFailed { words } => Self::RecordingFailed {
                words: words.clone(),
            },
            Happening::Trouble { words } => Self::Trouble {
                words: words.clone(),
            },
            Happening::Stalled => Self::Stalled,
            _ => return None,
        })
    }
}

/// One thing the bench wants done.
#[derive(Clone, Debug, PartialEq)]
pub enum Output {
    /// Write these bytes to an instrument.
    Write(Write),
    /// Record this.
    Event {
        /// When it happened.
        at: Timestamp,
        /// What.
        happening: Happening,
    },
    /// Tell the rider; a simulated rider obeys, a human one reads the screen.
    Cue(Cue),
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_recorded_input_reads_back_as_itself() {
        for input in [
            Input::Command(Command::Extend(60)),
            Input::Link {
                source: SourceId(1),
                up: true,
                epoch: 4,
                words: "again".to_owned(),
            },
            Input::WriteReply {
                source: SourceId(0),
                characteristic: Characteristic(0x2AD9),
                result: Err(AttError::Code(0xFE)),
            },
            Input::WriteReply {
                source: SourceId(0),
                characteristic: Characteristic(0x2AD9),
                result: Err(AttError::NotConnected),
            },
            Input::WriteReply {
                source: SourceId(0),
                characteristic: Characteristic(0x2AD9),
                result: Ok(()),
            },
            Input::RecordingFailed {
                words: "disk full".to_owned(),
            },
            Input::Stalled,
        ] {
            let happening = input.to_happening().expect("these are recorded");
            assert!(happening.is_input());
            assert_eq!(Input::from_happening(&happening), Some(input));
        }
        assert_eq!(Input::Tick.to_happening(), None);
    }
}
