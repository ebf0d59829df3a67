//! Indoor Bike Data (2AD2): what an indoor trainer says about itself, about once per second.
//!
//! Source: Fitness Machine Service 1.0, table 4.10. The flag More Data is inverted: the speed is
//! there when the bit is *not* set. The older XML definition has the bits of average speed and
//! cadence swapped; the service text is followed here.

use super::width::ResistanceWidth;
use crate::anomaly::{Anomaly, DecodeError, Decoded};
use crate::assigned::INDOOR_BIKE_DATA;
use crate::wire::{Reader, Writer};

const MORE_DATA: u16 = 1 << 0;
const AVERAGE_SPEED: u16 = 1 << 1;
const CADENCE: u16 = 1 << 2;
const AVERAGE_CADENCE: u16 = 1 << 3;
const DISTANCE: u16 = 1 << 4;
const RESISTANCE: u16 = 1 << 5;
const POWER: u16 = 1 << 6;
const AVERAGE_POWER: u16 = 1 << 7;
const ENERGY: u16 = 1 << 8;
const HEART_RATE: u16 = 1 << 9;
const METABOLIC_EQUIVALENT: u16 = 1 << 10;
const ELAPSED: u16 = 1 << 11;
const REMAINING: u16 = 1 << 12;
const KNOWN: u16 = (1 << 13) - 1;

const SPEED_STEPS_PER_KMH: f64 = 100.0;
const CADENCE_STEPS_PER_RPM: f64 = 2.0;
const MET_STEPS: f64 = 10.0;

/// One notification of Indoor Bike Data, or the whole record put together from several.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct IndoorBikeData {
    /// Speed in km/h, resolution 0.01. Absent exactly when more parts of the record follow.
    pub speed_kmh: Option<f64>,
    /// Mean speed since the training began, in km/h, resolution 0.01.
    pub average_speed_kmh: Option<f64>,
    /// Cadence in rpm, resolution 0.5.
    pub cadence_rpm: Option<f64>,
    /// Mean cadence since the training began, in rpm, resolution 0.5.
    pub average_cadence_rpm: Option<f64>,
    /// Distance since the training began, in metres; 24 bits.
    pub distance_m: Option<u32>,
    /// Resistance level.
    pub resistance: Option<ResistanceLevel>,
    /// Power in watts; may be negative.
    pub power_w: Option<i16>,
    /// Mean power since the training began, in watts.
    pub average_power_w: Option<i16>,
    /// Expended energy.
    pub energy: Option<ExpendedEnergy>,
    /// Heart rate in beats per minute.
    pub heart_rate_bpm: Option<u8>,
    /// Metabolic equivalent, dimensionless, resolution 0.1.
    pub metabolic_equivalent: Option<f64>,
    /// Time since the training began, in seconds.
    pub elapsed_s: Option<u16>,
    /// Time until the training ends, in seconds.
    pub remaining_s: Option<u16>,
}

/// A resistance level as it came, without a unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ResistanceLevel {
    /// The number on the wire.
    pub raw: i16,
    /// How many octets it took.
    pub width: ResistanceWidth,
}

/// Expended energy; a field that the machine marks as not available is absent.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ExpendedEnergy {
    /// Since the training began, in kilocalories.
    pub total_kcal: Option<u16>,
    /// Mean per hour, in kilocalories.
    pub per_hour_kcal: Option<u16>,
    /// Mean per minute, in kilocalories.
    pub per_minute_kcal: Option<u8>,
}

impl IndoorBikeData {
    /// Whether more parts of the same record follow this one.
    pub fn more_data(&self) -> bool {
        self.speed_kmh.is_none()
    }

