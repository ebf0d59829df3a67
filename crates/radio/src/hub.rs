//! The one task that knows all devices: hands out orders, watches the system's Bluetooth, and
//! says what is found.
//!
//! It never waits for the system: whatever may hang runs beside it and reports back, so that a
//! write on its way to a trainer is never held up by a service that does not answer.

use crate::air::{Air, limit};
use crate::device::{Device, ToDevice};
use crate::fault::HostFault;
use crate::host::{Host, HostEvent};
use crate::news::{AdapterState, Advertisement, News, Trouble, TroubleKind};
use crate::order::{DeviceId, Order, Scan, Wanted};
use crate::outlet::Outlet;
use crate::patience::Patience;
use crate::shared::{Shared, ToHub};
use crate::stamp::{ClockWatch, Stamp, length};
use futures::stream::{BoxStream, StreamExt};
use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{mpsc, watch};
use units::{AttError, SourceId, Span, Timestamp};

struct Attached {
    id: DeviceId,
    inbox: mpsc::Sender<ToDevice>,
    /// What to attach in its place once it is gone.
    then: Option<(DeviceId, Vec<Wanted>)>,
    leaving: bool,
}

#[derive(Default)]
struct Sighting {
    asked: Option<Timestamp>,
    asking: bool,
}

/// At most one question about a device in this time, however often it advertises.
const DESCRIBE_EVERY: Span = Span::from_millis(500);
/// Devices remembered for that; a crowded hall has fewer.
const MOST_SIGHTINGS: usize = 1000;
const INBOX: usize = 256;

pub(crate) struct Hub {
    shared: Shared,
    from: mpsc::Receiver<ToHub>,
    events: Option<BoxStream<'static, HostEvent>>,
    devices: BTreeMap<SourceId, Attached>,
    sightings: BTreeMap<DeviceId, Sighting>,
    adapter: AdapterState,
    bad_answers: u32,
    asking_health: bool,
    scan_wish: bool,
    scan: watch::Sender<bool>,
    clock: ClockWatch,
    stop_by: Option<Timestamp>,
}

impl Hub {
    pub(crate) fn new(
        host: Arc<dyn Host>,
        outlet: Arc<Outlet>,
        stamp: Stamp,
        patience: Patience,
        (hub, from): (mpsc::Sender<ToHub>, mpsc::Receiver<ToHub>),
    ) -> Self {
        let air = Arc::new(Air::new(host.clone()));
        Self {
            shared: Shared {
                host,
                air,
                outlet,
                stamp,
                patience,
                hub,
            },
            from,
            events: None,
            devices: BTreeMap::new(),
            sightings: BTreeMap::new(),
            adapter: AdapterState::On,
            bad_answers: 0,
            asking_health: false,
            scan_wish: false,
            scan: watch::Sender::new(false),
            clock: ClockWatch::new(),
            stop_by: None,
        }
    }

    /// Runs until it is told to shut down and every device is let go.
    pub(crate) async fn run(mut self, first: AdapterState) {
        let outlet = self.shared.outlet.clone();
        let pump = tokio::spawn(async move { outlet.pump_forever().await });
        let scans = tokio::spawn(scan_worker(self.shared.clone(), self.scan.subscribe()));
        self.shared.outlet.send(News::Adapter {
            at: self.now(),
            state: first,
        });
        self.adapter = first;
        if first == AdapterState::Off {
            self.say(&HostFault::AdapterOff);
        }
        self.open_events();
        let mut health = tokio::time::interval(length(self.shared.patience.health_every));
        health.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
        while !self.is_over() {
            let stop_by = self.stop_by;
            tokio::select! {
                Some(told) = self.from.recv() => self.told(told).await,
                event = next(&mut self.events) => self.noticed(event).await,
                _ = health.tick() => {
                    self.ask_health();
                    if let Some(by) = self.clock.jump() {
                        self.jumped(by);
                    }
                }
                () = self.shared.stamp.sleep_until(stop_by), if stop_by.is_some() => {}
            }
        }
        scans.abort();
        let ask = self.shared.patience.ask;
        let _ = limit(ask, self.shared.air.scan(false, ask)).await;
        pump.abort();
        self.shared.outlet.send(News::Stopped);
        // A program that still listens gets everything; one that does not is not waited for.
        for _ in 0..200 {
            if self.shared.outlet.pump() {
                break;
            }
            tokio::time::sleep(Duration::from_millis(5)).await;
        }
    }

