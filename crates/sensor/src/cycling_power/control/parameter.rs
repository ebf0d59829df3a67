//! What a power meter tells along with the result of a procedure.

use super::op_code;
use super::result::ResultCode;
use super::scale::CRANK_LENGTH_STEPS_PER_MM;
use crate::anomaly::{Anomaly, DecodeError};
use crate::cycling_power::location::SensorLocation;
use crate::cycling_power::measurement::TORQUE_STEPS_PER_NM;
use crate::wire::{Reader, Writer};

/// Bits 0xFFFF: the offset is not available.
const OFFSET_NOT_AVAILABLE: i16 = -1;

/// The parameter of a response.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum ResponseParameter {
    /// There is none.
    #[default]
    None,
    /// Where the sensor may sit.
    Locations(Vec<SensorLocation>),
    /// The crank length.
    CrankLength {
        /// In millimetres, resolution 0.5.
        crank_length_mm: f64,
    },
    /// The chain length.
    ChainLength {
        /// In millimetres.
        chain_length_mm: u16,
    },
    /// The chain weight.
    ChainWeight {
        /// In grams.
        chain_weight_g: u16,
    },
    /// The span length.
    SpanLength {
        /// In millimetres.
        span_length_mm: u16,
    },
    /// The zero offset found.
    Offset(Offset),
    /// How often the sensor samples.
    SamplingRate {
        /// In hertz.
        sampling_rate_hz: u8,
    },
    /// When the sensor was calibrated.
    CalibrationDate(CalibrationDate),
    /// The zero offset found, and what the manufacturer adds.
    EnhancedOffset {
        /// The zero offset.
        offset: Offset,
        /// What the manufacturer adds.
        manufacturer: ManufacturerData,
    },
    /// Why the enhanced offset compensation failed.
    EnhancedFailure(EnhancedFailure),
}

/// A zero offset as it came; its unit depends on the features of the sensor.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Offset {
    /// The number on the wire; absent if the sensor says that it is not available.
    pub raw: Option<i16>,
}

/// The unit of a zero offset: see `CyclingPowerFeature::offset_unit`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OffsetUnit {
    /// Steps of 1 N: the sensor measures force.
    Newtons,
    /// Steps of 1/32 N·m: the sensor measures torque.
    NewtonMetres,
}

impl OffsetUnit {
    /// The symbol of the unit.
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Newtons => "N",
            Self::NewtonMetres => "N·m",
        }
    }
}

impl Offset {
    /// The offset in newtons or newton metres, after the unit.
    pub fn value(self, unit: OffsetUnit) -> Option<f64> {
        let steps_per_unit = match unit {
            OffsetUnit::Newtons => 1.0,
            OffsetUnit::NewtonMetres => TORQUE_STEPS_PER_NM,
        };
        self.raw.map(|raw| f64::from(raw) / steps_per_unit)
    }

    fn read(reader: &mut Reader<'_>) -> Result<Self, DecodeError> {
        Ok(Self {
            raw: Some(reader.i16()?).filter(|&raw| raw != OFFSET_NOT_AVAILABLE),
        })
    }

    fn write(self, writer: &mut Writer) {
        writer.i16(self.raw.unwrap_or(OFFSET_NOT_AVAILABLE));
    }
}

/// A date and time as the standard writes it; a year, month or day of zero is not known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct CalibrationDate {
    /// Year.
    pub year: u16,
    /// Month, from 1.
    pub month: u8,
    /// Day of the month, from 1.
    pub day: u8,
    /// Hour.
    pub hour: u8,
    /// Minute.
    pub minute: u8,
    /// Second.
    pub second: u8,
}

/// Bytes that only their manufacturer can read.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ManufacturerData {
    /// Assigned number of the company.
    pub company: u16,
    /// The bytes; at most 255 are written.
    pub bytes: Vec<u8>,
}

impl ManufacturerData {
    fn read(reader: &mut Reader<'_>) -> Result<Self, DecodeError> {
        let company = reader.u16()?;
        let count = reader.u8()?;
        let bytes = (0..count).map(|_| reader.u8()).collect::<Result<_, _>>()?;
        Ok(Self { company, bytes })
    }

    fn write(&self, writer: &mut Writer) {
        let count = self.bytes.len().min(u8::MAX.into());
        writer
            .u16(self.company)
            .u8(count as u8)
            .bytes(&self.bytes[..count]);
    }
}

/// Why an enhanced offset compensation failed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EnhancedFailure {
    /// The reason.
    pub reason: FailureReason,
    /// What the manufacturer adds, only with [`FailureReason::ManufacturerSpecific`].
    pub manufacturer: Option<ManufacturerData>,
}

