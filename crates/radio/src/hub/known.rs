//! What the hub knows of the devices it has attached, and of those it has only seen.

use crate::device::ToDevice;
use crate::order::{DeviceId, Wanted};
use tokio::sync::mpsc;
use units::Timestamp;

pub(super) struct Attached {
    pub(super) id: DeviceId,
    pub(super) inbox: mpsc::Sender<ToDevice>,
    /// What to attach in its place once it is gone.
    pub(super) then: Option<(DeviceId, Vec<Wanted>)>,
    pub(super) leaving: bool,
}

#[derive(Default)]
pub(super) struct Sighting {
    pub(super) asked: Option<Timestamp>,
    pub(super) asking: bool,
}
