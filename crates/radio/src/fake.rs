//! A host without any Bluetooth, for the ways in which Windows and macOS differ and which no
//! stand-in for the Linux service can show: a queue of sixteen values that loses the seventeenth,
//! objects that are "no longer available" after a loss, and calls that never answer.

use crate::fault::HostFault;
use crate::host::{Host, HostEvent, Later, Remote, Values};
use crate::news::{AdapterState, Advertisement, Entry, Flags, LinkState, News, TroubleKind};
use crate::order::{DeviceId, Order, Token, Wanted};
use crate::radio::RadioConfig;
use crate::stamp::{Anchor, Stamp};
use crate::{hub::Hub, hub::ToHub, outlet::Outlet};
use crossbeam_channel::Receiver;
use futures::StreamExt;
use futures::stream::BoxStream;
use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering::SeqCst};
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::sync::{broadcast, mpsc};
use units::{AttError, Characteristic, SourceId, Timestamp, Write};

const POWER: Characteristic = Characteristic(0x2A63);
const CONTROL: Characteristic = Characteristic(0x2A66);
const ID: &str = "fake/1";
const SOURCE: SourceId = SourceId(7);

/// How a call goes, once; the usual way when nothing is planned.
#[derive(Clone, Copy, Debug)]
enum Turn {
    Never,
    Fails,
}

struct Fake {
    events: broadcast::Sender<HostEvent>,
    /// As wide as the queue of the systems it plays.
    values: broadcast::Sender<(Characteristic, Vec<u8>)>,
    connects: Mutex<VecDeque<Turn>>,
    writes: Mutex<VecDeque<Turn>>,
    written: Mutex<Vec<Vec<u8>>>,
    /// The generation of objects that is still good; older ones are no longer available.
    good: AtomicU32,
    found: AtomicU32,
    linked: AtomicBool,
    healthy: AtomicBool,
    renewals: AtomicU32,
    slow_write: Mutex<Option<Duration>>,
}

