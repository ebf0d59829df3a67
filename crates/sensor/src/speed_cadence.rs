//! The Cycling Speed and Cadence Service: measurement, feature and control point.
//!
//! The wheel clock ticks at 1/1024 s here, half as fast as that of the cycling power service;
//! mixing them up doubles or halves a speed, so the fields have different names.

use crate::anomaly::{DecodeError, Decoded};
use crate::assigned::{CSC_FEATURE, CSC_MEASUREMENT, SC_CONTROL_POINT};
use crate::bits::bit_set;
use crate::cycling_power::control::ResultCode;
use crate::cycling_power::location::SensorLocation;
use crate::cycling_power::measurement::CrankRevolutions;
use crate::wire::{Reader, Writer};

const WHEEL: u8 = 1 << 0;
const CRANK: u8 = 1 << 1;
const KNOWN: u8 = 0b11;

/// One CSC Measurement (2A5B).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SpeedCadenceMeasurement {
    /// The wheel counter.
    pub wheel: Option<SlowWheelRevolutions>,
    /// The crank counter.
    pub crank: Option<CrankRevolutions>,
}

/// The wheel counter with the slow clock of this service.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SlowWheelRevolutions {
    /// Revolutions since the counter was last set.
    pub revolutions: u32,
    /// When the last one ended, in 1/1024 s; rolls over every 64 s.
    pub event_time_1024: u16,
}

impl SpeedCadenceMeasurement {
    /// Reads a notification.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`] if it is shorter than its flags promise.
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(CSC_MEASUREMENT, bytes);
        let flags = reader.u8()?;
        let has = |bit: u8| flags & bit != 0;
        let wheel_len = if has(WHEEL) { 6 } else { 0 };
        let crank_len = if has(CRANK) { 4 } else { 0 };
        reader.require(1 + wheel_len + crank_len)?;
        reader.note_reserved(flags.into(), KNOWN.into());
        let mut record = Self::default();
        if has(WHEEL) {
            record.wheel = Some(SlowWheelRevolutions {
                revolutions: reader.u32()?,
                event_time_1024: reader.u16()?,
            });
        }
        if has(CRANK) {
            record.crank = Some(CrankRevolutions::read(&mut reader)?);
        }
        Ok(reader.finish(record))
    }

    /// Writes a notification with the fields that are there.
    pub fn encode(&self) -> Vec<u8> {
        let wheel = if self.wheel.is_some() { WHEEL } else { 0 };
        let crank = if self.crank.is_some() { CRANK } else { 0 };
        let mut writer = Writer::new();
        writer.u8(wheel | crank);
        if let Some(wheel) = self.wheel {
            writer.u32(wheel.revolutions).u16(wheel.event_time_1024);
        }
        if let Some(crank) = self.crank {
            crank.write(&mut writer);
        }
        writer.finish()
    }
}

bit_set! {
    /// CSC Feature (2A5C): what a speed and cadence sensor can do.
    SpeedCadenceFeatures(u16),
    /// One thing a speed and cadence sensor may be able to do.
    SpeedCadenceFeature {
        WheelRevolutions = 0, "wheel revolution data";
        CrankRevolutions = 1, "crank revolution data";
        MultipleLocations = 2, "multiple sensor locations";
    }
}

impl SpeedCadenceFeatures {
    /// Reads the 2 bytes.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(CSC_FEATURE, bytes);
        let features = Self(reader.u16()?);
        reader.note_reserved(features.0.into(), Self::KNOWN.into());
        Ok(reader.finish(features))
    }

    /// Writes the 2 bytes.
    pub fn encode(&self) -> Vec<u8> {
        self.0.to_le_bytes().to_vec()
    }
}

const SET_CUMULATIVE_VALUE: u8 = 0x01;
const START_CALIBRATION: u8 = 0x02;
const UPDATE_LOCATION: u8 = 0x03;
const REQUEST_LOCATIONS: u8 = 0x04;
const RESPONSE: u8 = 0x10;

