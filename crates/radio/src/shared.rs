//! What the hub and its devices share, and what reaches the hub from all that runs beside it.

use crate::air::Air;
use crate::fault::HostFault;
use crate::host::{Host, HostEvent};
use crate::news::{AdapterState, Advertisement};
use crate::order::{DeviceId, Order};
use crate::outlet::Outlet;
use crate::patience::Patience;
use crate::stamp::Stamp;
use futures::stream::BoxStream;
use std::sync::Arc;
use tokio::sync::mpsc;
use units::SourceId;

/// What every device shares.
#[derive(Clone)]
pub(crate) struct Shared {
    pub(crate) host: Arc<dyn Host>,
    pub(crate) air: Arc<Air>,
    pub(crate) outlet: Arc<Outlet>,
    pub(crate) stamp: Stamp,
    pub(crate) patience: Patience,
    pub(crate) hub: mpsc::Sender<ToHub>,
}

/// What arrives at the hub.
pub(crate) enum ToHub {
    Order(Order),
    /// A device met a fault of the whole system.
    Suspect,
    /// The connection with the system's service is a new one.
    Renewed,
    Health(Result<AdapterState, HostFault>),
    Events(Option<BoxStream<'static, HostEvent>>),
    Described(DeviceId, Option<Advertisement>),
    ScanFailed(HostFault),
    DeviceDone(SourceId),
}
