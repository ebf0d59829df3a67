//! The Device Information Service: texts about the make of an instrument, and its system number.

use crate::anomaly::{DecodeError, Decoded};
use crate::assigned::{MANUFACTURER_NAME, SYSTEM_ID};
use crate::wire::Reader;

/// Reads one of the texts of the service. Zero octets at its end, which some instruments send, are
/// stripped; what is not UTF-8 is replaced; both with a note. May be empty.
pub fn decode_text(bytes: &[u8]) -> Decoded<String> {
    // Reading a text cannot fail, so it does not matter which of the texts an error would name.
    let mut reader = Reader::new(MANUFACTURER_NAME, bytes);
    let text = reader.text();
    reader.finish(text)
}

/// Writes one of the texts of the service.
pub fn encode_text(text: &str) -> Vec<u8> {
    text.as_bytes().to_vec()
}

/// System ID (2A23): 8 bytes, the low 40 bits of the maker, the high 24 bits of the registry.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SystemId {
    /// The number as a whole.
    pub number: u64,
}

impl SystemId {
    /// Reads the 8 bytes.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(SYSTEM_ID, bytes);
        reader.require(8)?;
        let low = u64::from(reader.u32()?);
        let number = low | u64::from(reader.u32()?) << 32;
        Ok(reader.finish(Self { number }))
    }

    /// Writes the 8 bytes.
    pub fn encode(&self) -> Vec<u8> {
        self.number.to_le_bytes().to_vec()
    }

    /// The part that the maker assigns: 40 bits.
    pub fn maker_assigned(self) -> u64 {
        self.number & 0xFF_FFFF_FFFF
    }

    /// The part that names the organisation: 24 bits.
    pub fn organisation(self) -> u32 {
        (self.number >> 40) as u32
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Anomaly;

    #[test]
    fn a_text_loses_its_zeros_and_may_be_empty() {
        let decoded = decode_text(b"4.20.1\0");
        assert_eq!(decoded.value, "4.20.1");
        assert_eq!(decoded.anomalies, [Anomaly::TrailingZeros]);
        assert_eq!(decode_text(&[]).value, "");
    }
}
