//! A radio on the fake host, and what its tests ask of it.

use super::host::{CONTROL, Fake, FakeHost, ID, POWER};
use crate::hub::Hub;
use crate::news::{AdapterState, LinkState, News, TroubleKind};
use crate::order::{DeviceId, Order, Token, Wanted};
use crate::outlet::Outlet;
use crate::radio::RadioConfig;
use crate::shared::ToHub;
use crate::stamp::{Anchor, Stamp};
use crossbeam_channel::Receiver;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::mpsc;
use units::{SourceId, Timestamp, Write};

pub(super) const SOURCE: SourceId = SourceId(7);

/// A radio on the fake, all on one paused clock.
pub(super) struct Bench {
    pub(super) fake: Arc<Fake>,
    pub(super) orders: mpsc::Sender<ToHub>,
    pub(super) news: Receiver<News>,
    pub(super) stamp: Stamp,
    pub(super) hub: tokio::task::JoinHandle<()>,
}

impl Bench {
    pub(super) fn new(channel: usize) -> Self {
        let fake = Fake::new();
        let mut config = RadioConfig::new(Anchor::now(Timestamp::ZERO));
        config.channel = channel;
        let stamp = Stamp::new(config.anchor);
        let (to_program, news) = crossbeam_channel::bounded(config.channel);
        let outlet = Arc::new(Outlet::new(to_program, config.most_waiting, stamp));
        let (orders, from) = mpsc::channel(64);
        let host = Arc::new(FakeHost(fake.clone()));
        let hub = Hub::new(host, outlet, stamp, config.patience, (orders.clone(), from));
        let hub = tokio::spawn(hub.run(AdapterState::On));
        Self {
            fake,
            orders,
            news,
            stamp,
            hub,
        }
    }

    pub(super) async fn attached() -> Self {
        let bench = Self::new(4096);
        bench.attach().await;
        bench
    }

    pub(super) async fn attach(&self) {
        let wanted = [POWER, CONTROL].map(Wanted::usual).to_vec();
        self.order(Order::Attach {
            source: SOURCE,
            id: DeviceId(ID.to_owned()),
            wanted,
        })
        .await;
    }

    pub(super) async fn order(&self, order: Order) {
        assert!(self.orders.send(ToHub::Order(order)).await.is_ok());
    }

    pub(super) async fn write(&self, token: u64, byte: u8) {
        let write = Write {
            source: SOURCE,
            characteristic: CONTROL,
            bytes: vec![byte],
        };
        self.order(Order::Write {
            token: Token(token),
            write,
        })
        .await;
    }

    /// News up to and with the one that is waited for.
    pub(super) async fn until(&self, mut stop: impl FnMut(&News) -> bool) -> Vec<News> {
        let mut got = Vec::new();
        for _ in 0..1_000_000 {
            while let Ok(news) = self.news.try_recv() {
                got.push(news);
                if got.last().is_some_and(&mut stop) {
                    return got;
                }
            }
            tokio::time::sleep(Duration::from_millis(1)).await;
        }
        panic!("waited in vain after {got:#?}");
    }

    pub(super) async fn live(&self) -> Vec<News> {
        self.until(|news| {
            matches!(
                news,
                News::Link {
                    state: LinkState::Live,
                    ..
                }
            )
        })
        .await
    }

    pub(super) fn speak(&self, number: u32) {
        let _ = self
            .fake
            .values
            .send((POWER, number.to_le_bytes().to_vec()));
    }

    pub(super) fn seconds(&self) -> f64 {
        self.stamp.now().as_secs_f64()
    }
}

/// Troubles, but for the jumps of a paused clock against the wall.
pub(super) fn troubles(news: &[News]) -> Vec<TroubleKind> {
    news.iter()
        .filter_map(|news| match news {
            News::Trouble(trouble) if trouble.kind != TroubleKind::ClockJump => Some(trouble.kind),
            _ => None,
        })
        .collect()
}

pub(super) fn numbers(news: &[News]) -> Vec<u32> {
    news.iter()
        .filter_map(|news| match news {
            News::Packet(packet) if packet.characteristic == POWER => Some(u32::from_le_bytes(
                packet.bytes.as_slice().try_into().unwrap(),
            )),
            _ => None,
        })
        .collect()
}
