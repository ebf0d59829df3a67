//! The Battery Service: the charge of an instrument.

use crate::anomaly::{Anomaly, DecodeError, Decoded};
use crate::assigned::BATTERY_LEVEL;
use crate::wire::Reader;

const FULL_PCT: u8 = 100;

/// Battery Level (2A19).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BatteryLevel {
    /// Charge in percent, 0 to 100; absent if the instrument sent a number above. A zero may mean
    /// "unknown" with some instruments (common practice, not in a standard).
    pub percent: Option<u8>,
}

impl BatteryLevel {
    /// Reads the byte.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`] if it is missing.
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(BATTERY_LEVEL, bytes);
        let number = reader.u8()?;
        let percent = (number <= FULL_PCT).then_some(number);
        if percent.is_none() {
            reader.note(Anomaly::OutOfRange {
                field: "battery level",
                value: number.into(),
            });
        }
        Ok(reader.finish(Self { percent }))
    }

    /// Writes the byte; 255 if the charge is absent.
    pub fn encode(&self) -> Vec<u8> {
        vec![self.percent.unwrap_or(u8::MAX)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_than_full_is_not_a_charge() {
        let decoded = BatteryLevel::decode(&[255]).unwrap();
        assert_eq!(decoded.value.percent, None);
        let field = "battery level";
        assert_eq!(
            decoded.anomalies,
            [Anomaly::OutOfRange { field, value: 255 }]
        );
    }
}