impl Fake {
    fn new() -> Arc<Self> {
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

    fn drop_link(&self) {
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

struct FakeHost(Arc<Fake>);

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

/// A radio on the fake, all on one paused clock.
struct Bench {
    fake: Arc<Fake>,
    orders: mpsc::Sender<ToHub>,
    news: Receiver<News>,
    stamp: Stamp,
    hub: tokio::task::JoinHandle<()>,
}

impl Bench {
    fn new(channel: usize) -> Self {
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

    async fn attached() -> Self {
        let bench = Self::new(4096);
        bench.attach().await;
        bench
    }

    async fn attach(&self) {
        let wanted = [POWER, CONTROL].map(Wanted::usual).to_vec();
        self.order(Order::Attach {
            source: SOURCE,
            id: DeviceId(ID.to_owned()),
            wanted,
        })
        .await;
    }

    async fn order(&self, order: Order) {
        assert!(self.orders.send(ToHub::Order(order)).await.is_ok());
    }

    async fn write(&self, token: u64, byte: u8) {
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
    async fn until(&self, mut stop: impl FnMut(&News) -> bool) -> Vec<News> {
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

    async fn live(&self) -> Vec<News> {
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

    fn speak(&self, number: u32) {
        let _ = self
            .fake
            .values
            .send((POWER, number.to_le_bytes().to_vec()));
    }

    fn seconds(&self) -> f64 {
        self.stamp.now().as_secs_f64()
    }
}

/// Troubles, but for the jumps of a paused clock against the wall.
fn troubles(news: &[News]) -> Vec<TroubleKind> {
    news.iter()
        .filter_map(|news| match news {
            News::Trouble(trouble) if trouble.kind != TroubleKind::ClockJump => Some(trouble.kind),
            _ => None,
        })
        .collect()
}

fn numbers(news: &[News]) -> Vec<u32> {
    news.iter()
        .filter_map(|news| match news {
            News::Packet(packet) if packet.characteristic == POWER => Some(u32::from_le_bytes(
                packet.bytes.as_slice().try_into().unwrap(),
            )),
            _ => None,
        })
        .collect()
}

#[tokio::test(start_paused = true)]
async fn a_queue_of_sixteen_loses_nothing_while_the_program_does_not_listen() {
    // The program takes nothing at all; its channel is full after three of the news.
    let bench = Bench::new(3);
    bench.attach().await;
    tokio::time::sleep(Duration::from_secs(1)).await;
    for number in 0..2000 {
        bench.speak(number);
        if number % 16 == 15 {
            tokio::time::sleep(Duration::from_micros(100)).await;
        }
    }
    let got = bench
        .until(|news| matches!(news, News::Packet(p) if p.bytes == 1999_u32.to_le_bytes()))
        .await;
    assert_eq!(numbers(&got), (0..2000).collect::<Vec<_>>());
}

#[tokio::test(start_paused = true)]
async fn an_object_that_is_no_longer_available_is_replaced_by_a_new_one() {
    let bench = Bench::attached().await;
    bench.live().await;
    bench.fake.drop_link();
    let got = bench.live().await;
    assert!(matches!(
        got.last(),
        Some(News::Link {
            source: SOURCE,
            epoch: 2,
            state: LinkState::Live,
            ..
        })
    ));
    assert_eq!(bench.fake.found.load(SeqCst), 2);
    assert_eq!(troubles(&got), []);
    assert!(
        bench.fake.written.lock().unwrap().is_empty(),
        "nobody ordered a write"
    );
}

#[tokio::test(start_paused = true)]
async fn a_connect_that_never_answers_is_given_up_after_twenty_seconds_and_tried_again() {
    let bench = Bench::new(4096);
    bench
        .fake
        .connects
        .lock()
        .unwrap()
        .extend([Turn::Never, Turn::Fails]);
    bench.attach().await;
    bench.live().await;
    // 20 s + 0.5 s + a refusal + 1 s + a burst of 4 s.
    assert!(
        (25.5..26.0).contains(&bench.seconds()),
        "{}",
        bench.seconds()
    );
}

#[tokio::test(start_paused = true)]
async fn a_write_that_is_never_answered_is_said_and_ends_the_link() {
    let bench = Bench::attached().await;
    bench.live().await;
    bench.fake.writes.lock().unwrap().push_back(Turn::Never);
    let before = bench.seconds();
    bench.write(1, 0x10).await;
    bench.speak(0);
    let fake = bench.fake.clone();
    let values = tokio::spawn(async move {
        loop {
            let _ = fake.values.send((POWER, vec![0; 4]));
            tokio::time::sleep(Duration::from_secs(1)).await;
        }
    });
    let got = bench
        .until(|n| {
            matches!(
                n,
                News::Link {
                    state: LinkState::Lost,
                    ..
                }
            )
        })
        .await;
    values.abort();
    let after = bench.seconds() - before;
    assert!((10.0..10.5).contains(&after), "{after}");
    assert_eq!(troubles(&got), [TroubleKind::Unanswered]);
    let done = got.iter().find_map(|news| match news {
        News::WriteDone {
            token: Token(1),
            result,
            ..
        } => Some(result.clone()),
        _ => None,
    });
    assert_eq!(
        done,
        Some(Err(AttError::Other("no answer in time".to_owned())))
    );
}

#[tokio::test(start_paused = true)]
async fn the_newest_write_overtakes_those_that_wait() {
    let bench = Bench::attached().await;
    bench.live().await;
    *bench.fake.slow_write.lock().unwrap() = Some(Duration::from_millis(200));
    for (token, byte) in [(1, 10), (2, 20), (3, 30), (4, 0)] {
        bench.write(token, byte).await;
    }
    let got = bench
        .until(|n| {
            matches!(
                n,
                News::WriteDone {
                    token: Token(4),
                    ..
                }
            )
        })
        .await;
    assert_eq!(*bench.fake.written.lock().unwrap(), [vec![10], vec![0]]);
    let results: Vec<(u64, bool)> = got
        .iter()
        .filter_map(|news| match news {
            News::WriteDone { token, result, .. } => Some((token.0, result.is_ok())),
            _ => None,
        })
        .collect();
    assert_eq!(results, [(2, false), (3, false), (1, true), (4, true)]);
}

#[tokio::test(start_paused = true)]
async fn writes_do_not_outlive_a_link() {
    let bench = Bench::attached().await;
    bench.live().await;
    *bench.fake.slow_write.lock().unwrap() = Some(Duration::from_secs(2));
    bench.write(1, 0xFF).await;
    bench.write(2, 0xFE).await;
    tokio::time::sleep(Duration::from_millis(50)).await;
    bench.fake.drop_link();
    let got = bench.live().await;
    let refused: Vec<_> = got
        .iter()
        .filter(|n| {
            matches!(
                n,
                News::WriteDone {
                    result: Err(AttError::NotConnected),
                    ..
                }
            )
        })
        .collect();
    assert_eq!(refused.len(), 2);
    tokio::time::sleep(Duration::from_secs(5)).await;
    assert!(bench.fake.written.lock().unwrap().is_empty());
}

#[tokio::test(start_paused = true)]
async fn a_pending_release_goes_out_before_the_radio_stops() {
    let bench = Bench::attached().await;
    bench.live().await;
    *bench.fake.slow_write.lock().unwrap() = Some(Duration::from_millis(300));
    bench.write(1, 0x40).await;
    bench.write(2, 0x00).await;
    bench.order(Order::Shutdown).await;
    let got = bench.until(|n| matches!(n, News::Stopped)).await;
    assert_eq!(
        *bench.fake.written.lock().unwrap(),
        [vec![0x40], vec![0x00]]
    );
    assert!(!bench.fake.linked.load(SeqCst));
    let last_done = got
        .iter()
        .rposition(|n| matches!(n, News::WriteDone { .. }));
    let idle = got.iter().position(|n| {
        matches!(
            n,
            News::Link {
                state: LinkState::Idle,
                ..
            }
        )
    });
    assert!(last_done < idle);
    bench.hub.await.unwrap();
}

#[tokio::test(start_paused = true)]
async fn a_service_that_stops_answering_is_noticed_and_left_when_it_is_back() {
    let bench = Bench::attached().await;
    bench.live().await;
    let renewals = bench.fake.renewals.load(SeqCst);
    bench.fake.healthy.store(false, SeqCst);
    let gone = |n: &News| {
        matches!(
            n,
            News::Adapter {
                state: AdapterState::Missing,
                ..
            }
        )
    };
    let got = bench.until(gone).await;
    assert_eq!(troubles(&got), [TroubleKind::NoService]);
    bench
        .until(|n| {
            matches!(
                n,
                News::Link {
                    state: LinkState::Lost,
                    ..
                }
            )
        })
        .await;
    bench.fake.healthy.store(true, SeqCst);
    bench.live().await;
    assert!(bench.fake.renewals.load(SeqCst) > renewals);
}

#[tokio::test(start_paused = true)]
async fn a_day_of_random_loss_leaves_nothing_stuck() {
    let bench = Bench::attached().await;
    bench.live().await;
    // A linear congruential generator is chance enough here (constants: Numerical Recipes).
    let mut chance = 12345_u32;
    let mut next = move |most: u32| {
        chance = chance.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (chance >> 8) % most
    };
    for round in 0..2000 {
        match next(4) {
            0 => bench.fake.drop_link(),
            1 => bench.fake.connects.lock().unwrap().push_back(Turn::Never),
            2 => bench.fake.connects.lock().unwrap().push_back(Turn::Fails),
            _ => bench.speak(round),
        }
        tokio::time::sleep(Duration::from_secs(u64::from(next(40)))).await;
        bench.news.try_iter().count();
    }
    bench.fake.connects.lock().unwrap().clear();
    bench.fake.drop_link();
    bench.live().await;
    assert!(bench.seconds() > 30_000.0);
}
