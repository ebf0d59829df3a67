//! Cycling Power Measurement (2A63): power and the counters behind cadence, torque and speed.
//!
//! Which fields are present is said by the flags of each notification anew: a record with all of
//! them has 34 bytes and does not fit a small link, so sensors leave fields out by turns. Counters
//! are kept as they come, in ticks; differences over their roll-over are not this module's work.

use crate::anomaly::{Anomaly, DecodeError, Decoded};
use crate::assigned::CYCLING_POWER_MEASUREMENT;
use crate::wire::{Reader, Writer};

const BALANCE: u16 = 1 << 0;
const BALANCE_IS_LEFT: u16 = 1 << 1;
const TORQUE: u16 = 1 << 2;
const TORQUE_AT_CRANK: u16 = 1 << 3;
const WHEEL: u16 = 1 << 4;
const CRANK: u16 = 1 << 5;
const EXTREME_FORCE: u16 = 1 << 6;
const EXTREME_TORQUE: u16 = 1 << 7;
const EXTREME_ANGLES: u16 = 1 << 8;
const TOP_DEAD_SPOT: u16 = 1 << 9;
const BOTTOM_DEAD_SPOT: u16 = 1 << 10;
const ENERGY: u16 = 1 << 11;
const OFFSET_COMPENSATION: u16 = 1 << 12;
const KNOWN: u16 = (1 << 13) - 1;

const BALANCE_STEPS_PER_PCT: f64 = 2.0;
pub(crate) const TORQUE_STEPS_PER_NM: f64 = 32.0;
const FULL_TURN_DEG: u16 = 360;

/// One Cycling Power Measurement.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CyclingPowerMeasurement {
    /// Instantaneous power in watts; may be negative.
    pub power_w: i16,
    /// How the power is shared between the pedals.
    pub balance: Option<PedalPowerBalance>,
    /// The torque counter.
    pub accumulated_torque: Option<AccumulatedTorque>,
    /// The wheel counter.
    pub wheel: Option<WheelRevolutions>,
    /// The crank counter.
    pub crank: Option<CrankRevolutions>,
    /// Largest and smallest force of the last revolution.
    pub extreme_force: Option<ExtremeForce>,
    /// Largest and smallest torque of the last revolution.
    pub extreme_torque: Option<ExtremeTorque>,
    /// Crank angles of the extremes.
    pub extreme_angles: Option<ExtremeAngles>,
    /// Crank angle of the top dead spot in degrees.
    pub top_dead_spot_deg: Option<u16>,
    /// Crank angle of the bottom dead spot in degrees.
    pub bottom_dead_spot_deg: Option<u16>,
    /// Energy since the counter was last reset, in kilojoules.
    pub energy_kj: Option<u16>,
    /// Whether the sensor asks for an offset compensation.
    pub offset_compensation_requested: bool,
}

/// Share of one pedal in the power.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PedalPowerBalance {
    /// The share in percent, resolution 0.5.
    pub percent: f64,
    /// Whose share it is.
    pub reference: BalanceReference,
}

/// The pedal a balance refers to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum BalanceReference {
    /// The sensor does not know.
    #[default]
    Unknown,
    /// The left pedal.
    Left,
}

/// The torque counter: the sum of one mean torque per revolution.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AccumulatedTorque {
    /// The count in steps of 1/32 N·m; rolls over at 65536.
    pub ticks_32: u16,
    /// Whose revolutions are counted.
    pub source: TorqueSource,
}

impl AccumulatedTorque {
    /// The count in newton metres.
    pub fn torque_nm(self) -> f64 {
        f64::from(self.ticks_32) / TORQUE_STEPS_PER_NM
    }
}

/// Where the torque is measured.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum TorqueSource {
    /// At the wheel.
    #[default]
    Wheel,
    /// At the crank.
    Crank,
}

/// The wheel counter. Its clock ticks twice as fast as that of the speed and cadence service.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct WheelRevolutions {
    /// Revolutions since the counter was last set.
    pub revolutions: u32,
    /// When the last one ended, in 1/2048 s; rolls over every 32 s.
    pub event_time_2048: u16,
}

/// The crank counter.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct CrankRevolutions {
    /// Revolutions; rolls over at 65536.
    pub revolutions: u16,
    /// When the last one ended, in 1/1024 s; rolls over every 64 s.
    pub event_time_1024: u16,
}

impl CrankRevolutions {
    pub(crate) fn read(reader: &mut Reader<'_>) -> Result<Self, DecodeError> {
        Ok(Self {
            revolutions: reader.u16()?,
            event_time_1024: reader.u16()?,
        })
    }

    pub(crate) fn write(self, writer: &mut Writer) {
        writer.u16(self.revolutions).u16(self.event_time_1024);
    }
}

