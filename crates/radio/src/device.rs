//! The driver of one device: carries out what the link machine wants, and the program's writes
//! and reads.

use crate::air::limit;
use crate::drain::{Ages, Drain, Pipe};
use crate::fault::HostFault;
use crate::host::{Remote, Values};
use crate::link::{Call, Link, Output, Reply, What};
use crate::news::{LinkState, News, Trouble, TroubleKind};
use crate::order::{DeviceId, Token, Wanted};
use crate::shared::{Shared, ToHub};
use crate::writes::{Go, Offer, Writes};
use futures::future::BoxFuture;
use futures::stream::{FuturesUnordered, StreamExt};
use std::collections::VecDeque;
use std::sync::Arc;
use tokio::sync::mpsc;
use units::{AttError, Characteristic, Packet, SourceId, Timestamp, Write};

/// What the hub tells a device.
#[derive(Debug)]
pub(crate) enum ToDevice {
    Write(Token, Write),
    Read(Token, Characteristic),
    Disconnected,
    Adapter { ready: bool, words: &'static str },
    Detach,
}

enum Brought {
    Plain(Reply),
    Found(Arc<dyn Remote>, Values),
}

type Calling = BoxFuture<'static, (u64, Result<Brought, HostFault>)>;

enum Asked {
    Written(Go, Result<(), HostFault>),
    Read(Token, Characteristic, Result<Vec<u8>, HostFault>),
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

    fn answered(&mut self, serial: u64, result: Result<Brought, HostFault>) {
        let result = match result {
            Ok(Brought::Plain(reply)) => Ok(reply),
            Ok(Brought::Found(remote, values)) => {
                (self.remote, self.values) = (Some(remote), Some(values));
                Ok(Reply::Done)
            }
            Err(fault) => {
                self.suspect(&fault);
                Err(fault)
            }
        };
        self.link.answer(serial, result, self.shared.stamp.now());
    }

    /// A fault of the whole system is the hub's to look into.
    fn suspect(&self, fault: &HostFault) {
        if matches!(
            fault,
            HostFault::NoService | HostFault::NoAdapter | HostFault::AdapterOff
        ) {
            // A hub that has no room for it looks by itself soon enough.
            let _ = self.shared.hub.try_send(ToHub::Suspect);
        }
    }

    // ----- what the link machine wants

    async fn carry_out(&mut self) {
        while let Some(output) = self.link.poll_output() {
            let at = self.shared.stamp.now();
            let (source, epoch) = (self.source, self.link.epoch());
            match output {
                Output::Call(call) => self.calling = Some(self.start(call)),
                Output::Abandon => self.calling = None,
                Output::OpenDrain => self.open_drain(),
                Output::CloseDrain => self.close().await,
                Output::State(state, words) => {
                    self.shared.outlet.send(News::Link {
                        source,
                        at,
                        state,
                        epoch,
                        words,
                    });
                    if state == LinkState::Live {
                        self.read_next();
                    }
                }
                Output::Services(entries) => {
                    self.shared.outlet.send(News::Services {
                        source,
                        epoch,
                        entries,
                    });
                }
                Output::Trouble(kind, words, remedy) => self.trouble(kind, words, remedy),
                Output::Finished => self.finished = true,
            }
        }
    }

    fn trouble(&self, kind: TroubleKind, words: String, remedy: &str) {
        self.shared.outlet.send(News::Trouble(Trouble {
            at: self.shared.stamp.now(),
            source: Some(self.source),
            kind,
            words,
            remedy: remedy.to_owned(),
        }));
    }

    fn open_drain(&mut self) {
        let Some(values) = self.values.take() else {
            return;
        };
        let ages = Ages::new(self.wanted.iter().map(|wanted| wanted.characteristic));
        let pipe = Pipe {
            source: self.source,
            epoch: self.link.epoch(),
            ages: Arc::new(ages),
            stamp: self.shared.stamp,
            outlet: self.shared.outlet.clone(),
        };
        self.drain = Some(Drain::open(values, pipe));
    }

    async fn close(&mut self) {
        if let Some(drain) = self.drain.take() {
            drain.close().await;
        }
        self.values = None;
        self.asked = FuturesUnordered::new();
        for token in self.writes.clear() {
            self.write_done(token, Err(AttError::NotConnected));
        }
        for (token, _) in std::mem::take(&mut self.reads) {
            self.read_done(token, Err(AttError::NotConnected));
        }
        if self.last_writes_until.take().is_some() {
            self.link.detach();
        }
    }

    fn start(&self, call: Call) -> Calling {
        let Call {
            serial,
            what,
            within,
        } = call;
        let shared = self.shared.clone();
        let (id, remote) = (self.id.clone(), self.remote.clone());
        Box::pin(async move {
            let brought = match what {
                What::Renew => limit(within, renew(&shared)).await,
                What::Burst => shared
                    .air
                    .burst(Some(&id), shared.patience.burst, shared.patience.call)
                    .await
                    .map(|()| Brought::Plain(Reply::Done)),
                What::Find => limit(within, find(&shared, &id)).await,
                // The time limit of the connect begins when the air is free.
                What::Connect => match remote {
                    Some(remote) => shared.air.connect(&*remote, within).await.map(done),
                    None => Err(HostFault::Gone),
                },
                other => match remote {
                    Some(remote) => limit(within, with_remote(&*remote, other)).await,
                    None => Err(HostFault::NotConnected),
                },
            };
            (serial, brought)
        })
    }

    // ----- writes and reads

