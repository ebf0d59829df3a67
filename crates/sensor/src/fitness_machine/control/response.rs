//! What a fitness machine answers to a request.

use super::op_code;
use super::scale::SPEED_STEPS_PER_KMH;
use crate::anomaly::{Anomaly, DecodeError, Decoded};
use crate::assigned::FITNESS_MACHINE_CONTROL_POINT;
use crate::wire::{Reader, Writer};
use std::fmt;

/// The indication that ends a procedure.
#[derive(Clone, Debug, PartialEq)]
pub struct Response {
    /// Op code of the request that is answered.
    pub request_op: u8,
    /// How it went.
    pub result: ResultCode,
    /// The speeds between which the trainer will coast. The standard promises them with every
    /// success of a spin-down request, but its own example of a refused spin-down has none.
    pub spin_down: Option<SpinDownSpeeds>,
}

/// The window of speeds of a spin-down.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SpinDownSpeeds {
    /// Speed at which the measurement ends, in km/h, resolution 0.01.
    pub low_kmh: f64,
    /// Speed above which the rider must accelerate first, in km/h, resolution 0.01.
    pub high_kmh: f64,
}

/// How a procedure went.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ResultCode {
    /// It was carried out.
    Success,
    /// The machine does not know the op code.
    OpCodeNotSupported,
    /// The parameter has the wrong length or is out of range.
    InvalidParameter,
    /// The machine could not do it.
    OperationFailed,
    /// The client has no control.
    ControlNotPermitted,
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
            Self::ControlNotPermitted => 5,
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
            5 => Self::ControlNotPermitted,
            other => Self::Reserved(other),
        }
    }
}

impl fmt::Display for ResultCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Success => f.write_str("success"),
            Self::OpCodeNotSupported => f.write_str("op code not supported"),
            Self::InvalidParameter => f.write_str("invalid parameter"),
            Self::OperationFailed => f.write_str("operation failed"),
            Self::ControlNotPermitted => f.write_str("control not permitted"),
            Self::Reserved(number) => write!(f, "reserved result 0x{number:02X}"),
        }
    }
}

impl Response {
    /// An answer without parameters.
    pub fn new(request_op: u8, result: ResultCode) -> Self {
        Self {
            request_op,
            result,
            spin_down: None,
        }
    }

    /// Reads an indication. Octets that the standard does not foresee are noted and ignored.
    ///
    /// # Errors
    /// [`DecodeError::UnknownOpCode`] if the first byte is not that of a response,
    /// [`DecodeError::TooShort`] below three bytes.
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(FITNESS_MACHINE_CONTROL_POINT, bytes);
        reader.require(3)?;
        match reader.u8()? {
            op_code::RESPONSE => {}
            other => return Err(reader.unknown_op_code(other)),
        }
        let mut response = Self::new(reader.u8()?, ResultCode::from_number(reader.u8()?));
        if let ResultCode::Reserved(number) = response.result {
            reader.note(Anomaly::ReservedValue {
                field: "result code",
                value: number.into(),
            });
        }
        let is_spin_down_success =
            response.request_op == op_code::SPIN_DOWN && response.result == ResultCode::Success;
        if is_spin_down_success && reader.remaining() >= 4 {
            response.spin_down = Some(SpinDownSpeeds {
                low_kmh: reader.scaled_u16(SPEED_STEPS_PER_KMH)?,
                high_kmh: reader.scaled_u16(SPEED_STEPS_PER_KMH)?,
            });
        }
        Ok(reader.finish(response))
    }

    /// Writes the indication. Speeds are written only where a decoder looks for them: with the
    /// success of a spin-down request.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer
            .u8(op_code::RESPONSE)
            .u8(self.request_op)
            .u8(self.result.number());
        let is_spin_down_success =
            self.request_op == op_code::SPIN_DOWN && self.result == ResultCode::Success;
        if let Some(speeds) = self.spin_down.filter(|_| is_spin_down_success) {
            writer
                .scaled_u16(speeds.low_kmh, SPEED_STEPS_PER_KMH)
                .scaled_u16(speeds.high_kmh, SPEED_STEPS_PER_KMH);
        }
        writer.finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parameters_nobody_foresaw_do_not_hide_the_result() {
        let decoded = Response::decode(&[0x80, 0x05, 0x01, 0xC8, 0x00]).unwrap();
        assert_eq!(decoded.value, Response::new(0x05, ResultCode::Success));
        assert_eq!(
            decoded.anomalies,
            [Anomaly::SurplusOctets {
                expected: 3,
                got: 5
            }]
        );
    }

    /// Fitness Machine Service 1.0.1, appendix A.3.3: a refused spin-down has no speeds.
    #[test]
    fn a_refused_spin_down_has_no_speeds() {
        let decoded = Response::decode(&[0x80, 0x13, 0x01]).unwrap();
        assert_eq!(decoded.value, Response::new(0x13, ResultCode::Success));
        assert_eq!(decoded.anomalies, []);
    }

    #[test]
    fn a_request_is_not_a_response() {
        assert!(matches!(
            Response::decode(&[0x05, 0xC8, 0x00]),
            Err(DecodeError::UnknownOpCode { op_code: 0x05, .. })
        ));
    }
}
