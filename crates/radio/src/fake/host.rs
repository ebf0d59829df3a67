//! The host itself and the one device it offers, which do what a test has planned.

use crate::fault::HostFault;
use crate::host::{Host, HostEvent, Later, Remote, Values};
use crate::news::{AdapterState, Advertisement, Entry, Flags};
use crate::order::DeviceId;
use futures::StreamExt;
use futures::stream::BoxStream;
use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering::SeqCst};
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::sync::broadcast;
use units::Characteristic;

pub(super) const POWER: Characteristic = Characteristic(0x2A63);
pub(super) const CONTROL: Characteristic = Characteristic(0x2A66);
pub(super) const ID: &str = "fake/1";

/// How a call goes, once; the usual way when nothing is planned.
#[derive(Clone, Copy, Debug)]
pub(super) enum Turn {
    Never,
    Fails,
}

pub(super) struct Fake {
    pub(super) events: broadcast::Sender<HostEvent>,
    /// As wide as the queue of the systems it plays.
    pub(super) values: broadcast::Sender<(Characteristic, Vec<u8>)>,
    pub(super) connects: Mutex<VecDeque<Turn>>,
    pub(super) writes: Mutex<VecDeque<Turn>>,
    pub(super) written: Mutex<Vec<Vec<u8>>>,
    /// The generation of objects that is still good; older ones are no longer available.
    pub(super) good: AtomicU32,
    pub(super) found: AtomicU32,
    pub(super) linked: AtomicBool,
    pub(super) healthy: AtomicBool,
    pub(super) renewals: AtomicU32,
    pub(super) slow_write: Mutex<Option<Duration>>,
}

impl Fake {
    pub(super) fn new() -> Arc<Self> {
        Arc::new(Self {
            events: broadcast::channel(16).0,
            values: broadcast::channel(16).0,
            connects: Mutex::default(),
            writes: Mutex::default(),
            written: Mutex::default(),
            good: AtomicU32::new(0),
            found: AtomicU32::new(0),
            linked: AtomicBool::new(false),
            healthy: AtomicBool::new(true),
            renewals: AtomicU32::new(0),
            slow_write: Mutex::default(),
        })
    }

    pub(super) fn drop_link(&self) {
        self.linked.store(false, SeqCst);
        self.good.store(self.found.load(SeqCst) + 1, SeqCst);
        let _ = self
            .events
            .send(HostEvent::Disconnected(DeviceId(ID.to_owned())));
    }
}

/// A broadcast as a stream, which passes over what was lost without a word.
fn swallow<T: Clone + Send + 'static>(receiver: broadcast::Receiver<T>) -> BoxStream<'static, T> {
    futures::stream::unfold(receiver, |mut receiver| async {
        loop {
            match receiver.recv().await {
                Ok(value) => return Some((value, receiver)),
                Err(broadcast::error::RecvError::Lagged(_)) => {}
                Err(broadcast::error::RecvError::Closed) => return None,
            }
        }
    })
    .boxed()
}

pub(super) struct FakeHost(pub(super) Arc<Fake>);

impl Host for FakeHost {
    fn renew(&self) -> Later<'_, ()> {
        self.0.renewals.fetch_add(1, SeqCst);
        Box::pin(async { Ok(()) })
    }

    fn health(&self) -> Later<'_, AdapterState> {
        Box::pin(async {
            match self.0.healthy.load(SeqCst) {
                true => Ok(AdapterState::On),
                false => std::future::pending().await,
            }
        })
    }

    fn events(&self) -> Later<'_, BoxStream<'static, HostEvent>> {
        Box::pin(async { Ok(swallow(self.0.events.subscribe())) })
    }

    fn start_scan(&self) -> Later<'_, ()> {
        Box::pin(async { Ok(()) })
    }

    fn stop_scan(&self) -> Later<'_, ()> {
        Box::pin(async { Ok(()) })
    }

    fn describe<'a>(&'a self, _: &'a DeviceId) -> Later<'a, Advertisement> {
        Box::pin(async { Err(HostFault::NotFound) })
    }

    fn find<'a>(&'a self, _: &'a DeviceId) -> Later<'a, Arc<dyn Remote>> {
        Box::pin(async {
            let generation = self.0.found.fetch_add(1, SeqCst) + 1;
            Ok(Arc::new(FakeRemote(self.0.clone(), generation)) as Arc<dyn Remote>)
        })
    }
}

struct FakeRemote(Arc<Fake>, u32);

impl FakeRemote {
    fn good(&self) -> Result<(), HostFault> {
        match self.1 >= self.0.good.load(SeqCst) {
            true => Ok(()),
            false => Err(HostFault::Gone),
        }
    }
}

impl Remote for FakeRemote {
    fn connect(&self) -> Later<'_, ()> {
        Box::pin(async {
            self.good()?;
            let turn = self.0.connects.lock().unwrap().pop_front();
            match turn {
                Some(Turn::Never) => std::future::pending().await,
                Some(Turn::Fails) => Err(HostFault::Other("refused".to_owned())),
                None => {
                    self.0.linked.store(true, SeqCst);
                    Ok(())
                }
            }
        })
    }

    fn disconnect(&self) -> Later<'_, ()> {
        self.0.linked.store(false, SeqCst);
        Box::pin(async { Ok(()) })
    }

    fn is_connected(&self) -> Later<'_, bool> {
        Box::pin(async { Ok(self.0.linked.load(SeqCst)) })
    }

    fn discover(&self) -> Later<'_, Vec<Entry>> {
        Box::pin(async {
            self.good()?;
            let entry = |characteristic, flags| Entry {
                service: 0x1818,
                characteristic,
                flags,
            };
            Ok(vec![
                entry(POWER, Flags::NOTIFY),
                entry(CONTROL, Flags::WRITE.with(Flags::INDICATE)),
            ])
        })
    }

    fn values(&self) -> Later<'_, Values> {
        Box::pin(async { Ok(swallow(self.0.values.subscribe())) })
    }

    fn subscribe(&self, _: Characteristic) -> Later<'_, ()> {
        Box::pin(async { self.good() })
    }

    fn unsubscribe(&self, _: Characteristic) -> Later<'_, ()> {
        Box::pin(async { self.good() })
    }

    fn read(&self, _: Characteristic) -> Later<'_, Vec<u8>> {
        Box::pin(async { Ok(vec![1, 2]) })
    }

    fn write(&self, _: Characteristic, bytes: Vec<u8>) -> Later<'_, ()> {
        Box::pin(async move {
            self.good()?;
            let (turn, slow) = (
                self.0.writes.lock().unwrap().pop_front(),
                *self.0.slow_write.lock().unwrap(),
            );
            if let Some(slow) = slow {
                tokio::time::sleep(slow).await;
            }
            match turn {
                Some(Turn::Never) => std::future::pending().await,
                Some(Turn::Fails) => Err(HostFault::Att(0x80)),
                None => {
                    self.0.written.lock().unwrap().push(bytes);
                    Ok(())
                }
            }
        })
    }
}
