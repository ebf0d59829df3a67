//! Training Status (2AD3): what kind of training the machine is in.

use crate::anomaly::{Anomaly, DecodeError, Decoded};
use crate::assigned::TRAINING_STATUS;
use crate::wire::{Reader, Writer};
use std::fmt;

const STRING: u8 = 1 << 0;
const EXTENDED_STRING: u8 = 1 << 1;
const KNOWN: u8 = 0b11;

/// One Training Status.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TrainingStatus {
    /// The kind of training.
    pub state: TrainingState,
    /// A text about it.
    pub text: Option<String>,
    /// Whether the text goes on and a long read of the characteristic gives all of it.
    pub text_goes_on: bool,
}

macro_rules! states {
    ($($variant:ident = $number:literal, $name:literal;)*) => {
        /// The kind of training a machine is in.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub enum TrainingState {
            $(#[doc = concat!($name, ".")] $variant,)*
            /// A number without meaning.
            Reserved(u8),
        }

        impl TrainingState {
            /// The state with this number on the wire.
            pub fn from_number(number: u8) -> Self {
                match number {
                    $($number => Self::$variant,)*
                    other => Self::Reserved(other),
                }
            }

            /// The number on the wire.
            pub fn number(self) -> u8 {
                match self {
                    $(Self::$variant => $number,)*
                    Self::Reserved(number) => number,
                }
            }

            /// The state in plain words.
            pub fn name(self) -> &'static str {
                match self {
                    $(Self::$variant => $name,)*
                    Self::Reserved(_) => "reserved",
                }
            }
        }
    };
}

states! {
    Other = 0x00, "other";
    Idle = 0x01, "idle";
    WarmingUp = 0x02, "warming up";
    LowIntensityInterval = 0x03, "low intensity interval";
    HighIntensityInterval = 0x04, "high intensity interval";
    RecoveryInterval = 0x05, "recovery interval";
    Isometric = 0x06, "isometric";
    HeartRateControl = 0x07, "heart rate control";
    FitnessTest = 0x08, "fitness test";
    SpeedTooLow = 0x09, "speed outside of control region, low";
    SpeedTooHigh = 0x0A, "speed outside of control region, high";
    CoolDown = 0x0B, "cool down";
    WattControl = 0x0C, "watt control";
    Manual = 0x0D, "manual";
    PreWorkout = 0x0E, "pre-workout";
    PostWorkout = 0x0F, "post-workout";
}

impl fmt::Display for TrainingState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl TrainingStatus {
    /// A status without a text.
    pub fn new(state: TrainingState) -> Self {
        Self {
            state,
            text: None,
            text_goes_on: false,
        }
    }

    /// Reads a notification or the answer to a read.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`] below two bytes.
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(TRAINING_STATUS, bytes);
        reader.require(2)?;
        let flags = reader.u8()?;
        reader.note_reserved(flags.into(), KNOWN.into());
        let state = TrainingState::from_number(reader.u8()?);
        if let TrainingState::Reserved(number) = state {
            reader.note(Anomaly::ReservedValue {
                field: "training status",
                value: number.into(),
            });
        }
        let text_goes_on = flags & EXTENDED_STRING != 0;
        let has_text = flags & STRING != 0 || (text_goes_on && reader.remaining() > 0);
        let text = has_text.then(|| reader.text());
        Ok(reader.finish(Self {
            state,
            text,
            text_goes_on,
        }))
    }

    /// Writes a notification.
    pub fn encode(&self) -> Vec<u8> {
        let string = if self.text.is_some() { STRING } else { 0 };
        let extended = if self.text_goes_on {
            EXTENDED_STRING
        } else {
            0
        };
        let mut writer = Writer::new();
        writer.u8(string | extended).u8(self.state.number());
        writer.bytes(self.text.as_deref().unwrap_or_default().as_bytes());
        writer.finish()
    }
}
