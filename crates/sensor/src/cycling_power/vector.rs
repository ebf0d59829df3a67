//! Cycling Power Vector (2A64): force or torque sampled over a crank revolution.

use super::measurement::{CrankRevolutions, TORQUE_STEPS_PER_NM};
use crate::anomaly::{Anomaly, DecodeError, Decoded};
use crate::assigned::CYCLING_POWER_VECTOR;
use crate::wire::{Reader, Writer};

const CRANK: u8 = 1 << 0;
const FIRST_ANGLE: u8 = 1 << 1;
const FORCE: u8 = 1 << 2;
const TORQUE: u8 = 1 << 3;
const DIRECTION_SHIFT: u8 = 4;
const KNOWN: u8 = 0b11_1111;

/// One Cycling Power Vector.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CyclingPowerVector {
    /// The crank counter.
    pub crank: Option<CrankRevolutions>,
    /// Crank angle of the first sample in degrees.
    pub first_angle_deg: Option<u16>,
    /// The samples, older first.
    pub samples: Option<VectorSamples>,
    /// The direction in which they were measured.
    pub direction: MeasurementDirection,
}

/// Samples over a crank revolution, older first.
#[derive(Clone, Debug, PartialEq)]
pub enum VectorSamples {
    /// Forces in newtons.
    ForceN(Vec<i16>),
    /// Torques in newton metres, resolution 1/32.
    TorqueNm(Vec<f64>),
}

/// Direction of an instantaneous measurement.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum MeasurementDirection {
    /// Not said.
    #[default]
    Unknown,
    /// Along the path of the pedal.
    Tangential,
    /// Along the crank.
    Radial,
    /// Along the axle.
    Lateral,
}

impl CyclingPowerVector {
    /// Reads a notification. If both arrays are announced, which the standard forbids, the
    /// samples are taken as forces, with a note.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`] if it is shorter than its flags promise.
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(CYCLING_POWER_VECTOR, bytes);
        let flags = reader.u8()?;
        let has = |bit: u8| flags & bit != 0;
        let crank_len = if has(CRANK) { 4 } else { 0 };
        let angle_len = if has(FIRST_ANGLE) { 2 } else { 0 };
        reader.require(1 + crank_len + angle_len)?;
        reader.note_reserved(flags.into(), KNOWN.into());
        let mut record = Self::default();
        if has(CRANK) {
            record.crank = Some(CrankRevolutions::read(&mut reader)?);
        }
        if has(FIRST_ANGLE) {
            record.first_angle_deg = Some(reader.u16()?);
        }
        if has(FORCE) && has(TORQUE) {
            reader.note(Anomaly::BothForceAndTorque);
        }
        if has(FORCE) {
            record.samples = Some(VectorSamples::ForceN(reader.samples_i16()));
        } else if has(TORQUE) {
            let samples = reader.samples_i16().into_iter();
            let torques = samples
                .map(|sample| f64::from(sample) / TORQUE_STEPS_PER_NM)
                .collect();
            record.samples = Some(VectorSamples::TorqueNm(torques));
        }
        record.direction = match flags >> DIRECTION_SHIFT & 0b11 {
            1 => MeasurementDirection::Tangential,
            2 => MeasurementDirection::Radial,
            3 => MeasurementDirection::Lateral,
            _ => MeasurementDirection::Unknown,
        };
        Ok(reader.finish(record))
    }

    /// Writes a notification with the fields that are there.
    pub fn encode(&self) -> Vec<u8> {
        let mut flags = (self.direction as u8) << DIRECTION_SHIFT;
        flags |= if self.crank.is_some() { CRANK } else { 0 };
        flags |= if self.first_angle_deg.is_some() {
            FIRST_ANGLE
        } else {
            0
        };
        flags |= match self.samples {
            None => 0,
            Some(VectorSamples::ForceN(_)) => FORCE,
            Some(VectorSamples::TorqueNm(_)) => TORQUE,
        };
        let mut writer = Writer::new();
        writer.u8(flags);
        if let Some(crank) = self.crank {
            crank.write(&mut writer);
        }
        if let Some(first_angle_deg) = self.first_angle_deg {
            writer.u16(first_angle_deg);
        }
        match &self.samples {
            None => {}
            Some(VectorSamples::ForceN(forces)) => {
                for &force_n in forces {
                    writer.i16(force_n);
                }
            }
            Some(VectorSamples::TorqueNm(torques)) => {
                for &torque_nm in torques {
                    writer.scaled_i16(torque_nm, TORQUE_STEPS_PER_NM);
                }
            }
        }
        writer.finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_a_sample_and_two_arrays_are_noted() {
        let decoded = CyclingPowerVector::decode(&[0x0C, 0x64, 0x00, 0x01]).unwrap();
        assert_eq!(
            decoded.value.samples,
            Some(VectorSamples::ForceN(vec![100]))
        );
        assert_eq!(
            decoded.anomalies,
            [Anomaly::BothForceAndTorque, Anomaly::IncompleteSample]
        );
    }
}