    fn is_over(&self) -> bool {
        self.stop_by
            .is_some_and(|by| self.devices.is_empty() || self.now() >= by)
    }

    fn now(&self) -> Timestamp {
        self.shared.stamp.now()
    }

    async fn told(&mut self, told: ToHub) {
        match told {
            ToHub::Order(order) => self.obey(order).await,
            ToHub::Suspect => self.ask_health(),
            ToHub::Renewed => self.open_events(),
            ToHub::Health(answer) => self.health(answer).await,
            ToHub::Events(events) => self.events = events,
            ToHub::Described(id, advertisement) => self.described(&id, advertisement),
            ToHub::ScanFailed(fault) => {
                self.say(&fault);
                self.ask_health();
            }
            ToHub::DeviceDone(source) => self.let_go(source),
        }
    }

    // ----- orders

    async fn obey(&mut self, order: Order) {
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

    fn spawn(&mut self, source: SourceId, id: DeviceId, wanted: Vec<Wanted>) {
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

    fn let_go(&mut self, source: SourceId) {
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

    async fn tell_all(&mut self, ready: bool, words: &'static str) {
        for attached in self.devices.values() {
            let _ = attached
                .inbox
                .send(ToDevice::Adapter { ready, words })
                .await;
        }
    }

    // ----- looking for devices

    fn adjust_scan(&self) {
        let on = self.scan_wish && self.devices.is_empty() && self.adapter != AdapterState::Missing;
        // Said even where nothing changed: the scan may have ended with the service.
        self.scan.send_replace(on);
    }

    fn scan_once(&self) {
        let shared = self.shared.clone();
        tokio::spawn(async move {
            let Patience { burst, call, .. } = shared.patience;
            if let Err(fault) = shared.air.burst(None, burst, call).await {
                let _ = shared.hub.send(ToHub::ScanFailed(fault)).await;
            }
        });
    }

    fn sighted(&mut self, id: DeviceId) {
        self.shared.air.hear(&id);
        let now = self.now();
        if self.sightings.len() >= MOST_SIGHTINGS {
            self.sightings.retain(|_, sighting| sighting.asking);
        }
        let sighting = self.sightings.entry(id.clone()).or_default();
        if sighting.asking
            || sighting
                .asked
                .is_some_and(|asked| now - asked < DESCRIBE_EVERY)
        {
            return;
        }
        (sighting.asked, sighting.asking) = (Some(now), true);
        let shared = self.shared.clone();
        tokio::spawn(async move {
            let found = limit(shared.patience.ask, shared.host.describe(&id))
                .await
                .ok();
            let _ = shared.hub.send(ToHub::Described(id, found)).await;
        });
    }

    fn described(&mut self, id: &DeviceId, found: Option<Advertisement>) {
        let Some(sighting) = self.sightings.get_mut(id) else {
            return;
        };
        sighting.asking = false;
        if let Some(mut found) = found {
            // A device that is only remembered has no signal strength (B12).
            found.seen_at = found.rssi.and(sighting.asked);
            self.shared.outlet.send(News::Found(found));
        }
    }

    // ----- the system's Bluetooth

    fn open_events(&self) {
        let shared = self.shared.clone();
        tokio::spawn(async move {
            let events = limit(shared.patience.call, shared.host.events()).await.ok();
            let _ = shared.hub.send(ToHub::Events(events)).await;
        });
    }

    async fn noticed(&mut self, event: Option<HostEvent>) {
        match event {
            Some(HostEvent::Sighted(id)) => self.sighted(id),
            Some(HostEvent::Disconnected(id)) => {
                for attached in self.devices.values().filter(|attached| attached.id == id) {
                    let _ = attached.inbox.send(ToDevice::Disconnected).await;
                }
            }
            Some(HostEvent::Adapter(state)) if self.adapter != AdapterState::Missing => {
                self.adapter_is(state).await;
            }
            Some(HostEvent::Adapter(_)) => {}
            None => {
                self.events = None;
                self.ask_health();
            }
        }
    }

    fn ask_health(&mut self) {
        if std::mem::replace(&mut self.asking_health, true) {
            return;
        }
        let shared = self.shared.clone();
        let missing = self.adapter == AdapterState::Missing;
        tokio::spawn(async move {
            let answer = async {
                if missing {
                    // The old connection may be dead for good (F3).
                    limit(shared.patience.ask, shared.host.renew()).await?;
                }
                limit(shared.patience.ask, shared.host.health()).await
            };
            let answer = answer.await;
            let _ = shared.hub.send(ToHub::Health(answer)).await;
        });
    }

    async fn health(&mut self, answer: Result<AdapterState, HostFault>) {
        self.asking_health = false;
        match answer {
            Ok(state) => {
                self.bad_answers = 0;
                if self.adapter == AdapterState::Missing {
                    self.shared.air.forget_scan().await;
                    self.open_events();
                } else if self.events.is_none() {
                    self.open_events();
                }
                self.adapter_is(state).await;
            }
            Err(fault) => {
                self.bad_answers += 1;
                // One late answer may be load; two, or a plain no, mean that nobody is there.
                if self.bad_answers >= 2 || fault != HostFault::TimedOut {
                    if self.adapter != AdapterState::Missing {
                        self.say(match fault {
                            HostFault::TimedOut | HostFault::Other(_) => &HostFault::NoService,
                            ref other => other,
                        });
                    }
                    self.adapter_is(AdapterState::Missing).await;
                } else {
                    self.ask_health();
                }
            }
        }
    }

    async fn adapter_is(&mut self, state: AdapterState) {
        if self.adapter == state {
            return;
        }
        self.adapter = state;
        self.shared.outlet.send(News::Adapter {
            at: self.now(),
            state,
        });
        match state {
            AdapterState::On => self.tell_all(true, "").await,
            AdapterState::Off => {
                self.say(&HostFault::AdapterOff);
                self.tell_all(false, "the Bluetooth adapter was switched off")
                    .await;
            }
            AdapterState::Missing => {
                self.events = None;
                self.tell_all(
                    false,
                    "the system's Bluetooth service or its adapter is gone",
                )
                .await;
            }
        }
        self.adjust_scan();
    }

    fn say(&self, fault: &HostFault) {
        self.shared.outlet.send(News::Trouble(Trouble {
            at: self.now(),
            source: None,
            kind: fault.kind(),
            words: fault.to_string(),
            remedy: fault.remedy().to_owned(),
        }));
    }

    fn jumped(&self, by: Span) {
        let at = self.now();
        self.shared.outlet.send(News::ClockJump { at, by });
        let seconds = by.as_secs_f64();
        self.shared.outlet.send(News::Trouble(Trouble {
            at,
            source: None,
            kind: TroubleKind::ClockJump,
            words: format!("the wall clock moved {seconds:+.1} s against the monotonic clock"),
            remedy: "keep the machine from sleeping while a session runs".to_owned(),
        }));
    }
}

async fn next(events: &mut Option<BoxStream<'static, HostEvent>>) -> Option<HostEvent> {
    match events {
        Some(events) => events.next().await,
        None => std::future::pending().await,
    }
}

/// Keeps the continuous scan as it is wanted, one step after the other.
async fn scan_worker(shared: Shared, mut wanted: watch::Receiver<bool>) {
    while wanted.changed().await.is_ok() {
        let on = *wanted.borrow_and_update();
        if let Err(fault) = shared.air.scan(on, shared.patience.call).await
            && on
        {
            let _ = shared.hub.send(ToHub::ScanFailed(fault)).await;
        }
    }
}
