//! What travels through the house: bytes from one characteristic of one instrument at one moment.
//!
//! Radio, simulated bench and replayed file all produce the same [`Packet`]; nothing downstream
//! can tell them apart.

use crate::time::Timestamp;
use std::fmt;

/// Which instrument of the session a packet came from or goes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SourceId(pub u16);

/// A 16-bit assigned number of a characteristic (`0x2A63` and so on).
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Characteristic(pub u16);

impl fmt::Debug for Characteristic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Characteristic(0x{:04X})", self.0)
    }
}

/// The assigned number in the notation of the standards: `2A63`.
impl fmt::Display for Characteristic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04X}", self.0)
    }
}

/// One value received from an instrument: a notification, an indication or the answer to a read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Packet {
    /// When the value was received, on the session's one clock.
    pub at: Timestamp,
    /// The instrument it came from.
    pub source: SourceId,
    /// How many links to this instrument there have been; counters may restart with each.
    pub epoch: u32,
    /// The characteristic whose value this is.
    pub characteristic: Characteristic,
    /// The value, uninterpreted.
    pub bytes: Vec<u8>,
}

/// One value to write to an instrument, with response.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Write {
    /// The instrument to write to.
    pub source: SourceId,
    /// The characteristic to write.
    pub characteristic: Characteristic,
    /// The value.
    pub bytes: Vec<u8>,
}

/// Why a write was not accepted, as the attribute protocol tells it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum AttError {
    /// The instrument answered with this error code.
    Code(u8),
    /// There is no link to the instrument.
    NotConnected,
    /// Something else went wrong, in the words of whoever reported it.
    Other(String),
}

impl fmt::Display for AttError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Code(code) => write!(f, "attribute error 0x{code:02X}"),
            Self::NotConnected => f.write_str("not connected"),
            Self::Other(words) => f.write_str(words),
        }
    }
}

impl std::error::Error for AttError {}