/// Largest and smallest force of a revolution.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ExtremeForce {
    /// Largest force in newtons.
    pub max_n: i16,
    /// Smallest force in newtons.
    pub min_n: i16,
}

/// Largest and smallest torque of a revolution.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ExtremeTorque {
    /// Largest torque in newton metres, resolution 1/32.
    pub max_nm: f64,
    /// Smallest torque in newton metres, resolution 1/32.
    pub min_nm: f64,
}

/// Crank angles at which the extremes were met. 12 bits each.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ExtremeAngles {
    /// Angle of the largest magnitude in degrees.
    pub max_deg: u16,
    /// Angle of the smallest magnitude in degrees.
    pub min_deg: u16,
}

impl CyclingPowerMeasurement {
    /// Reads a notification.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`] if it is shorter than its flags promise.
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(CYCLING_POWER_MEASUREMENT, bytes);
        let flags = reader.u16()?;
        reader.require(length(flags))?;
        reader.note_reserved(flags.into(), KNOWN.into());
        let has = |bit: u16| flags & bit != 0;
        let mut record = Self {
            power_w: reader.i16()?,
            offset_compensation_requested: has(OFFSET_COMPENSATION),
            ..Self::default()
        };
        if has(BALANCE) {
            record.balance = Some(read_balance(&mut reader, has(BALANCE_IS_LEFT))?);
        }
        if has(TORQUE) {
            let source = if has(TORQUE_AT_CRANK) {
                TorqueSource::Crank
            } else {
                TorqueSource::Wheel
            };
            record.accumulated_torque = Some(AccumulatedTorque {
                ticks_32: reader.u16()?,
                source,
            });
        }
        if has(WHEEL) {
            record.wheel = Some(WheelRevolutions {
                revolutions: reader.u32()?,
                event_time_2048: reader.u16()?,
            });
        }
        if has(CRANK) {
            record.crank = Some(CrankRevolutions::read(&mut reader)?);
        }
        if has(EXTREME_FORCE) {
            let force = ExtremeForce {
                max_n: reader.i16()?,
                min_n: reader.i16()?,
            };
            note_order(&mut reader, "force", force.max_n < force.min_n);
            record.extreme_force = Some(force);
        }
        if has(EXTREME_TORQUE) {
            let torque = ExtremeTorque {
                max_nm: reader.scaled_i16(TORQUE_STEPS_PER_NM)?,
                min_nm: reader.scaled_i16(TORQUE_STEPS_PER_NM)?,
            };
            note_order(&mut reader, "torque", torque.max_nm < torque.min_nm);
            record.extreme_torque = Some(torque);
        }
        if has(EXTREME_ANGLES) {
            record.extreme_angles = Some(read_angles(&mut reader)?);
        }
        if has(TOP_DEAD_SPOT) {
            record.top_dead_spot_deg = Some(read_angle(&mut reader, "top dead spot angle")?);
        }
        if has(BOTTOM_DEAD_SPOT) {
            record.bottom_dead_spot_deg = Some(read_angle(&mut reader, "bottom dead spot angle")?);
        }
        if has(ENERGY) {
            record.energy_kj = Some(reader.u16()?);
        }
        Ok(reader.finish(record))
    }

    /// Writes a notification with the fields that are there.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer.u16(self.flags()).i16(self.power_w);
        if let Some(balance) = self.balance {
            writer.scaled_u8(balance.percent, BALANCE_STEPS_PER_PCT);
        }
        if let Some(torque) = self.accumulated_torque {
            writer.u16(torque.ticks_32);
        }
        if let Some(wheel) = self.wheel {
            writer.u32(wheel.revolutions).u16(wheel.event_time_2048);
        }
        if let Some(crank) = self.crank {
            crank.write(&mut writer);
        }
        if let Some(force) = self.extreme_force {
            writer.i16(force.max_n).i16(force.min_n);
        }
        if let Some(torque) = self.extreme_torque {
            writer.scaled_i16(torque.max_nm, TORQUE_STEPS_PER_NM);
            writer.scaled_i16(torque.min_nm, TORQUE_STEPS_PER_NM);
        }
        if let Some(angles) = self.extreme_angles {
            writer.u24(u32::from(angles.min_deg & 0xFFF) << 12 | u32::from(angles.max_deg & 0xFFF));
        }
        let last = [
            self.top_dead_spot_deg,
            self.bottom_dead_spot_deg,
            self.energy_kj,
        ];
        for field in last.into_iter().flatten() {
            writer.u16(field);
        }
        writer.finish()
    }

    fn flags(&self) -> u16 {
        let left = self
            .balance
            .is_some_and(|balance| balance.reference == BalanceReference::Left);
        let at_crank = self
            .accumulated_torque
            .is_some_and(|torque| torque.source == TorqueSource::Crank);
        [
            (BALANCE, self.balance.is_some()),
            (BALANCE_IS_LEFT, left),
            (TORQUE, self.accumulated_torque.is_some()),
            (TORQUE_AT_CRANK, at_crank),
            (WHEEL, self.wheel.is_some()),
            (CRANK, self.crank.is_some()),
            (EXTREME_FORCE, self.extreme_force.is_some()),
            (EXTREME_TORQUE, self.extreme_torque.is_some()),
            (EXTREME_ANGLES, self.extreme_angles.is_some()),
            (TOP_DEAD_SPOT, self.top_dead_spot_deg.is_some()),
            (BOTTOM_DEAD_SPOT, self.bottom_dead_spot_deg.is_some()),
            (ENERGY, self.energy_kj.is_some()),
            (OFFSET_COMPENSATION, self.offset_compensation_requested),
        ]
        .into_iter()
        .fold(0, |flags, (bit, set)| if set { flags | bit } else { flags })
    }
}

