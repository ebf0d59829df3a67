//! Sensor Location (2A5D), shared by the cycling power and the speed and cadence service.

use crate::anomaly::{Anomaly, DecodeError, Decoded};
use crate::assigned::SENSOR_LOCATION;
use crate::wire::Reader;
use std::fmt;

macro_rules! locations {
    ($($variant:ident = $number:literal, $name:literal;)*) => {
        /// Where a sensor sits.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub enum SensorLocation {
            $(#[doc = concat!($name, ".")] $variant,)*
            /// A number without meaning.
            Reserved(u8),
        }

        impl SensorLocation {
            /// The location with this number on the wire.
            pub fn from_number(number: u8) -> Self {
                match number {
                    $($number => Self::$variant,)*
                    other => Self::Reserved(other),
                }
            }

            /// The number on the wire.
            pub fn number(self) -> u8 {
                match self {
                    $(Self::$variant => $number,)*
                    Self::Reserved(number) => number,
                }
            }

            /// The location in the words of the standard.
            pub fn name(self) -> &'static str {
                match self {
                    $(Self::$variant => $name,)*
                    Self::Reserved(_) => "reserved",
                }
            }
        }
    };
}

locations! {
    Other = 0, "other";
    TopOfShoe = 1, "top of shoe";
    InShoe = 2, "in shoe";
    Hip = 3, "hip";
    FrontWheel = 4, "front wheel";
    LeftCrank = 5, "left crank";
    RightCrank = 6, "right crank";
    LeftPedal = 7, "left pedal";
    RightPedal = 8, "right pedal";
    FrontHub = 9, "front hub";
    RearDropout = 10, "rear dropout";
    Chainstay = 11, "chainstay";
    RearWheel = 12, "rear wheel";
    RearHub = 13, "rear hub";
    Chest = 14, "chest";
    Spider = 15, "spider";
    ChainRing = 16, "chain ring";
}

impl SensorLocation {
    /// Reads the value of the characteristic.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`] if it is empty.
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(SENSOR_LOCATION, bytes);
        let location = Self::read(&mut reader)?;
        Ok(reader.finish(location))
    }

    /// Writes the value of the characteristic.
    pub fn encode(&self) -> Vec<u8> {
        vec![self.number()]
    }

    pub(crate) fn read(reader: &mut Reader<'_>) -> Result<Self, DecodeError> {
        let location = Self::from_number(reader.u8()?);
        if let Self::Reserved(number) = location {
            reader.note(Anomaly::ReservedValue {
                field: "sensor location",
                value: number.into(),
            });
        }
        Ok(location)
    }

    /// Reads locations up to the end.
    pub(crate) fn read_list(reader: &mut Reader<'_>) -> Result<Vec<Self>, DecodeError> {
        (0..reader.remaining())
            .map(|_| Self::read(reader))
            .collect()
    }
}

impl fmt::Display for SensorLocation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
