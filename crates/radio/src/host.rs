//! What the radio needs from a system's Bluetooth, as two small traits.
//!
//! One implementation stands on btleplug. A test, or a simulated bench, can put another in its
//! place and so show how the links behave where no adapter is, or on a system that is not at hand.
//! Implementations need not mind time limits: every call is given one from outside, and a call
//! that takes too long is dropped.

use crate::fault::HostFault;
use crate::news::{AdapterState, Advertisement, Entry};
use crate::order::DeviceId;
use futures::future::BoxFuture;
use futures::stream::BoxStream;
use std::sync::Arc;
use units::Characteristic;

/// The answer to a call, later.
pub type Later<'a, T> = BoxFuture<'a, Result<T, HostFault>>;

/// Values as they arrive from one device.
pub type Values = BoxStream<'static, (Characteristic, Vec<u8>)>;

/// Something the system noticed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum HostEvent {
    /// A device was heard, or is known.
    Sighted(DeviceId),
    /// A link went down.
    Disconnected(DeviceId),
    /// The adapter was switched.
    Adapter(AdapterState),
}

/// The system's Bluetooth.
pub trait Host: Send + Sync + 'static {
    /// Makes a new connection with the system's Bluetooth service. Devices found through an
    /// earlier one stay usable as far as that one is alive.
    fn renew(&self) -> Later<'_, ()>;
    /// Asks the service whether it is there and how the adapter is.
    fn health(&self) -> Later<'_, AdapterState>;
    /// What the system notices, from now on and for as long as this connection lives. It may
    /// begin with a `Sighted` for each device that is known already.
    fn events(&self) -> Later<'_, BoxStream<'static, HostEvent>>;
    /// Starts looking for devices.
    fn start_scan(&self) -> Later<'_, ()>;
    /// Stops looking.
    fn stop_scan(&self) -> Later<'_, ()>;
    /// What is known about a device. `seen_at` is left empty.
    fn describe<'a>(&'a self, id: &'a DeviceId) -> Later<'a, Advertisement>;
    /// The device, as a new object that has not been used for an earlier link.
    fn find<'a>(&'a self, id: &'a DeviceId) -> Later<'a, Arc<dyn Remote>>;
}

/// One device, for one link.
pub trait Remote: Send + Sync + 'static {
    /// Sets up the link.
    fn connect(&self) -> Later<'_, ()>;
    /// Takes the link down.
    fn disconnect(&self) -> Later<'_, ()>;
    /// Whether the system believes that the link is up.
    fn is_connected(&self) -> Later<'_, bool>;
    /// Reads the service table anew.
    fn discover(&self) -> Later<'_, Vec<Entry>>;
    /// The device's values, from this call on.
    fn values(&self) -> Later<'_, Values>;
    /// Switches a characteristic's notifications or indications on.
    fn subscribe(&self, characteristic: Characteristic) -> Later<'_, ()>;
    /// Switches them off.
    fn unsubscribe(&self, characteristic: Characteristic) -> Later<'_, ()>;
    /// Reads a value.
    fn read(&self, characteristic: Characteristic) -> Later<'_, Vec<u8>>;
    /// Writes a value with response.
    fn write(&self, characteristic: Characteristic, bytes: Vec<u8>) -> Later<'_, ()>;
}
