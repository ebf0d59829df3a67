//! The devices behind the stand-in. A model knows nothing of buses: the same one can stand behind
//! a fake inside a process.

use crate::gatt::ServiceSpec;
use units::{Characteristic, Span, Timestamp};

/// What a device shows of itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Profile {
    /// Its address, `C0:FF:EE:00:00:01`.
    pub address: String,
    /// The name it advertises.
    pub name: String,
    /// Assigned numbers of the services it advertises.
    pub advertised: Vec<u16>,
    /// Data advertised with a service.
    pub service_data: Vec<(u16, Vec<u8>)>,
    /// Signal strength in dBm.
    pub rssi: i16,
    /// What it offers over a link.
    pub table: Vec<ServiceSpec>,
}

/// Something a device does by itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ModelEvent {
    /// It notifies or indicates.
    Value {
        /// Which device.
        device: usize,
        /// Which characteristic.
        characteristic: Characteristic,
        /// The value.
        bytes: Vec<u8>,
    },
    /// Its link goes down, and it cannot be linked to until it says so.
    Gone {
        /// Which device.
        device: usize,
    },
    /// It can be linked to again.
    Back {
        /// Which device.
        device: usize,
    },
}

/// Some devices. Time is an argument; `device` counts in the order of [`Model::profiles`].
pub trait Model: Send {
    /// The devices.
    fn profiles(&self) -> Vec<Profile>;
    /// Moves on to `to`.
    fn advance(&mut self, to: Timestamp);
    /// What has happened by the moment last advanced to.
    fn poll(&mut self) -> Option<ModelEvent>;
    /// When to advance to next.
    fn next_due(&self) -> Timestamp;
    /// The device is linked.
    fn linked(&mut self, at: Timestamp, device: usize);
    /// The device's link went down.
    fn dropped(&mut self, at: Timestamp, device: usize);
    /// Notifications or indications were switched on.
    fn subscribed(&mut self, at: Timestamp, device: usize, characteristic: Characteristic);
    /// They were switched off.
    fn unsubscribed(&mut self, at: Timestamp, device: usize, characteristic: Characteristic);
    /// Another controller takes control of the device. A model without control ignores it.
    fn taken_over(&mut self, _at: Timestamp, _device: usize) {}
    /// The device is switched off and, `lasting` later, on again. A model that counts nothing
    /// ignores it.
    fn restarted(&mut self, _at: Timestamp, _device: usize, _lasting: Span) {}
    /// Answers a read.
    ///
    /// # Errors
    /// The attribute error.
    fn read(
        &mut self,
        at: Timestamp,
        device: usize,
        characteristic: Characteristic,
    ) -> Result<Vec<u8>, u8>;
    /// Takes a write.
    ///
    /// # Errors
    /// The attribute error.
    fn write(
        &mut self,
        at: Timestamp,
        device: usize,
        characteristic: Characteristic,
        bytes: &[u8],
    ) -> Result<(), u8>;
}
