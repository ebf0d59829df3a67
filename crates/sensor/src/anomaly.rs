//! What was odd about a value that could still be read, and why a value could not be read at all.
//!
//! Instruments in the field bend the standards. A decoder therefore returns the record together
//! with a list of [`Anomaly`]s, and a [`DecodeError`] only where no record can be made.

use crate::assigned;
use std::fmt;
use units::Characteristic;

/// A record and everything about its bytes that did not follow the standard.
#[derive(Clone, Debug, PartialEq)]
pub struct Decoded<T> {
    /// The record.
    pub value: T,
    /// What was odd, in the order of the bytes; empty for a record by the letter.
    pub anomalies: Vec<Anomaly>,
}

impl<T> Decoded<T> {
    /// The same anomalies around another value.
    pub fn map<U>(self, change: impl FnOnce(T) -> U) -> Decoded<U> {
        Decoded {
            value: change(self.value),
            anomalies: self.anomalies,
        }
    }
}

/// Something in a readable value that the standard does not foresee.
#[derive(Clone, Debug, PartialEq)]
pub enum Anomaly {
    /// There are octets after the last field; they were ignored, as the standards ask.
    SurplusOctets {
        /// Length in bytes that the flags or the op code promise.
        expected: usize,
        /// Length in bytes received.
        got: usize,
    },
    /// Flag bits that are reserved for future use are set; they were ignored.
    ReservedFlags {
        /// The reserved bits that are set.
        bits: u32,
    },
    /// A field holds a number to which the standard gives no meaning.
    ReservedValue {
        /// The field, in words.
        field: &'static str,
        /// The number received.
        value: u32,
    },
    /// A field holds a number outside the range the standard gives it.
    OutOfRange {
        /// The field, in words.
        field: &'static str,
        /// The number received, in the unit of the field's resolution.
        value: i64,
    },
    /// A maximum lies below its minimum.
    MaximumBelowMinimum {
        /// The field, in words.
        field: &'static str,
    },
    /// The resistance level has one octet, as the present Supplement says, instead of the two of
    /// Fitness Machine Service 1.0.
    ResistanceInOneOctet,
    /// The resistance level has two octets where Fitness Machine Service 1.0 has one.
    ResistanceInTwoOctets,
    /// The second half of the feature value, what can be set, is missing.
    TargetFeaturesMissing,
    /// A text is not valid UTF-8; each bad sequence was replaced by U+FFFD.
    NotUtf8,
    /// A text ended in octets of value zero, which were stripped.
    TrailingZeros,
    /// A list of samples ends in the middle of a sample; the incomplete one was dropped.
    IncompleteSample,
    /// A vector announces forces and torques at once, of which only one may be there.
    BothForceAndTorque,
}

impl fmt::Display for Anomaly {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::SurplusOctets { expected, got } => {
                write!(
                    f,
                    "{got} bytes where {expected} were promised; the rest was ignored"
                )
            }
            Self::ReservedFlags { bits } => write!(f, "reserved flag bits 0x{bits:X} are set"),
            Self::ReservedValue { field, value } => {
                write!(f, "{field} has the reserved value {value}")
            }
            Self::OutOfRange { field, value } => {
                write!(
                    f,
                    "{field} has the value {value}, which is out of its range"
                )
            }
            Self::MaximumBelowMinimum { field } => {
                write!(f, "the maximum of {field} lies below its minimum")
            }
            Self::ResistanceInOneOctet => f.write_str("the resistance level was read as one octet"),
            Self::ResistanceInTwoOctets => {
                f.write_str("the resistance level was read as two octets")
            }
            Self::TargetFeaturesMissing => {
                f.write_str("the half of the features that says what can be set is missing")
            }
            Self::NotUtf8 => f.write_str("the text is not valid UTF-8"),
            Self::TrailingZeros => f.write_str("the text ends in zero octets"),
            Self::BothForceAndTorque => {
                f.write_str("forces and torques are announced at once; read as forces")
            }
            Self::IncompleteSample => f.write_str("the last sample of the list is incomplete"),
        }
    }
}

/// Why bytes could not be turned into a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DecodeError {
    /// The value is shorter than its flags or its op code promise.
    #[error("{} ({characteristic}) needs {needed} bytes but has {got}", assigned::name(*.characteristic))]
    TooShort {
        /// The characteristic whose value it is.
        characteristic: Characteristic,
        /// Length in bytes that is needed.
        needed: usize,
        /// Length in bytes received.
        got: usize,
    },
    /// The first byte is an op code that the standard does not list.
    #[error("{} ({characteristic}) has the unknown op code 0x{op_code:02X}", assigned::name(*.characteristic))]
    UnknownOpCode {
        /// The characteristic whose value it is.
        characteristic: Characteristic,
        /// The op code received.
        op_code: u8,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn errors_name_the_characteristic_and_both_lengths() {
        let error = DecodeError::TooShort {
            characteristic: assigned::CYCLING_POWER_MEASUREMENT,
            needed: 4,
            got: 3,
        };
        assert_eq!(
            error.to_string(),
            "Cycling Power Measurement (2A63) needs 4 bytes but has 3"
        );
    }
}
