//! The handle that the program holds: one thread behind it, orders in, news out.

use crate::air::limit;
use crate::btle::Btle;
use crate::fault::HostFault;
use crate::host::Host;
use crate::hub::Hub;
use crate::news::{AdapterState, News};
use crate::order::Order;
use crate::outlet::{Backlog, Outlet};
use crate::patience::Patience;
use crate::shared::ToHub;
use crate::stamp::{Anchor, Stamp};
use crossbeam_channel::Receiver;
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;
use thiserror::Error;
use tokio::runtime::Runtime;
use tokio::sync::mpsc;

/// How to start the radio.
#[derive(Clone, Debug)]
pub struct RadioConfig {
    /// Where the session's clock stands on the machine's.
    pub anchor: Anchor,
    /// Assigned numbers of the services to look for; empty looks for every device.
    pub services: Vec<u16>,
    /// Time limits.
    pub patience: Patience,
    /// Room of the channel to the program, in news.
    pub channel: usize,
    /// Room behind the channel for when the program is slow, in news.
    pub most_waiting: usize,
}

impl RadioConfig {
    /// The usual limits, and every device.
    pub const fn new(anchor: Anchor) -> Self {
        Self {
            anchor,
            services: Vec::new(),
            patience: Patience::USUAL,
            channel: 16_384,
            most_waiting: 500_000,
        }
    }
}

/// Why the radio does not run.
#[derive(Debug, Error)]
pub enum RadioError {
    /// The system's Bluetooth cannot be used.
    #[error("failed to use Bluetooth: {fault}; {}", fault.remedy())]
    Unavailable {
        /// What is missing.
        fault: HostFault,
    },
    /// The system gave no thread.
    #[error("failed to start the radio's threads")]
    Threads(#[source] std::io::Error),
    /// Orders come faster than they are taken.
    #[error("failed to pass an order to the radio: it is still busy with earlier ones")]
    Busy,
    /// The radio has stopped.
    #[error("failed to pass an order to the radio: it has stopped")]
    Stopped,
}

/// The running radio.
///
/// ```no_run
/// use radio::{Anchor, DeviceId, News, Order, Radio, RadioConfig, Wanted};
/// use units::{Characteristic, SourceId, Timestamp};
///
/// # fn main() -> Result<(), radio::RadioError> {
/// let radio = Radio::start(RadioConfig::new(Anchor::now(Timestamp::ZERO)))?;
/// radio.order(Order::Attach {
///     source: SourceId(1),
///     id: DeviceId("hci0/dev_C0_FF_EE_00_00_01".to_owned()),
///     wanted: [0x2A63, 0x2A66].map(|uuid| Wanted::usual(Characteristic(uuid))).to_vec(),
/// })?;
/// for news in radio.news() {
///     match news {
///         News::Packet(packet) => { /* to the session first, then to the bench */ }
///         News::Link { source, state, epoch, words, .. } => { /* an event of the session */ }
///         News::Stopped => break,
///         _ => {}
///     }
/// }
/// # Ok(())
/// # }
/// ```
///
/// Dropping it finishes pending writes and drops every link, which may take
/// some seconds where a device does not answer; it writes nothing of its own.
#[derive(Debug)]
pub struct Radio {
    orders: mpsc::Sender<ToHub>,
    news: Receiver<News>,
    outlet: Arc<Outlet>,
    thread: Option<JoinHandle<()>>,
}

/// Orders that may wait; a program gives a few in a second.
const ORDERS: usize = 1024;
const WORKERS: usize = 2;

impl Radio {
    /// Starts on the system's Bluetooth.
    ///
    /// # Errors
    /// In words, with what to do: no service, no adapter, or no threads. An adapter that is
    /// switched off is no error; it comes as news.
    pub fn start(config: RadioConfig) -> Result<Self, RadioError> {
        let services = config.services.clone();
        Self::start_on(config, Arc::new(Btle::new(&services)))
    }

    /// Starts on another host than the system's: a simulated bench, or a test.
    ///
    /// # Errors
    /// As [`Radio::start`].
    pub fn start_on(config: RadioConfig, host: Arc<dyn Host>) -> Result<Self, RadioError> {
        let stamp = Stamp::new(config.anchor);
        let (to_program, news) = crossbeam_channel::bounded(config.channel.max(1));
        let outlet = Arc::new(Outlet::new(to_program, config.most_waiting, stamp));
        let (orders, from) = mpsc::channel(ORDERS);
        let hub = Hub::new(
            host.clone(),
            outlet.clone(),
            stamp,
            config.patience,
            (orders.clone(), from),
        );
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(WORKERS)
            .thread_name("radio-worker")
            .enable_all()
            .build()
            .map_err(RadioError::Threads)?;
        let (ready, is_ready) = crossbeam_channel::bounded(1);
        let patience = config.patience;
        let thread = std::thread::Builder::new()
            .name("radio".to_owned())
            .spawn(move || live(runtime, &host, patience, hub, &ready))
            .map_err(RadioError::Threads)?;
        match is_ready.recv() {
            Ok(Ok(())) => Ok(Self {
                orders,
                news,
                outlet,
                thread: Some(thread),
            }),
            Ok(Err(fault)) => Err(RadioError::Unavailable { fault }),
            Err(_) => Err(RadioError::Stopped),
        }
    }

    /// Passes an order. Never waits.
    ///
    /// # Errors
    /// The radio has stopped, or a thousand orders are waiting.
    pub fn order(&self, order: Order) -> Result<(), RadioError> {
        self.orders
            .try_send(ToHub::Order(order))
            .map_err(|error| match error {
                mpsc::error::TrySendError::Full(_) => RadioError::Busy,
                mpsc::error::TrySendError::Closed(_) => RadioError::Stopped,
            })
    }

    /// The news, in order. The channel may be cloned into a `select!`.
    pub const fn news(&self) -> &Receiver<News> {
        &self.news
    }

    /// How far the program is behind with taking the news.
    pub fn backlog(&self) -> Backlog {
        self.outlet.backlog()
    }
}

impl Drop for Radio {
    fn drop(&mut self) {
        // An order that finds no room is offered again; the hub takes them faster than we come.
        for _ in 0..100 {
            match self.order(Order::Shutdown) {
                Err(RadioError::Busy) => std::thread::sleep(Duration::from_millis(10)),
                _ => break,
            }
        }
        if let Some(thread) = self.thread.take() {
            // Had the thread panicked, the program saw the channel end; nothing more to tell.
            let _ = thread.join();
        }
    }
}

type Ready = crossbeam_channel::Sender<Result<(), HostFault>>;

fn live(runtime: Runtime, host: &Arc<dyn Host>, patience: Patience, hub: Hub, ready: &Ready) {
    runtime.block_on(async {
        match first_look(host, patience).await {
            Ok(state) => {
                let _ = ready.send(Ok(()));
                hub.run(state).await;
            }
            Err(fault) => {
                let _ = ready.send(Err(fault));
            }
        }
    });
    // A call that hangs in the system must not keep the program from ending.
    runtime.shutdown_timeout(Duration::from_secs(1));
}

async fn first_look(host: &Arc<dyn Host>, patience: Patience) -> Result<AdapterState, HostFault> {
    let look = async {
        host.renew().await?;
        host.health().await
    };
    match limit(patience.call, look).await {
        Err(HostFault::TimedOut) => Err(HostFault::NoService),
        other => other,
    }
}