/// The length in bytes that the flags promise.
fn length(flags: u16) -> usize {
    const FIELDS: [(u16, usize); 10] = [
        (BALANCE, 1),
        (TORQUE, 2),
        (WHEEL, 6),
        (CRANK, 4),
        (EXTREME_FORCE, 4),
        (EXTREME_TORQUE, 4),
        (EXTREME_ANGLES, 3),
        (TOP_DEAD_SPOT, 2),
        (BOTTOM_DEAD_SPOT, 2),
        (ENERGY, 2),
    ];
    4 + FIELDS
        .iter()
        .filter(|(bit, _)| flags & bit != 0)
        .map(|(_, bytes)| bytes)
        .sum::<usize>()
}

fn read_balance(reader: &mut Reader<'_>, is_left: bool) -> Result<PedalPowerBalance, DecodeError> {
    let percent = reader.scaled_u8(BALANCE_STEPS_PER_PCT)?;
    if percent > 100.0 {
        let value = (percent * BALANCE_STEPS_PER_PCT) as i64;
        reader.note(Anomaly::OutOfRange {
            field: "pedal power balance",
            value,
        });
    }
    let reference = if is_left {
        BalanceReference::Left
    } else {
        BalanceReference::Unknown
    };
    Ok(PedalPowerBalance { percent, reference })
}

fn note_order(reader: &mut Reader<'_>, field: &'static str, swapped: bool) {
    if swapped {
        reader.note(Anomaly::MaximumBelowMinimum { field });
    }
}

/// The maximum is in the low twelve bits; the Supplement's own example has 0xABC and 0x123 as the
/// bytes BC 3A 12. At least one published server packs them the other way round, which cannot be
/// seen from the bytes.
fn read_angles(reader: &mut Reader<'_>) -> Result<ExtremeAngles, DecodeError> {
    let both = reader.u24()?;
    let angles = ExtremeAngles {
        max_deg: (both & 0xFFF) as u16,
        min_deg: (both >> 12) as u16,
    };
    note_angle(reader, "maximum angle", angles.max_deg);
    note_angle(reader, "minimum angle", angles.min_deg);
    Ok(angles)
}

fn read_angle(reader: &mut Reader<'_>, field: &'static str) -> Result<u16, DecodeError> {
    let angle_deg = reader.u16()?;
    note_angle(reader, field, angle_deg);
    Ok(angle_deg)
}

fn note_angle(reader: &mut Reader<'_>, field: &'static str, angle_deg: u16) {
    if angle_deg > FULL_TURN_DEG {
        reader.note(Anomaly::OutOfRange {
            field,
            value: angle_deg.into(),
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_record_shorter_than_its_flags_names_the_full_length() {
        let error = CyclingPowerMeasurement::decode(&[0x30, 0x00, 0x64, 0x00, 0x01]).unwrap_err();
        assert_eq!(
            error,
            DecodeError::TooShort {
                characteristic: CYCLING_POWER_MEASUREMENT,
                needed: 14,
                got: 5
            }
        );
    }

    #[test]
    fn reserved_flags_and_surplus_octets_are_ignored_with_a_note() {
        let decoded = CyclingPowerMeasurement::decode(&[0, 0x80, 0xF6, 0xFF, 9]).unwrap();
        assert_eq!(decoded.value.power_w, -10);
        assert_eq!(
            decoded.anomalies,
            [
                Anomaly::ReservedFlags { bits: 0x8000 },
                Anomaly::SurplusOctets {
                    expected: 4,
                    got: 5
                }
            ]
        );
    }
}
