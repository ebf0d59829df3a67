//! What a client asks of a power meter.

use super::mask::ContentMask;
use super::op_code;
use super::scale::CRANK_LENGTH_STEPS_PER_MM;
use crate::anomaly::{DecodeError, Decoded};
use crate::assigned::CYCLING_POWER_CONTROL_POINT;
use crate::cycling_power::location::SensorLocation;
use crate::wire::{Reader, Writer};

/// A request written to the control point.
#[derive(Clone, Debug, PartialEq)]
pub enum Request {
    /// Set the wheel counter.
    SetCumulativeValue {
        /// Wheel revolutions.
        revolutions: u32,
    },
    /// Tell the sensor where it sits.
    UpdateLocation(SensorLocation),
    /// Ask where it may sit.
    RequestLocations,
    /// Set the crank length.
    SetCrankLength {
        /// Crank length in millimetres, resolution 0.5.
        crank_length_mm: f64,
    },
    /// Ask for the crank length.
    RequestCrankLength,
    /// Set the chain length.
    SetChainLength {
        /// Chain length in millimetres.
        chain_length_mm: u16,
    },
    /// Ask for the chain length.
    RequestChainLength,
    /// Set the chain weight.
    SetChainWeight {
        /// Chain weight in grams.
        chain_weight_g: u16,
    },
    /// Ask for the chain weight.
    RequestChainWeight,
    /// Set the span length.
    SetSpanLength {
        /// Span length in millimetres.
        span_length_mm: u16,
    },
    /// Ask for the span length.
    RequestSpanLength,
    /// Find the zero offset; nothing may load the sensor meanwhile.
    StartOffsetCompensation,
    /// Switch fields of the measurement off.
    MaskContent(ContentMask),
    /// Ask how often the sensor samples.
    RequestSamplingRate,
    /// Ask when it was calibrated.
    RequestCalibrationDate,
    /// Find the zero offset and tell more about it.
    StartEnhancedOffset,
}

impl Request {
    /// The op code, the first byte.
    pub fn op_code(&self) -> u8 {
        match self {
            Self::SetCumulativeValue { .. } => op_code::SET_CUMULATIVE_VALUE,
            Self::UpdateLocation(_) => op_code::UPDATE_LOCATION,
            Self::RequestLocations => op_code::REQUEST_LOCATIONS,
            Self::SetCrankLength { .. } => op_code::SET_CRANK_LENGTH,
            Self::RequestCrankLength => op_code::REQUEST_CRANK_LENGTH,
            Self::SetChainLength { .. } => op_code::SET_CHAIN_LENGTH,
            Self::RequestChainLength => op_code::REQUEST_CHAIN_LENGTH,
            Self::SetChainWeight { .. } => op_code::SET_CHAIN_WEIGHT,
            Self::RequestChainWeight => op_code::REQUEST_CHAIN_WEIGHT,
            Self::SetSpanLength { .. } => op_code::SET_SPAN_LENGTH,
            Self::RequestSpanLength => op_code::REQUEST_SPAN_LENGTH,
            Self::StartOffsetCompensation => op_code::START_OFFSET_COMPENSATION,
            Self::MaskContent(_) => op_code::MASK_CONTENT,
            Self::RequestSamplingRate => op_code::REQUEST_SAMPLING_RATE,
            Self::RequestCalibrationDate => op_code::REQUEST_CALIBRATION_DATE,
            Self::StartEnhancedOffset => op_code::START_ENHANCED_OFFSET,
        }
    }

    /// Reads what a client wrote. A server answers [`DecodeError::UnknownOpCode`] with "op code
    /// not supported" and [`DecodeError::TooShort`] with "invalid parameter".
    ///
    /// # Errors
    /// [`DecodeError`] as above; an empty value is too short.
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(CYCLING_POWER_CONTROL_POINT, bytes);
        let request = match reader.u8()? {
            op_code::SET_CUMULATIVE_VALUE => Self::SetCumulativeValue {
                revolutions: reader.u32()?,
            },
            op_code::UPDATE_LOCATION => Self::UpdateLocation(SensorLocation::read(&mut reader)?),
            op_code::REQUEST_LOCATIONS => Self::RequestLocations,
            op_code::SET_CRANK_LENGTH => Self::SetCrankLength {
                crank_length_mm: reader.scaled_u16(CRANK_LENGTH_STEPS_PER_MM)?,
            },
            op_code::REQUEST_CRANK_LENGTH => Self::RequestCrankLength,
            op_code::SET_CHAIN_LENGTH => Self::SetChainLength {
                chain_length_mm: reader.u16()?,
            },
            op_code::REQUEST_CHAIN_LENGTH => Self::RequestChainLength,
            op_code::SET_CHAIN_WEIGHT => Self::SetChainWeight {
                chain_weight_g: reader.u16()?,
            },
            op_code::REQUEST_CHAIN_WEIGHT => Self::RequestChainWeight,
            op_code::SET_SPAN_LENGTH => Self::SetSpanLength {
                span_length_mm: reader.u16()?,
            },
            op_code::REQUEST_SPAN_LENGTH => Self::RequestSpanLength,
            op_code::START_OFFSET_COMPENSATION => Self::StartOffsetCompensation,
            op_code::MASK_CONTENT => {
                let mask = ContentMask(reader.u16()?);
                reader.note_reserved(mask.0.into(), ContentMask::KNOWN.into());
                Self::MaskContent(mask)
            }
            op_code::REQUEST_SAMPLING_RATE => Self::RequestSamplingRate,
            op_code::REQUEST_CALIBRATION_DATE => Self::RequestCalibrationDate,
            op_code::START_ENHANCED_OFFSET => Self::StartEnhancedOffset,
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
            Self::SetCrankLength { crank_length_mm } => {
                writer.scaled_u16(crank_length_mm, CRANK_LENGTH_STEPS_PER_MM);
            }
            Self::SetChainLength {
                chain_length_mm: number,
            }
            | Self::SetChainWeight {
                chain_weight_g: number,
            }
            | Self::SetSpanLength {
                span_length_mm: number,
            }
            | Self::MaskContent(ContentMask(number)) => {
                writer.u16(number);
            }
            Self::RequestLocations
            | Self::RequestCrankLength
            | Self::RequestChainLength
            | Self::RequestChainWeight
            | Self::RequestSpanLength
            | Self::StartOffsetCompensation
            | Self::RequestSamplingRate
            | Self::RequestCalibrationDate
            | Self::StartEnhancedOffset => {}
        }
        writer.finish()
    }
}
