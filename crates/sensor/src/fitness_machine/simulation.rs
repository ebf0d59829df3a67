//! The parameters of the indoor bike simulation, as control point and status carry them.

use crate::anomaly::DecodeError;
use crate::wire::{Reader, Writer};

const WIND_STEPS_PER_M_PER_S: f64 = 1000.0;
const GRADE_STEPS_PER_PCT: f64 = 100.0;
const ROLLING_STEPS: f64 = 10_000.0;
const WIND_RESISTANCE_STEPS: f64 = 100.0;

/// What the simulated road asks of the trainer: 6 bytes on the wire.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SimulationParameters {
    /// Wind speed in m/s, resolution 0.001. Positive is usually taken as head wind (common
    /// practice; the standard's text does not say).
    pub wind_speed_m_per_s: f64,
    /// Grade in percent, resolution 0.01, positive uphill.
    pub grade_pct: f64,
    /// Coefficient of rolling resistance, dimensionless, resolution 0.0001.
    pub rolling_coefficient: f64,
    /// Wind resistance coefficient, resolution 0.01. In kg/m by Fitness Machine Service 1.0;
    /// version 1.0.1 calls it unitless.
    pub wind_coefficient_kg_per_m: f64,
}

impl SimulationParameters {
    /// Length on the wire in bytes.
    pub const LEN: usize = 6;

    /// Reads the 6 bytes.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub(crate) fn read(reader: &mut Reader<'_>) -> Result<Self, DecodeError> {
        Ok(Self {
            wind_speed_m_per_s: reader.scaled_i16(WIND_STEPS_PER_M_PER_S)?,
            grade_pct: reader.scaled_i16(GRADE_STEPS_PER_PCT)?,
            rolling_coefficient: reader.scaled_u8(ROLLING_STEPS)?,
            wind_coefficient_kg_per_m: reader.scaled_u8(WIND_RESISTANCE_STEPS)?,
        })
    }

    /// Appends the 6 bytes.
    pub(crate) fn write(&self, writer: &mut Writer) {
        writer
            .scaled_i16(self.wind_speed_m_per_s, WIND_STEPS_PER_M_PER_S)
            .scaled_i16(self.grade_pct, GRADE_STEPS_PER_PCT)
            .scaled_u8(self.rolling_coefficient, ROLLING_STEPS)
            .scaled_u8(self.wind_coefficient_kg_per_m, WIND_RESISTANCE_STEPS);
    }
}
