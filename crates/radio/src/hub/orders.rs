//! What the program orders: devices attached, written to, read and let go.

use super::Hub;
use super::known::Attached;
use crate::device::{Device, ToDevice};
use crate::news::{AdapterState, News};
use crate::order::{DeviceId, Order, Scan, Wanted};
use crate::patience::Patience;
use tokio::sync::mpsc;
use units::{AttError, SourceId};

const INBOX: usize = 256;

impl Hub {
    pub(super) async fn obey(&mut self, order: Order) {
        match order {
            Order::Scan(Scan::Once) => self.scan_once(),
            Order::Scan(wish) => {
                self.scan_wish = wish == Scan::On;
                self.adjust_scan();
            }
            Order::Attach { source, id, wanted } => self.attach(source, id, wanted).await,
            Order::Detach { source } => {
                if let Some(attached) = self.devices.get_mut(&source) {
                    attached.then = None;
                }
                self.leave(source).await;
            }
            Order::Write { token, write } => {
                let told = ToDevice::Write(token, write.clone());
                if !self.tell(write.source, told).await {
                    let at = self.now();
                    let result = Err(AttError::NotConnected);
                    self.shared
                        .outlet
                        .send(News::WriteDone { token, at, result });
                }
            }
            Order::Read {
                token,
                source,
                characteristic,
            } => {
                if !self
                    .tell(source, ToDevice::Read(token, characteristic))
                    .await
                {
                    let at = self.now();
                    let result = Err(AttError::NotConnected);
                    self.shared
                        .outlet
                        .send(News::ReadDone { token, at, result });
                }
            }
            Order::Shutdown => {
                let Patience {
                    last_writes,
                    call,
                    ask,
                    ..
                } = self.shared.patience;
                self.stop_by = Some(self.now() + last_writes + call + ask);
                self.scan_wish = false;
                self.adjust_scan();
                for source in self.devices.keys().copied().collect::<Vec<_>>() {
                    if let Some(attached) = self.devices.get_mut(&source) {
                        attached.then = None;
                    }
                    self.leave(source).await;
                }
            }
        }
    }

    async fn attach(&mut self, source: SourceId, id: DeviceId, wanted: Vec<Wanted>) {
        if self.stop_by.is_some() {
            return;
        }
        match self.devices.get_mut(&source) {
            Some(attached) => {
                attached.then = Some((id, wanted));
                self.leave(source).await;
            }
            None => self.spawn(source, id, wanted),
        }
        self.adjust_scan();
    }

    pub(super) fn spawn(&mut self, source: SourceId, id: DeviceId, wanted: Vec<Wanted>) {
        let (inbox, for_device) = mpsc::channel(INBOX);
        let device = Device::new(self.shared.clone(), source, id.clone(), wanted, for_device);
        tokio::spawn(device.run(self.adapter == AdapterState::On));
        self.devices.insert(
            source,
            Attached {
                id,
                inbox,
                then: None,
                leaving: false,
            },
        );
    }

    async fn leave(&mut self, source: SourceId) {
        if let Some(attached) = self.devices.get_mut(&source)
            && !std::mem::replace(&mut attached.leaving, true)
        {
            self.tell(source, ToDevice::Detach).await;
        }
    }

    pub(super) fn let_go(&mut self, source: SourceId) {
        if let Some(Attached {
            then: Some((id, wanted)),
            ..
        }) = self.devices.remove(&source)
        {
            self.spawn(source, id, wanted);
        }
        self.adjust_scan();
    }

    async fn tell(&mut self, source: SourceId, told: ToDevice) -> bool {
        match self.devices.get(&source) {
            Some(attached) => attached.inbox.send(told).await.is_ok(),
            None => false,
        }
    }

    pub(super) async fn tell_all(&mut self, ready: bool, words: &'static str) {
        for attached in self.devices.values() {
            let _ = attached
                .inbox
                .send(ToDevice::Adapter { ready, words })
                .await;
        }
    }
}
