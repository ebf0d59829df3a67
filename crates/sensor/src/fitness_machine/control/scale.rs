//! Resolutions and lists that control point and status share.

use crate::anomaly::DecodeError;
use crate::wire::{Reader, Writer};

pub(crate) const SPEED_STEPS_PER_KMH: f64 = 100.0;
pub(crate) const INCLINATION_STEPS_PER_PCT: f64 = 10.0;
pub(crate) const RESISTANCE_STEPS: f64 = 10.0;
pub(crate) const CIRCUMFERENCE_STEPS_PER_MM: f64 = 10.0;
pub(crate) const CADENCE_STEPS_PER_RPM: f64 = 2.0;

pub(crate) fn read_times<const N: usize>(reader: &mut Reader<'_>) -> Result<[u16; N], DecodeError> {
    let mut times_s = [0; N];
    for time_s in &mut times_s {
        *time_s = reader.u16()?;
    }
    Ok(times_s)
}

pub(crate) fn write_times(writer: &mut Writer, times_s: &[u16]) {
    for &time_s in times_s {
        writer.u16(time_s);
    }
}