    /// Reads a notification. A resistance level is taken as two octets if the value is long
    /// enough for that, and as one if it is exactly one octet shorter.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`] if it is shorter than its flags promise.
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(INDOOR_BIKE_DATA, bytes);
        let flags = reader.u16()?;
        let has = |bit: u16| flags & bit != 0;
        let full = length(flags);
        let one_octet = has(RESISTANCE) && reader.len() + 1 == full;
        if !one_octet {
            reader.require(full)?;
        }
        reader.note_reserved(flags.into(), KNOWN.into());
        let mut record = Self::default();
        if !has(MORE_DATA) {
            record.speed_kmh = Some(reader.scaled_u16(SPEED_STEPS_PER_KMH)?);
        }
        if has(AVERAGE_SPEED) {
            record.average_speed_kmh = Some(reader.scaled_u16(SPEED_STEPS_PER_KMH)?);
        }
        if has(CADENCE) {
            record.cadence_rpm = Some(reader.scaled_u16(CADENCE_STEPS_PER_RPM)?);
        }
        if has(AVERAGE_CADENCE) {
            record.average_cadence_rpm = Some(reader.scaled_u16(CADENCE_STEPS_PER_RPM)?);
        }
        if has(DISTANCE) {
            record.distance_m = Some(reader.u24()?);
        }
        if has(RESISTANCE) {
            record.resistance = Some(if one_octet {
                reader.note(Anomaly::ResistanceInOneOctet);
                ResistanceLevel {
                    raw: reader.u8()?.into(),
                    width: ResistanceWidth::OneOctet,
                }
            } else {
                ResistanceLevel {
                    raw: reader.i16()?,
                    width: ResistanceWidth::TwoOctets,
                }
            });
        }
        if has(POWER) {
            record.power_w = Some(reader.i16()?);
        }
        if has(AVERAGE_POWER) {
            record.average_power_w = Some(reader.i16()?);
        }
        if has(ENERGY) {
            record.energy = Some(ExpendedEnergy {
                total_kcal: Some(reader.u16()?).filter(|&kcal| kcal != u16::MAX),
                per_hour_kcal: Some(reader.u16()?).filter(|&kcal| kcal != u16::MAX),
                per_minute_kcal: Some(reader.u8()?).filter(|&kcal| kcal != u8::MAX),
            });
        }
        if has(HEART_RATE) {
            record.heart_rate_bpm = Some(reader.u8()?);
        }
        if has(METABOLIC_EQUIVALENT) {
            record.metabolic_equivalent = Some(reader.scaled_u8(MET_STEPS)?);
        }
        if has(ELAPSED) {
            record.elapsed_s = Some(reader.u16()?);
        }
        if has(REMAINING) {
            record.remaining_s = Some(reader.u16()?);
        }
        Ok(reader.finish(record))
    }

    /// Writes a notification with the fields that are there.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer.u16(self.flags());
        for speed_kmh in [self.speed_kmh, self.average_speed_kmh]
            .into_iter()
            .flatten()
        {
            writer.scaled_u16(speed_kmh, SPEED_STEPS_PER_KMH);
        }
        for cadence_rpm in [self.cadence_rpm, self.average_cadence_rpm]
            .into_iter()
            .flatten()
        {
            writer.scaled_u16(cadence_rpm, CADENCE_STEPS_PER_RPM);
        }
        if let Some(distance_m) = self.distance_m {
            writer.u24(distance_m);
        }
        match self.resistance {
            Some(ResistanceLevel {
                raw,
                width: ResistanceWidth::TwoOctets,
            }) => {
                writer.i16(raw);
            }
            Some(ResistanceLevel {
                raw,
                width: ResistanceWidth::OneOctet,
            }) => {
                writer.u8(raw.clamp(0, u8::MAX.into()) as u8);
            }
            None => {}
        }
        for power_w in [self.power_w, self.average_power_w].into_iter().flatten() {
            writer.i16(power_w);
        }
        if let Some(energy) = self.energy {
            writer
                .u16(energy.total_kcal.unwrap_or(u16::MAX))
                .u16(energy.per_hour_kcal.unwrap_or(u16::MAX))
                .u8(energy.per_minute_kcal.unwrap_or(u8::MAX));
        }
        if let Some(heart_rate_bpm) = self.heart_rate_bpm {
            writer.u8(heart_rate_bpm);
        }
        if let Some(metabolic_equivalent) = self.metabolic_equivalent {
            writer.scaled_u8(metabolic_equivalent, MET_STEPS);
        }
        for time_s in [self.elapsed_s, self.remaining_s].into_iter().flatten() {
            writer.u16(time_s);
        }
        writer.finish()
    }

    /// The flags for the fields that are there, More Data included.
    pub(crate) fn flags(&self) -> u16 {
        [
            (MORE_DATA, self.more_data()),
            (AVERAGE_SPEED, self.average_speed_kmh.is_some()),
            (CADENCE, self.cadence_rpm.is_some()),
            (AVERAGE_CADENCE, self.average_cadence_rpm.is_some()),
            (DISTANCE, self.distance_m.is_some()),
            (RESISTANCE, self.resistance.is_some()),
            (POWER, self.power_w.is_some()),
            (AVERAGE_POWER, self.average_power_w.is_some()),
            (ENERGY, self.energy.is_some()),
            (HEART_RATE, self.heart_rate_bpm.is_some()),
            (METABOLIC_EQUIVALENT, self.metabolic_equivalent.is_some()),
            (ELAPSED, self.elapsed_s.is_some()),
            (REMAINING, self.remaining_s.is_some()),
        ]
        .into_iter()
        .fold(0, |flags, (bit, set)| if set { flags | bit } else { flags })
    }
}

/// The length in bytes that the flags promise, with a resistance level of two octets.
fn length(flags: u16) -> usize {
    const FIELDS: [(u16, usize); 12] = [
        (AVERAGE_SPEED, 2),
        (CADENCE, 2),
        (AVERAGE_CADENCE, 2),
        (DISTANCE, 3),
        (RESISTANCE, 2),
        (POWER, 2),
        (AVERAGE_POWER, 2),
        (ENERGY, 5),
        (HEART_RATE, 1),
        (METABOLIC_EQUIVALENT, 1),
        (ELAPSED, 2),
        (REMAINING, 2),
    ];
    let speed = if flags & MORE_DATA == 0 { 2 } else { 0 };
    2 + speed
        + FIELDS
            .iter()
            .filter(|(bit, _)| flags & bit != 0)
            .map(|(_, bytes)| bytes)
            .sum::<usize>()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_that_is_too_short_for_either_resistance_is_refused() {
        let bytes = [0x64, 0x00, 0xB8, 0x0B, 0xB4, 0x00, 0x14, 0xFA];
        let error = DecodeError::TooShort {
            characteristic: INDOOR_BIKE_DATA,
            needed: 10,
            got: 8,
        };
        assert_eq!(IndoorBikeData::decode(&bytes), Err(error));
    }

    #[test]
    fn one_octet_less_without_a_resistance_level_is_refused() {
        let bytes = [0x44, 0x00, 0xB8, 0x0B, 0xB4, 0x00, 0xFA];
        let error = DecodeError::TooShort {
            characteristic: INDOOR_BIKE_DATA,
            needed: 8,
            got: 7,
        };
        assert_eq!(IndoorBikeData::decode(&bytes), Err(error));
    }
}
