//! What really happened on the stand-in's side, for tests to count by.

use units::{Characteristic, Timestamp};

/// A value that was sent while the device was linked and the characteristic switched on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sent {
    /// When, on the stand-in's clock.
    pub at: Timestamp,
    /// Which device.
    pub device: usize,
    /// How many links the device had had.
    pub link: u32,
    /// Which characteristic.
    pub characteristic: Characteristic,
    /// The value.
    pub bytes: Vec<u8>,
}

/// A write that reached a device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// When, on the stand-in's clock.
    pub at: Timestamp,
    /// Which device.
    pub device: usize,
    /// How many links the device had had.
    pub link: u32,
    /// Which characteristic.
    pub characteristic: Characteristic,
    /// The value.
    pub bytes: Vec<u8>,
    /// The attribute error it was answered with, if any.
    pub refused: Option<u8>,
}

/// Everything that was sent and written, and how often the system was asked for what.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Ledger {
    /// Values sent.
    pub sent: Vec<Sent>,
    /// Writes received.
    pub written: Vec<Written>,
    /// Links made, by device.
    pub links: Vec<u32>,
    /// Subscriptions made, in order, by device.
    pub subscribed: Vec<(usize, u32, Characteristic)>,
    /// Scans started and stopped.
    pub scans: (u32, u32),
    /// Attempts to link while a scan was running; a driver should make none.
    pub connects_while_scanning: u32,
    /// Promises to stay awake that were given, and those that are over.
    pub awake: (u32, u32),
    /// The most links that were being set up at one time; a driver should set up one.
    pub most_connecting: u32,
}

impl Ledger {
    /// The values sent by one characteristic of one device.
    pub fn sent_by(
        &self,
        device: usize,
        characteristic: Characteristic,
    ) -> impl Iterator<Item = &Sent> {
        self.sent
            .iter()
            .filter(move |sent| sent.device == device && sent.characteristic == characteristic)
    }
}
