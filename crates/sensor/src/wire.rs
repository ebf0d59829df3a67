//! Little-endian reading that cannot run past the end, and the writing that mirrors it.
//!
//! All multi-byte integers of the standard services are little-endian. Scaled numbers are divided
//! by the count of steps per unit rather than multiplied by the step, because the quotient of two
//! exact integers is the nearest double and turns back into the same integer.

use crate::anomaly::{Anomaly, DecodeError, Decoded};
use units::Characteristic;

/// Reads one value from front to back and collects what was odd about it.
#[derive(Clone, Debug)]
pub struct Reader<'a> {
    characteristic: Characteristic,
    bytes: &'a [u8],
    at: usize,
    anomalies: Vec<Anomaly>,
}

impl<'a> Reader<'a> {
    /// A reader at the start of `bytes`, a value of `characteristic`.
    pub fn new(characteristic: Characteristic, bytes: &'a [u8]) -> Self {
        Self {
            characteristic,
            bytes,
            at: 0,
            anomalies: Vec::new(),
        }
    }

    /// The characteristic whose value is read.
    pub fn characteristic(&self) -> Characteristic {
        self.characteristic
    }

    /// Length of the whole value in bytes.
    pub fn len(&self) -> usize {
        self.bytes.len()
    }

    /// Whether the whole value has no bytes.
    pub fn is_empty(&self) -> bool {
        self.bytes.is_empty()
    }

    /// Bytes not yet read.
    pub fn remaining(&self) -> usize {
        self.bytes.len() - self.at
    }

    /// Checks that the whole value has at least `needed` bytes, so that the error can name the
    /// full length instead of the end of the first missing field.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub fn require(&self, needed: usize) -> Result<(), DecodeError> {
        if self.bytes.len() < needed {
            return Err(DecodeError::TooShort {
                characteristic: self.characteristic,
                needed,
                got: self.bytes.len(),
            });
        }
        Ok(())
    }

    /// Adds to the list of what was odd.
    pub fn note(&mut self, anomaly: Anomaly) {
        self.anomalies.push(anomaly);
    }

    /// Notes the bits of `flags` that are outside `known`.
    pub fn note_reserved(&mut self, flags: u32, known: u32) {
        if flags & !known != 0 {
            self.note(Anomaly::ReservedFlags {
                bits: flags & !known,
            });
        }
    }

    /// The error for an op code that is not listed.
    pub fn unknown_op_code(&self, op_code: u8) -> DecodeError {
        DecodeError::UnknownOpCode {
            characteristic: self.characteristic,
            op_code,
        }
    }

    fn take<const N: usize>(&mut self) -> Result<[u8; N], DecodeError> {
        self.require(self.at + N)?;
        let mut field = [0; N];
        field.copy_from_slice(&self.bytes[self.at..self.at + N]);
        self.at += N;
        Ok(field)
    }

    /// The next byte.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`], as for all readings below.
    pub fn u8(&mut self) -> Result<u8, DecodeError> {
        self.take::<1>().map(|[byte]| byte)
    }

    /// The next two bytes, unsigned.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub fn u16(&mut self) -> Result<u16, DecodeError> {
        self.take().map(u16::from_le_bytes)
    }

    /// The next two bytes, two's complement.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub fn i16(&mut self) -> Result<i16, DecodeError> {
        self.take().map(i16::from_le_bytes)
    }

    /// The next three bytes, unsigned.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub fn u24(&mut self) -> Result<u32, DecodeError> {
        self.take()
            .map(|[low, middle, high]| u32::from_le_bytes([low, middle, high, 0]))
    }

    /// The next four bytes, unsigned.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub fn u32(&mut self) -> Result<u32, DecodeError> {
        self.take().map(u32::from_le_bytes)
    }

    /// The next two bytes, unsigned, in steps of one over `steps_per_unit`.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub fn scaled_u16(&mut self, steps_per_unit: f64) -> Result<f64, DecodeError> {
        Ok(f64::from(self.u16()?) / steps_per_unit)
    }

    /// The next two bytes, signed, in steps of one over `steps_per_unit`.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub fn scaled_i16(&mut self, steps_per_unit: f64) -> Result<f64, DecodeError> {
        Ok(f64::from(self.i16()?) / steps_per_unit)
    }

    /// The next byte, unsigned, in steps of one over `steps_per_unit`.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub fn scaled_u8(&mut self, steps_per_unit: f64) -> Result<f64, DecodeError> {
        Ok(f64::from(self.u8()?) / steps_per_unit)
    }

    /// Everything up to the end.
    pub fn rest(&mut self) -> &'a [u8] {
        let rest = &self.bytes[self.at..];
        self.at = self.bytes.len();
        rest
    }

    /// Two-byte samples up to the end, unsigned; half a sample is noted and dropped.
    pub fn samples_u16(&mut self) -> Vec<u16> {
        let mut pairs = self.rest().chunks_exact(2);
        let samples = pairs
            .by_ref()
            .map(|pair| u16::from_le_bytes([pair[0], pair[1]]))
            .collect();
        if !pairs.remainder().is_empty() {
            self.note(Anomaly::IncompleteSample);
        }
        samples
    }

    /// Two-byte samples up to the end, signed; half a sample is noted and dropped.
    pub fn samples_i16(&mut self) -> Vec<i16> {
        self.samples_u16()
            .into_iter()
            .map(u16::cast_signed)
            .collect()
    }

    /// Text up to the end: zero octets at its end are stripped and bad UTF-8 is replaced, both
    /// with a note.
    pub fn text(&mut self) -> String {
        let rest = self.rest();
        let end = rest
            .iter()
            .rposition(|&byte| byte != 0)
            .map_or(0, |last| last + 1);
        let text = &rest[..end];
        if end < rest.len() {
            self.note(Anomaly::TrailingZeros);
        }
        let text = String::from_utf8_lossy(text);
        if matches!(text, std::borrow::Cow::Owned(_)) {
            self.note(Anomaly::NotUtf8);
        }
        text.into_owned()
    }

    /// Ends the reading: whatever is left over becomes an anomaly.
    pub fn finish<T>(mut self, value: T) -> Decoded<T> {
        if self.at < self.bytes.len() {
            self.note(Anomaly::SurplusOctets {
                expected: self.at,
                got: self.bytes.len(),
            });
        }
        Decoded {
            value,
            anomalies: self.anomalies,
        }
    }
}