/// The reason of a failure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FailureReason {
    /// The sensor was not in the position it must have.
    IncorrectPosition,
    /// The manufacturer says more.
    ManufacturerSpecific,
    /// A number without meaning.
    Reserved(u8),
}

impl FailureReason {
    fn from_number(number: u8) -> Self {
        match number {
            0x01 => Self::IncorrectPosition,
            0xFF => Self::ManufacturerSpecific,
            other => Self::Reserved(other),
        }
    }

    fn number(self) -> u8 {
        match self {
            Self::IncorrectPosition => 0x01,
            Self::ManufacturerSpecific => 0xFF,
            Self::Reserved(number) => number,
        }
    }
}

impl EnhancedFailure {
    fn read(reader: &mut Reader<'_>) -> Result<Self, DecodeError> {
        let reason = FailureReason::from_number(reader.u8()?);
        if let FailureReason::Reserved(number) = reason {
            reader.note(Anomaly::ReservedValue {
                field: "failure reason",
                value: number.into(),
            });
        }
        let is_specific = reason == FailureReason::ManufacturerSpecific;
        let manufacturer = (is_specific && reader.remaining() > 0)
            .then(|| ManufacturerData::read(reader))
            .transpose()?;
        Ok(Self {
            reason,
            manufacturer,
        })
    }
}

impl ResponseParameter {
    /// Reads what belongs to this request and result. A missing parameter is taken as none where
    /// a sensor may leave it out: after a failure.
    pub(super) fn read(
        reader: &mut Reader<'_>,
        request_op: u8,
        result: ResultCode,
    ) -> Result<Self, DecodeError> {
        let is_failure = result == ResultCode::OperationFailed;
        if is_failure && request_op == op_code::START_ENHANCED_OFFSET && reader.remaining() > 0 {
            return Ok(Self::EnhancedFailure(EnhancedFailure::read(reader)?));
        }
        if result != ResultCode::Success {
            return Ok(Self::None);
        }
        Ok(match request_op {
            op_code::REQUEST_LOCATIONS => Self::Locations(SensorLocation::read_list(reader)?),
            op_code::REQUEST_CRANK_LENGTH => Self::CrankLength {
                crank_length_mm: reader.scaled_u16(CRANK_LENGTH_STEPS_PER_MM)?,
            },
            op_code::REQUEST_CHAIN_LENGTH => Self::ChainLength {
                chain_length_mm: reader.u16()?,
            },
            op_code::REQUEST_CHAIN_WEIGHT => Self::ChainWeight {
                chain_weight_g: reader.u16()?,
            },
            op_code::REQUEST_SPAN_LENGTH => Self::SpanLength {
                span_length_mm: reader.u16()?,
            },
            op_code::START_OFFSET_COMPENSATION => Self::Offset(Offset::read(reader)?),
            op_code::REQUEST_SAMPLING_RATE => Self::SamplingRate {
                sampling_rate_hz: reader.u8()?,
            },
            op_code::REQUEST_CALIBRATION_DATE => Self::CalibrationDate(CalibrationDate {
                year: reader.u16()?,
                month: reader.u8()?,
                day: reader.u8()?,
                hour: reader.u8()?,
                minute: reader.u8()?,
                second: reader.u8()?,
            }),
            op_code::START_ENHANCED_OFFSET => Self::EnhancedOffset {
                offset: Offset::read(reader)?,
                manufacturer: ManufacturerData::read(reader)?,
            },
            _ => Self::None,
        })
    }

    pub(super) fn write(&self, writer: &mut Writer) {
        match self {
            Self::None => {}
            Self::Locations(locations) => {
                for location in locations {
                    writer.u8(location.number());
                }
            }
            Self::CrankLength { crank_length_mm } => {
                writer.scaled_u16(*crank_length_mm, CRANK_LENGTH_STEPS_PER_MM);
            }
            Self::ChainLength {
                chain_length_mm: number,
            }
            | Self::ChainWeight {
                chain_weight_g: number,
            }
            | Self::SpanLength {
                span_length_mm: number,
            } => {
                writer.u16(*number);
            }
            Self::Offset(offset) => offset.write(writer),
            Self::SamplingRate { sampling_rate_hz } => {
                writer.u8(*sampling_rate_hz);
            }
            Self::CalibrationDate(date) => {
                writer.u16(date.year);
                writer.bytes(&[date.month, date.day, date.hour, date.minute, date.second]);
            }
            Self::EnhancedOffset {
                offset,
                manufacturer,
            } => {
                offset.write(writer);
                manufacturer.write(writer);
            }
            Self::EnhancedFailure(failure) => {
                writer.u8(failure.reason.number());
                if let Some(manufacturer) = &failure.manufacturer {
                    manufacturer.write(writer);
                }
            }
        }
    }
}