    fn write(&mut self, token: Token, write: Write) {
        if !self.link.is_live() || self.last_writes_until.is_some() {
            self.write_done(token, Err(AttError::NotConnected));
            return;
        }
        let Write {
            characteristic,
            bytes,
            ..
        } = write;
        match self.writes.offer(Go {
            token,
            characteristic,
            bytes,
        }) {
            Offer::Go(go) => self.go(go),
            Offer::Waits {
                instead_of: Some(old),
            } => {
                self.write_done(
                    old,
                    Err(AttError::Other("overtaken by a newer write".to_owned())),
                );
            }
            Offer::Waits { instead_of: None } => {}
        }
    }

    fn go(&mut self, go: Go) {
        let Some(remote) = self.remote.clone() else {
            return;
        };
        let (within, epoch) = (self.shared.patience.call, self.link.epoch());
        self.asked.push(Box::pin(async move {
            let call = remote.write(go.characteristic, go.bytes.clone());
            let result = limit(within, call).await;
            (epoch, Asked::Written(go, result))
        }));
    }

    fn read(&mut self, token: Token, characteristic: Characteristic) {
        if !self.link.is_linked() {
            self.read_done(token, Err(AttError::NotConnected));
            return;
        }
        // Whoever hears of the services orders reads at once; they wait until the link is live.
        self.reads.push_back((token, characteristic));
        if self.reads.len() == 1 && self.link.is_live() {
            self.read_next();
        }
    }

    fn read_next(&mut self) {
        let (Some((token, characteristic)), Some(remote)) =
            (self.reads.front().copied(), self.remote.clone())
        else {
            return;
        };
        let (within, epoch) = (self.shared.patience.call, self.link.epoch());
        self.asked.push(Box::pin(async move {
            let result = limit(within, remote.read(characteristic)).await;
            (epoch, Asked::Read(token, characteristic, result))
        }));
    }

    fn asked_done(&mut self, epoch: u32, asked: Asked) {
        match asked {
            Asked::Written(go, result) => {
                let next = self.writes.done(go.characteristic);
                self.unanswered(&result, go.characteristic, "write");
                self.write_done(go.token, result.as_ref().copied().map_err(att));
                if let Some(next) = next {
                    self.go(next);
                }
                if let Err(fault) = result {
                    self.link.call_failed(&fault);
                }
                if self.writes.is_empty() && self.last_writes_until.take().is_some() {
                    self.link.detach();
                }
            }
            Asked::Read(token, characteristic, result) => {
                self.reads.pop_front();
                self.unanswered(&result, characteristic, "read");
                let answer = result.as_ref().map(|_| ()).map_err(att);
                if let Ok(bytes) = &result {
                    self.shared.outlet.send(News::Packet(Packet {
                        at: self.shared.stamp.now(),
                        source: self.source,
                        epoch,
                        characteristic,
                        bytes: bytes.clone(),
                    }));
                }
                self.read_done(token, answer);
                self.read_next();
                // A table that does not hold the characteristic is no reason to end the link.
                if let Err(fault) = result
                    && fault != HostFault::Gone
                {
                    self.link.call_failed(&fault);
                }
            }
        }
    }

    fn unanswered<T>(&self, result: &Result<T, HostFault>, at: Characteristic, verb: &str) {
        match result {
            Err(HostFault::TimedOut) => self.trouble(
                TroubleKind::Unanswered,
                format!("the device did not answer a {verb} of {at}"),
                "the link is set up anew; if it happens again, switch the device off and on",
            ),
            Err(fault @ HostFault::NotPaired) => self.trouble(
                TroubleKind::NotPaired,
                format!("the device refuses a {verb} of {at}: {fault}"),
                fault.remedy(),
            ),
            _ => {}
        }
    }

    fn write_done(&self, token: Token, result: Result<(), AttError>) {
        let at = self.shared.stamp.now();
        self.shared
            .outlet
            .send(News::WriteDone { token, at, result });
    }

    fn read_done(&self, token: Token, result: Result<(), AttError>) {
        let at = self.shared.stamp.now();
        self.shared
            .outlet
            .send(News::ReadDone { token, at, result });
    }
}

fn att(fault: &HostFault) -> AttError {
    fault.clone().into()
}

const fn done((): ()) -> Brought {
    Brought::Plain(Reply::Done)
}

async fn next(calling: &mut Option<Calling>) -> (u64, Result<Brought, HostFault>) {
    match calling {
        Some(calling) => calling.await,
        None => std::future::pending().await,
    }
}

async fn renew(shared: &Shared) -> Result<Brought, HostFault> {
    shared.host.renew().await?;
    let _ = shared.hub.send(ToHub::Renewed).await;
    Ok(Brought::Plain(Reply::Done))
}

/// A new object, and its stream before the link is there: on Linux the service switches
/// notifications on again by itself as soon as it has the link, and the first values would be
/// missed. They wait in the stream until the services are known.
async fn find(shared: &Shared, id: &DeviceId) -> Result<Brought, HostFault> {
    let remote = shared.host.find(id).await?;
    let values = remote.values().await?;
    Ok(Brought::Found(remote, values))
}

async fn with_remote(remote: &dyn Remote, what: What) -> Result<Brought, HostFault> {
    match what {
        What::Discover => remote
            .discover()
            .await
            .map(|table| Brought::Plain(Reply::Table(table))),
        What::Subscribe(characteristic) => remote.subscribe(characteristic).await.map(done),
        What::Resubscribe(characteristic) => {
            // Whether it was still subscribed does not matter.
            let _ = remote.unsubscribe(characteristic).await;
            remote.subscribe(characteristic).await.map(done)
        }
        What::Ask => remote
            .is_connected()
            .await
            .map(|linked| Brought::Plain(Reply::Linked(linked))),
        What::Disconnect => remote.disconnect().await.map(done),
        What::Renew | What::Burst | What::Find | What::Connect => Ok(done(())),
    }
}
