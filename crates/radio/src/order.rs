//! What the program asks of the radio.

use std::fmt;
use units::{Characteristic, SourceId, Write};

/// The system's name for a device. An object path on Linux, an address on Windows, a number of
/// this one machine on macOS: it means nothing on another machine.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct DeviceId(pub String);

impl fmt::Display for DeviceId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A number by which the program knows the answer to its own write or read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Token(pub u64);

/// Whether to look for devices.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scan {
    /// Do not look.
    Off,
    /// Look all the time while nothing is attached. While something is attached the wish is kept
    /// but not carried out, because a scan takes air time from the links.
    On,
    /// One short burst now, even while something is attached.
    Once,
}

/// How often a characteristic is expected to speak.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rhythm {
    /// About once a second or more often, for as long as the link is up: silence is a fault.
    Steady,
    /// When there is something to say: silence means nothing.
    Occasional,
}

impl Rhythm {
    /// The rhythm that the standard services lead one to expect.
    ///
    /// Steady are the cycling power, speed and cadence, and heart rate measurements and the
    /// indoor bike data; every other characteristic is occasional.
    pub const fn usual(characteristic: Characteristic) -> Self {
        match characteristic.0 {
            0x2A63 | 0x2A5B | 0x2A37 | 0x2AD2 => Self::Steady,
            _ => Self::Occasional,
        }
    }
}

/// A characteristic that the program wants to receive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wanted {
    /// The characteristic.
    pub characteristic: Characteristic,
    /// How often it is expected to speak.
    pub rhythm: Rhythm,
}

impl Wanted {
    /// Wanted with the rhythm that is usual for it.
    pub const fn usual(characteristic: Characteristic) -> Self {
        Self {
            characteristic,
            rhythm: Rhythm::usual(characteristic),
        }
    }
}

/// One thing for the radio to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Order {
    /// Look for devices, or stop looking.
    Scan(Scan),
    /// Link to a device, subscribe to those of the wanted characteristics that it has, and keep
    /// the link up until it is detached. Attaching a source that is attached replaces it.
    Attach {
        /// The session's number for the instrument.
        source: SourceId,
        /// Which device.
        id: DeviceId,
        /// What to subscribe to, in this order; those that indicate come first.
        wanted: Vec<Wanted>,
    },
    /// Finish pending writes, drop the link and forget the device.
    Detach {
        /// The instrument.
        source: SourceId,
    },
    /// Write a value with response. While a write to the same characteristic is pending, the
    /// newest one waits for it and displaces an older one that waits.
    Write {
        /// Comes back in [`News::WriteDone`](crate::News::WriteDone).
        token: Token,
        /// Where and what to write.
        write: Write,
    },
    /// Read a value. It arrives as a packet, before [`News::ReadDone`](crate::News::ReadDone).
    Read {
        /// Comes back in [`News::ReadDone`](crate::News::ReadDone).
        token: Token,
        /// The instrument.
        source: SourceId,
        /// What to read.
        characteristic: Characteristic,
    },
    /// Finish pending writes, drop every link and stop.
    Shutdown,
}
