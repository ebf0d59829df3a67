//! The supported ranges (2AD4 to 2AD8): least, greatest and step of what can be set.

use super::ResistanceWidth;
use super::control::scale::{INCLINATION_STEPS_PER_PCT, RESISTANCE_STEPS, SPEED_STEPS_PER_KMH};
use crate::anomaly::{Anomaly, DecodeError, Decoded};
use crate::assigned::{
    SUPPORTED_HEART_RATE_RANGE, SUPPORTED_INCLINATION_RANGE, SUPPORTED_POWER_RANGE,
    SUPPORTED_RESISTANCE_LEVEL_RANGE, SUPPORTED_SPEED_RANGE,
};
use crate::wire::{Reader, Writer};

/// Supported Speed Range (2AD4).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SpeedRange {
    /// Least speed in km/h, resolution 0.01.
    pub min_kmh: f64,
    /// Greatest speed in km/h, resolution 0.01.
    pub max_kmh: f64,
    /// Step in km/h, resolution 0.01.
    pub step_kmh: f64,
}

/// Supported Inclination Range (2AD5).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct InclinationRange {
    /// Least inclination in percent, resolution 0.1.
    pub min_pct: f64,
    /// Greatest inclination in percent, resolution 0.1.
    pub max_pct: f64,
    /// Step in percent, resolution 0.1.
    pub step_pct: f64,
}

/// Supported Resistance Level Range (2AD6), without unit.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ResistanceRange {
    /// Least level.
    pub min: f64,
    /// Greatest level.
    pub max: f64,
    /// Step.
    pub step: f64,
    /// Two octets each in steps of 0.1, or one octet each in steps of 1.
    pub width: ResistanceWidth,
}

/// Supported Heart Rate Range (2AD7).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct HeartRateRange {
    /// Least heart rate in beats per minute.
    pub min_bpm: u8,
    /// Greatest heart rate in beats per minute.
    pub max_bpm: u8,
    /// Step in beats per minute.
    pub step_bpm: u8,
}

/// Supported Power Range (2AD8). The extremes do not depend on the present speed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PowerRange {
    /// Least power in watts.
    pub min_w: i16,
    /// Greatest power in watts.
    pub max_w: i16,
    /// Step in watts.
    pub step_w: u16,
}

impl SpeedRange {
    /// Reads the 6 bytes.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(SUPPORTED_SPEED_RANGE, bytes);
        reader.require(6)?;
        let range = Self {
            min_kmh: reader.scaled_u16(SPEED_STEPS_PER_KMH)?,
            max_kmh: reader.scaled_u16(SPEED_STEPS_PER_KMH)?,
            step_kmh: reader.scaled_u16(SPEED_STEPS_PER_KMH)?,
        };
        note_order(&mut reader, "speed", range.max_kmh < range.min_kmh);
        Ok(reader.finish(range))
    }

    /// Writes the 6 bytes.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        for speed_kmh in [self.min_kmh, self.max_kmh, self.step_kmh] {
            writer.scaled_u16(speed_kmh, SPEED_STEPS_PER_KMH);
        }
        writer.finish()
    }
}

impl InclinationRange {
    /// Reads the 6 bytes.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(SUPPORTED_INCLINATION_RANGE, bytes);
        reader.require(6)?;
        let range = Self {
            min_pct: reader.scaled_i16(INCLINATION_STEPS_PER_PCT)?,
            max_pct: reader.scaled_i16(INCLINATION_STEPS_PER_PCT)?,
            step_pct: reader.scaled_u16(INCLINATION_STEPS_PER_PCT)?,
        };
        note_order(&mut reader, "inclination", range.max_pct < range.min_pct);
        Ok(reader.finish(range))
    }

    /// Writes the 6 bytes.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer
            .scaled_i16(self.min_pct, INCLINATION_STEPS_PER_PCT)
            .scaled_i16(self.max_pct, INCLINATION_STEPS_PER_PCT)
            .scaled_u16(self.step_pct, INCLINATION_STEPS_PER_PCT);
        writer.finish()
    }
}

impl ResistanceRange {
    /// Reads 6 bytes, or 3 if there are exactly 3.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(SUPPORTED_RESISTANCE_LEVEL_RANGE, bytes);
        let range = if reader.len() == 3 {
            reader.note(Anomaly::ResistanceInOneOctet);
            Self {
                min: reader.u8()?.into(),
                max: reader.u8()?.into(),
                step: reader.u8()?.into(),
                width: ResistanceWidth::OneOctet,
            }
        } else {
            reader.require(6)?;
            Self {
                min: reader.scaled_i16(RESISTANCE_STEPS)?,
                max: reader.scaled_i16(RESISTANCE_STEPS)?,
                step: reader.scaled_u16(RESISTANCE_STEPS)?,
                width: ResistanceWidth::TwoOctets,
            }
        };
        note_order(&mut reader, "resistance level", range.max < range.min);
        Ok(reader.finish(range))
    }

    /// Writes 6 or 3 bytes, after the width.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        match self.width {
            ResistanceWidth::OneOctet => {
                for level in [self.min, self.max, self.step] {
                    writer.scaled_u8(level, 1.0);
                }
            }
            ResistanceWidth::TwoOctets => {
                writer
                    .scaled_i16(self.min, RESISTANCE_STEPS)
                    .scaled_i16(self.max, RESISTANCE_STEPS)
                    .scaled_u16(self.step, RESISTANCE_STEPS);
            }
        }
        writer.finish()
    }
}

impl HeartRateRange {
    /// Reads the 3 bytes.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(SUPPORTED_HEART_RATE_RANGE, bytes);
        reader.require(3)?;
        let range = Self {
            min_bpm: reader.u8()?,
            max_bpm: reader.u8()?,
            step_bpm: reader.u8()?,
        };
        note_order(&mut reader, "heart rate", range.max_bpm < range.min_bpm);
        Ok(reader.finish(range))
    }

    /// Writes the 3 bytes.
    pub fn encode(&self) -> Vec<u8> {
        vec![self.min_bpm, self.max_bpm, self.step_bpm]
    }
}

impl PowerRange {
    /// Reads the 6 bytes.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(SUPPORTED_POWER_RANGE, bytes);
        reader.require(6)?;
        let range = Self {
            min_w: reader.i16()?,
            max_w: reader.i16()?,
            step_w: reader.u16()?,
        };
        note_order(&mut reader, "power", range.max_w < range.min_w);
        Ok(reader.finish(range))
    }

    /// Writes the 6 bytes.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer.i16(self.min_w).i16(self.max_w).u16(self.step_w);
        writer.finish()
    }
}

fn note_order(reader: &mut Reader<'_>, field: &'static str, swapped: bool) {
    if swapped {
        reader.note(Anomaly::MaximumBelowMinimum { field });
    }
}
