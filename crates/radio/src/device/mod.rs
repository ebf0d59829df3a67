//! The driver of one device: carries out what the link machine wants, and the program's writes
//! and reads.

mod answers;
mod asking;
mod calling;
mod carrying;

use crate::drain::Drain;
use crate::fault::HostFault;
use crate::host::{Remote, Values};
use crate::link::Link;
use crate::order::{DeviceId, Token, Wanted};
use crate::shared::{Shared, ToHub};
use crate::writes::Writes;
use answers::{Asked, Brought, Calling};
use futures::future::BoxFuture;
use futures::stream::{FuturesUnordered, StreamExt};
use std::collections::VecDeque;
use std::sync::Arc;
use tokio::sync::mpsc;
use units::{Characteristic, SourceId, Timestamp, Write};

/// What the hub tells a device.
#[derive(Debug)]
pub(crate) enum ToDevice {
    Write(Token, Write),
    Read(Token, Characteristic),
    Disconnected,
    Adapter { ready: bool, words: &'static str },
    Detach,
}

pub(crate) struct Device {
    shared: Shared,
    source: SourceId,
    id: DeviceId,
    link: Link,
    wanted: Vec<Wanted>,
    inbox: mpsc::Receiver<ToDevice>,
    remote: Option<Arc<dyn Remote>>,
    values: Option<Values>,
    drain: Option<Drain>,
    calling: Option<Calling>,
    writes: Writes,
    /// Reads go one at a time; the front one is on its way once the link is live.
    reads: VecDeque<(Token, Characteristic)>,
    asked: FuturesUnordered<BoxFuture<'static, (u32, Asked)>>,
    /// Detaching waits until then for pending writes.
    last_writes_until: Option<Timestamp>,
    finished: bool,
}

impl Device {
    pub(crate) fn new(
        shared: Shared,
        source: SourceId,
        id: DeviceId,
        wanted: Vec<Wanted>,
        inbox: mpsc::Receiver<ToDevice>,
    ) -> Self {
        Self {
            link: Link::new(wanted.clone(), shared.patience),
            shared,
            source,
            id,
            wanted,
            inbox,
            remote: None,
            values: None,
            drain: None,
            calling: None,
            writes: Writes::default(),
            reads: VecDeque::new(),
            asked: FuturesUnordered::new(),
            last_writes_until: None,
            finished: false,
        }
    }

    /// Runs until the device is detached.
    pub(crate) async fn run(mut self, adapter_ready: bool) {
        self.link.adapter(adapter_ready, "");
        self.link.attach();
        loop {
            self.carry_out().await;
            if self.finished {
                break;
            }
            let wake = match (self.link.deadline(), self.last_writes_until) {
                (Some(a), Some(b)) => Some(a.min(b)),
                (a, b) => a.or(b),
            };
            tokio::select! {
                told = self.inbox.recv() => match told {
                    Some(told) => self.told(told),
                    None => self.detach(),
                },
                (serial, result) = next(&mut self.calling) => {
                    self.calling = None;
                    self.answered(serial, result);
                }
                Some((epoch, asked)) = self.asked.next() => self.asked_done(epoch, asked),
                () = self.shared.stamp.sleep_until(wake) => self.woken(),
            }
        }
        // Dropped before the hub hears of it, so that the system can let go of the device (B7).
        let Self { shared, source, .. } = self;
        let _ = shared.hub.send(ToHub::DeviceDone(source)).await;
    }

    fn told(&mut self, told: ToDevice) {
        match told {
            ToDevice::Write(token, write) => self.write(token, write),
            ToDevice::Read(token, characteristic) => self.read(token, characteristic),
            ToDevice::Disconnected => self.link.disconnected(self.shared.stamp.now()),
            ToDevice::Adapter { ready, words } => self.link.adapter(ready, words),
            ToDevice::Detach => self.detach(),
        }
    }

    fn detach(&mut self) {
        if self.writes.is_empty() {
            self.link.detach();
        } else if self.last_writes_until.is_none() {
            self.last_writes_until =
                Some(self.shared.stamp.now() + self.shared.patience.last_writes);
        }
    }

    fn woken(&mut self) {
        let now = self.shared.stamp.now();
        if let Some(drain) = &self.drain {
            for (characteristic, at) in drain.ages.newest() {
                self.link.seen(characteristic, at);
            }
        }
        if self.last_writes_until.is_some_and(|until| now >= until) {
            self.last_writes_until = None;
            self.link.detach();
        }
        self.link.tick(now);
    }
}

async fn next(calling: &mut Option<Calling>) -> (u64, Result<Brought, HostFault>) {
    match calling {
        Some(calling) => calling.await,
        None => std::future::pending().await,
    }
}
