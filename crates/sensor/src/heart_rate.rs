//! The Heart Rate Service: measurement and the place of the sensor on the body.

use crate::anomaly::{Anomaly, DecodeError, Decoded};
use crate::assigned::{BODY_SENSOR_LOCATION, HEART_RATE_MEASUREMENT};
use crate::wire::{Reader, Writer};

const TWO_OCTETS: u8 = 1 << 0;
const CONTACT_DETECTED: u8 = 1 << 1;
const CONTACT_SUPPORTED: u8 = 1 << 2;
const ENERGY: u8 = 1 << 3;
const INTERVALS: u8 = 1 << 4;
const KNOWN: u8 = 0b1_1111;

/// One Heart Rate Measurement (2A37).
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HeartRateMeasurement {
    /// Heart rate in beats per minute.
    pub heart_rate_bpm: u16,
    /// Whether the sensor touches the skin.
    pub contact: SensorContact,
    /// Energy expended since the counter was last reset, in kilojoules.
    pub energy_kj: Option<u16>,
    /// Times between beats in 1/1024 s, oldest first.
    pub intervals_1024: Vec<u16>,
}

/// Whether a heart rate sensor touches the skin.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SensorContact {
    /// The sensor cannot tell.
    #[default]
    NotSupported,
    /// It does not, or badly.
    NotDetected,
    /// It does.
    Detected,
}

impl HeartRateMeasurement {
    /// Reads a notification.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`] if it is shorter than its flags promise.
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(HEART_RATE_MEASUREMENT, bytes);
        let flags = reader.u8()?;
        let has = |bit: u8| flags & bit != 0;
        let rate_len = if has(TWO_OCTETS) { 2 } else { 1 };
        let energy_len = if has(ENERGY) { 2 } else { 0 };
        reader.require(1 + rate_len + energy_len)?;
        reader.note_reserved(flags.into(), KNOWN.into());
        let heart_rate_bpm = if has(TWO_OCTETS) {
            reader.u16()?
        } else {
            reader.u8()?.into()
        };
        let contact = match (has(CONTACT_SUPPORTED), has(CONTACT_DETECTED)) {
            (false, _) => SensorContact::NotSupported,
            (true, false) => SensorContact::NotDetected,
            (true, true) => SensorContact::Detected,
        };
        let energy_kj = if has(ENERGY) {
            Some(reader.u16()?)
        } else {
            None
        };
        let intervals_1024 = if has(INTERVALS) {
            reader.samples_u16()
        } else {
            Vec::new()
        };
        Ok(reader.finish(Self {
            heart_rate_bpm,
            contact,
            energy_kj,
            intervals_1024,
        }))
    }

    /// Writes a notification with the fields that are there; the rate takes one octet if it fits.
    pub fn encode(&self) -> Vec<u8> {
        let one_octet = u8::try_from(self.heart_rate_bpm);
        let mut flags = match self.contact {
            SensorContact::NotSupported => 0,
            SensorContact::NotDetected => CONTACT_SUPPORTED,
            SensorContact::Detected => CONTACT_SUPPORTED | CONTACT_DETECTED,
        };
        flags |= if one_octet.is_err() { TWO_OCTETS } else { 0 };
        flags |= if self.energy_kj.is_some() { ENERGY } else { 0 };
        flags |= if self.intervals_1024.is_empty() {
            0
        } else {
            INTERVALS
        };
        let mut writer = Writer::new();
        writer.u8(flags);
        match one_octet {
            Ok(heart_rate_bpm) => writer.u8(heart_rate_bpm),
            Err(_) => writer.u16(self.heart_rate_bpm),
        };
        if let Some(energy_kj) = self.energy_kj {
            writer.u16(energy_kj);
        }
        for &interval_1024 in &self.intervals_1024 {
            writer.u16(interval_1024);
        }
        writer.finish()
    }
}

/// Body Sensor Location (2A38).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BodySensorLocation {
    /// Other.
    Other,
    /// Chest.
    Chest,
    /// Wrist.
    Wrist,
    /// Finger.
    Finger,
    /// Hand.
    Hand,
    /// Ear lobe.
    Ear,
    /// Foot.
    Foot,
    /// A number without meaning.
    Reserved(u8),
}

impl BodySensorLocation {
    const LISTED: [Self; 7] = [
        Self::Other,
        Self::Chest,
        Self::Wrist,
        Self::Finger,
        Self::Hand,
        Self::Ear,
        Self::Foot,
    ];

    /// Reads the byte.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`] if it is missing.
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(BODY_SENSOR_LOCATION, bytes);
        let number = reader.u8()?;
        let location = Self::LISTED
            .get(usize::from(number))
            .copied()
            .unwrap_or(Self::Reserved(number));
        if let Self::Reserved(number) = location {
            let field = "body sensor location";
            reader.note(Anomaly::ReservedValue {
                field,
                value: number.into(),
            });
        }
        Ok(reader.finish(location))
    }

    /// Writes the byte.
    pub fn encode(&self) -> Vec<u8> {
        let number = match self {
            Self::Other => 0,
            Self::Chest => 1,
            Self::Wrist => 2,
            Self::Finger => 3,
            Self::Hand => 4,
            Self::Ear => 5,
            Self::Foot => 6,
            Self::Reserved(number) => *number,
        };
        vec![number]
    }
}
