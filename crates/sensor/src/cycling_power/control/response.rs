//! What a power meter answers to a request.

use super::op_code;
use super::parameter::ResponseParameter;
use super::result::ResultCode;
use crate::anomaly::{DecodeError, Decoded};
use crate::assigned::CYCLING_POWER_CONTROL_POINT;
use crate::wire::{Reader, Writer};

/// The indication that ends a procedure.
#[derive(Clone, Debug, PartialEq)]
pub struct Response {
    /// Op code of the request that is answered.
    pub request_op: u8,
    /// How it went.
    pub result: ResultCode,
    /// What comes with the result.
    pub parameter: ResponseParameter,
}

impl Response {
    /// An answer without parameters.
    pub fn new(request_op: u8, result: ResultCode) -> Self {
        Self {
            request_op,
            result,
            parameter: ResponseParameter::None,
        }
    }

    /// Reads an indication. The number of a zero offset needs the unit of the sensor's features
    /// to become a force or a torque.
    ///
    /// # Errors
    /// [`DecodeError::UnknownOpCode`] if the first byte is not that of a response,
    /// [`DecodeError::TooShort`] below three bytes or in the middle of a parameter.
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(CYCLING_POWER_CONTROL_POINT, bytes);
        reader.require(3)?;
        match reader.u8()? {
            op_code::RESPONSE => {}
            other => return Err(reader.unknown_op_code(other)),
        }
        let request_op = reader.u8()?;
        let result = ResultCode::read(&mut reader)?;
        let parameter = ResponseParameter::read(&mut reader, request_op, result)?;
        Ok(reader.finish(Self {
            request_op,
            result,
            parameter,
        }))
    }

    /// Writes the indication.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer
            .u8(op_code::RESPONSE)
            .u8(self.request_op)
            .u8(self.result.number());
        self.parameter.write(&mut writer);
        writer.finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cycling_power::control::{
        CalibrationDate, EnhancedFailure, FailureReason, ManufacturerData, Offset, OffsetUnit,
    };
    use crate::cycling_power::location::SensorLocation;

    /// Worked by hand from the parameter tables of the GATT Specification Supplement.
    #[test]
    fn every_parameter_is_read_and_written() {
        let manufacturer = || ManufacturerData {
            company: 0x1234,
            bytes: vec![0xAA, 0xBB],
        };
        let rows: [(&[u8], ResponseParameter); 9] = [
            (
                &[0x20, 0x03, 0x01, 0x05, 0x0F],
                ResponseParameter::Locations(vec![
                    SensorLocation::LeftCrank,
                    SensorLocation::Spider,
                ]),
            ),
            (
                &[0x20, 0x07, 0x01, 0x78, 0x05],
                ResponseParameter::ChainLength {
                    chain_length_mm: 1400,
                },
            ),
            (
                &[0x20, 0x09, 0x01, 0x18, 0x01],
                ResponseParameter::ChainWeight {
                    chain_weight_g: 280,
                },
            ),
            (
                &[0x20, 0x0B, 0x01, 0xF4, 0x01],
                ResponseParameter::SpanLength {
                    span_length_mm: 500,
                },
            ),
            (
                &[0x20, 0x0E, 0x01, 0x40],
                ResponseParameter::SamplingRate {
                    sampling_rate_hz: 64,
                },
            ),
            (
                &[0x20, 0x0F, 0x01, 0xE8, 0x07, 2, 29, 13, 14, 15],
                ResponseParameter::CalibrationDate(CalibrationDate {
                    year: 2024,
                    month: 2,
                    day: 29,
                    hour: 13,
                    minute: 14,
                    second: 15,
                }),
            ),
            (
                &[0x20, 0x10, 0x01, 0x34, 0x00, 0x34, 0x12, 0x02, 0xAA, 0xBB],
                ResponseParameter::EnhancedOffset {
                    offset: Offset { raw: Some(52) },
                    manufacturer: manufacturer(),
                },
            ),
            (
                &[0x20, 0x10, 0x04, 0xFF, 0x34, 0x12, 0x02, 0xAA, 0xBB],
                ResponseParameter::EnhancedFailure(EnhancedFailure {
                    reason: FailureReason::ManufacturerSpecific,
                    manufacturer: Some(manufacturer()),
                }),
            ),
            (&[0x20, 0x10, 0x04], ResponseParameter::None),
        ];
        for (bytes, parameter) in rows {
            let decoded = Response::decode(bytes).unwrap();
            assert_eq!(decoded.value.parameter, parameter);
            assert_eq!(decoded.anomalies, []);
            assert_eq!(decoded.value.encode(), bytes);
        }
    }

    /// The same number means 52 N or 52/32 N·m, by bit 16 of the sensor's features.
    #[test]
    fn an_offset_takes_its_unit_from_the_features() {
        let response = Response::decode(&[0x20, 0x0C, 0x01, 0x34, 0x00])
            .unwrap()
            .value;
        let ResponseParameter::Offset(offset) = response.parameter else {
            panic!("no offset in {response:?}");
        };
        assert_eq!(offset.value(OffsetUnit::Newtons), Some(52.0));
        assert_eq!(offset.value(OffsetUnit::NewtonMetres), Some(1.625));
        assert_eq!(Offset { raw: None }.value(OffsetUnit::Newtons), None);
    }

    #[test]
    fn a_success_without_its_parameter_is_refused() {
        assert!(matches!(
            Response::decode(&[0x20, 0x05, 0x01]),
            Err(DecodeError::TooShort {
                needed: 5,
                got: 3,
                ..
            })
        ));
    }
}
