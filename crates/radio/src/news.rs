//! What the radio tells the program.

use crate::order::{DeviceId, Token};
use std::fmt;
use units::{AttError, Characteristic, Packet, SourceId, Span, Timestamp};

/// What a device says about itself without a link.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Advertisement {
    /// The system's name for the device.
    pub id: DeviceId,
    /// The name it goes by, if it gives one.
    pub name: Option<String>,
    /// Assigned numbers of the services it advertises, ascending. Services without an assigned
    /// number are left out.
    pub services: Vec<u16>,
    /// Signal strength at this machine in dBm, if it was heard.
    pub rssi: Option<i16>,
    /// Data it advertises with a service, by the service's assigned number.
    pub service_data: Vec<(u16, Vec<u8>)>,
    /// When it was last heard. Absent where the system only remembers the device from earlier.
    pub seen_at: Option<Timestamp>,
}

/// How far a link has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LinkState {
    /// Not wanted.
    Idle,
    /// The device is being looked for or a link is being set up.
    Connecting,
    /// Its services are being read.
    Discovering,
    /// Its notifications are being switched on.
    Subscribing,
    /// Values arrive, writes are accepted.
    Live,
    /// There is no link; the next attempt follows by itself.
    Lost,
}

impl fmt::Display for LinkState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Idle => "idle",
            Self::Connecting => "connecting",
            Self::Discovering => "reading services",
            Self::Subscribing => "subscribing",
            Self::Live => "live",
            Self::Lost => "lost",
        })
    }
}

/// The state of the system's Bluetooth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AdapterState {
    /// Ready.
    On,
    /// There is an adapter, and it is switched off.
    Off,
    /// The system's Bluetooth service does not answer, or there is no adapter.
    Missing,
}

/// What a characteristic declares that it can do.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Flags(u8);

impl Flags {
    /// Can be read.
    pub const READ: Self = Self(1);
    /// Can be written without a response.
    pub const WRITE_WITHOUT_RESPONSE: Self = Self(2);
    /// Can be written with a response.
    pub const WRITE: Self = Self(4);
    /// Notifies.
    pub const NOTIFY: Self = Self(8);
    /// Indicates.
    pub const INDICATE: Self = Self(16);
    /// Broadcasts.
    pub const BROADCAST: Self = Self(32);

    /// Both sets together.
    pub const fn with(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether every one of `other` is declared.
    pub const fn has(self, other: Self) -> bool {
        self.0 & other.0 == other.0
    }

    /// Whether it can be subscribed to.
    pub const fn speaks(self) -> bool {
        self.has(Self::NOTIFY) || self.has(Self::INDICATE)
    }
}

/// One characteristic of a device's service table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Assigned number of the service.
    pub service: u16,
    /// The characteristic.
    pub characteristic: Characteristic,
    /// What it declares that it can do.
    pub flags: Flags,
}

/// What sort of trouble, for a program that wants to act on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum TroubleKind {
    /// The system's Bluetooth service does not answer.
    NoService,
    /// There is no Bluetooth adapter.
    NoAdapter,
    /// The adapter is switched off.
    AdapterOff,
    /// A device wants to be paired first.
    NotPaired,
    /// A device cannot be found or does not let us link.
    OutOfReach,
    /// A device is linked, and says nothing.
    Silent,
    /// A characteristic that was there, or should speak, is missing or cannot be switched on.
    Missing,
    /// A device's service table differs from that of its last link.
    TableChanged,
    /// Two characteristics carry the same number; only the first is used.
    Duplicate,
    /// A write or a read was not answered in time.
    Unanswered,
    /// The program takes the news more slowly than they come.
    Behind,
    /// Packets were lost inside this program.
    PacketsLost,
    /// The machine slept, or its wall clock was set.
    ClockJump,
}

/// Something the person at the bench has to know.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    /// When it was noticed.
    pub at: Timestamp,
    /// The instrument it is about, if it is about one.
    pub source: Option<SourceId>,
    /// What sort.
    pub kind: TroubleKind,
    /// What is the matter.
    pub words: String,
    /// What to do about it.
    pub remedy: String,
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; {}", self.words, self.remedy)
    }
}

/// One thing that happened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum News {
    /// A device was heard, or is remembered by the system.
    Found(Advertisement),
    /// A link changed its state.
    Link {
        /// The instrument.
        source: SourceId,
        /// When.
        at: Timestamp,
        /// The new state.
        state: LinkState,
        /// How many links there have been, this one included.
        epoch: u32,
        /// Why, in words for the record.
        words: String,
    },
    /// A value arrived.
    Packet(Packet),
    /// What the device offers, once for each link, before it is live.
    Services {
        /// The instrument.
        source: SourceId,
        /// How many links there have been, this one included.
        epoch: u32,
        /// Its table, in the order of service and characteristic numbers.
        entries: Vec<Entry>,
    },
    /// A write is over. An indication that answers it may have arrived before.
    WriteDone {
        /// The order's number.
        token: Token,
        /// When.
        at: Timestamp,
        /// Whether the device took it.
        result: Result<(), AttError>,
    },
    /// A read is over; its value came as a packet just before.
    ReadDone {
        /// The order's number.
        token: Token,
        /// When.
        at: Timestamp,
        /// Whether the device answered.
        result: Result<(), AttError>,
    },
    /// The system's Bluetooth changed its state.
    Adapter {
        /// When.
        at: Timestamp,
        /// The new state.
        state: AdapterState,
    },
    /// The wall clock moved this much further than the monotonic one: a gap to be recorded.
    ClockJump {
        /// When it was noticed.
        at: Timestamp,
        /// How much.
        by: Span,
    },
    /// Something the person at the bench has to know.
    Trouble(Trouble),
    /// The radio has stopped; nothing follows.
    Stopped,
}