/// A request written to the SC Control Point (2A55).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Request {
    /// Set the wheel counter.
    SetCumulativeValue {
        /// Wheel revolutions.
        revolutions: u32,
    },
    /// Start the calibration of the sensor.
    StartCalibration,
    /// Tell the sensor where it sits.
    UpdateLocation(SensorLocation),
    /// Ask where it may sit.
    RequestLocations,
}

impl Request {
    /// The op code, the first byte.
    pub fn op_code(&self) -> u8 {
        match self {
            Self::SetCumulativeValue { .. } => SET_CUMULATIVE_VALUE,
            Self::StartCalibration => START_CALIBRATION,
            Self::UpdateLocation(_) => UPDATE_LOCATION,
            Self::RequestLocations => REQUEST_LOCATIONS,
        }
    }

    /// Reads what a client wrote.
    ///
    /// # Errors
    /// [`DecodeError::UnknownOpCode`] or [`DecodeError::TooShort`].
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(SC_CONTROL_POINT, bytes);
        let request = match reader.u8()? {
            SET_CUMULATIVE_VALUE => Self::SetCumulativeValue {
                revolutions: reader.u32()?,
            },
            START_CALIBRATION => Self::StartCalibration,
            UPDATE_LOCATION => Self::UpdateLocation(SensorLocation::read(&mut reader)?),
            REQUEST_LOCATIONS => Self::RequestLocations,
            other => return Err(reader.unknown_op_code(other)),
        };
        Ok(reader.finish(request))
    }

    /// Writes the request.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer.u8(self.op_code());
        match *self {
            Self::SetCumulativeValue { revolutions } => {
                writer.u32(revolutions);
            }
            Self::UpdateLocation(location) => {
                writer.u8(location.number());
            }
            Self::StartCalibration | Self::RequestLocations => {}
        }
        writer.finish()
    }
}

/// The indication that ends a procedure of the SC Control Point.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Response {
    /// Op code of the request that is answered.
    pub request_op: u8,
    /// How it went.
    pub result: ResultCode,
    /// Where the sensor may sit; empty unless that was asked.
    pub locations: Vec<SensorLocation>,
}

impl Response {
    /// Reads an indication.
    ///
    /// # Errors
    /// [`DecodeError::UnknownOpCode`] if the first byte is not that of a response,
    /// [`DecodeError::TooShort`] below three bytes.
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(SC_CONTROL_POINT, bytes);
        reader.require(3)?;
        match reader.u8()? {
            RESPONSE => {}
            other => return Err(reader.unknown_op_code(other)),
        }
        let request_op = reader.u8()?;
        let result = ResultCode::read(&mut reader)?;
        let has_list = request_op == REQUEST_LOCATIONS && result == ResultCode::Success;
        let locations = if has_list {
            SensorLocation::read_list(&mut reader)?
        } else {
            Vec::new()
        };
        Ok(reader.finish(Self {
            request_op,
            result,
            locations,
        }))
    }

    /// Writes the indication.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer
            .u8(RESPONSE)
            .u8(self.request_op)
            .u8(self.result.number());
        for location in &self.locations {
            writer.u8(location.number());
        }
        writer.finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand from the op codes of the Cycling Speed and Cadence Service.
    #[test]
    fn the_control_point_speaks_both_ways() {
        let request = Request::SetCumulativeValue {
            revolutions: 12_345,
        };
        assert_eq!(request.encode(), [0x01, 0x39, 0x30, 0, 0]);
        assert_eq!(
            Request::decode(&[0x01, 0x39, 0x30, 0, 0]).unwrap().value,
            request
        );
        let response = Response {
            request_op: 0x04,
            result: ResultCode::Success,
            locations: vec![SensorLocation::RearHub, SensorLocation::FrontHub],
        };
        assert_eq!(response.encode(), [0x10, 0x04, 0x01, 13, 9]);
        assert_eq!(
            Response::decode(&[0x10, 0x04, 0x01, 13, 9]).unwrap().value,
            response
        );
    }
}