/// Writes one value from front to back. Numbers that do not fit their field saturate.
#[derive(Clone, Debug, Default)]
pub struct Writer(Vec<u8>);

impl Writer {
    /// An empty value.
    pub fn new() -> Self {
        Self::default()
    }

    /// Appends one byte.
    pub fn u8(&mut self, value: u8) -> &mut Self {
        self.0.push(value);
        self
    }

    /// Appends two bytes, unsigned.
    pub fn u16(&mut self, value: u16) -> &mut Self {
        self.bytes(&value.to_le_bytes())
    }

    /// Appends two bytes, two's complement.
    pub fn i16(&mut self, value: i16) -> &mut Self {
        self.bytes(&value.to_le_bytes())
    }

    /// Appends three bytes, unsigned; what does not fit becomes `0xFFFFFF`.
    pub fn u24(&mut self, value: u32) -> &mut Self {
        self.bytes(&value.min(0xFF_FFFF).to_le_bytes()[..3])
    }

    /// Appends four bytes, unsigned.
    pub fn u32(&mut self, value: u32) -> &mut Self {
        self.bytes(&value.to_le_bytes())
    }

    /// Appends the nearest step of `value` as two bytes, unsigned.
    pub fn scaled_u16(&mut self, value: f64, steps_per_unit: f64) -> &mut Self {
        self.u16((value * steps_per_unit).round() as u16)
    }

    /// Appends the nearest step of `value` as two bytes, signed.
    pub fn scaled_i16(&mut self, value: f64, steps_per_unit: f64) -> &mut Self {
        self.i16((value * steps_per_unit).round() as i16)
    }

    /// Appends the nearest step of `value` as one byte, unsigned.
    pub fn scaled_u8(&mut self, value: f64, steps_per_unit: f64) -> &mut Self {
        self.u8((value * steps_per_unit).round() as u8)
    }

    /// Appends bytes as they are.
    pub fn bytes(&mut self, bytes: &[u8]) -> &mut Self {
        self.0.extend_from_slice(bytes);
        self
    }

    /// The value written.
    pub fn finish(self) -> Vec<u8> {
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assigned::BATTERY_LEVEL;

    #[test]
    fn what_is_written_is_read_and_nothing_is_read_past_the_end() {
        let mut writer = Writer::new();
        writer
            .u8(7)
            .u16(0xFEDC)
            .i16(-2)
            .u24(0x0123_4567)
            .u32(u32::MAX)
            .scaled_u8(300.0, 1.0);
        let bytes = writer.finish();
        assert_eq!(bytes.len(), 13);
        let mut reader = Reader::new(BATTERY_LEVEL, &bytes);
        assert_eq!(reader.u8(), Ok(7));
        assert_eq!(reader.u16(), Ok(0xFEDC));
        assert_eq!(reader.i16(), Ok(-2));
        assert_eq!(reader.u24(), Ok(0xFF_FFFF));
        assert_eq!(reader.u32(), Ok(u32::MAX));
        assert_eq!(reader.u8(), Ok(255));
        let error = DecodeError::TooShort {
            characteristic: BATTERY_LEVEL,
            needed: 15,
            got: 13,
        };
        assert_eq!(reader.u16(), Err(error));
    }

    #[test]
    fn text_loses_its_zeros_and_says_so() {
        let mut reader = Reader::new(BATTERY_LEVEL, b"1.2\0\0");
        assert_eq!(reader.text(), "1.2");
        assert_eq!(reader.finish(()).anomalies, [Anomaly::TrailingZeros]);
        let mut reader = Reader::new(BATTERY_LEVEL, &[0x41, 0xFF]);
        assert_eq!(reader.text(), "A\u{fffd}");
        assert_eq!(reader.finish(()).anomalies, [Anomaly::NotUtf8]);
    }
}
