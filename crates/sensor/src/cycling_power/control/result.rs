//! How a procedure went, as the number that comes back.

use crate::anomaly::{Anomaly, DecodeError};
use crate::wire::Reader;
use std::fmt;

/// How a procedure went. The speed and cadence control point uses the same numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ResultCode {
    /// It was carried out.
    Success,
    /// The sensor does not know the op code.
    OpCodeNotSupported,
    /// The parameter has the wrong length or is out of range.
    InvalidParameter,
    /// The sensor could not do it.
    OperationFailed,
    /// A number without meaning.
    Reserved(u8),
}

impl ResultCode {
    /// The number on the wire.
    pub fn number(self) -> u8 {
        match self {
            Self::Success => 1,
            Self::OpCodeNotSupported => 2,
            Self::InvalidParameter => 3,
            Self::OperationFailed => 4,
            Self::Reserved(number) => number,
        }
    }

    /// The meaning of the number on the wire.
    pub fn from_number(number: u8) -> Self {
        match number {
            1 => Self::Success,
            2 => Self::OpCodeNotSupported,
            3 => Self::InvalidParameter,
            4 => Self::OperationFailed,
            other => Self::Reserved(other),
        }
    }

    pub(crate) fn read(reader: &mut Reader<'_>) -> Result<Self, DecodeError> {
        let result = Self::from_number(reader.u8()?);
        if let Self::Reserved(number) = result {
            reader.note(Anomaly::ReservedValue {
                field: "result code",
                value: number.into(),
            });
        }
        Ok(result)
    }
}

impl fmt::Display for ResultCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Success => f.write_str("success"),
            Self::OpCodeNotSupported => f.write_str("op code not supported"),
            Self::InvalidParameter => f.write_str("invalid parameter"),
            Self::OperationFailed => f.write_str("operation failed"),
            Self::Reserved(number) => write!(f, "reserved result 0x{number:02X}"),
        }
    }
}
