//! The one task that knows all devices: hands out orders, watches the system's Bluetooth, and
//! says what is found.
//!
//! It never waits for the system: whatever may hang runs beside it and reports back, so that a
//! write on its way to a trainer is never held up by a service that does not answer.

mod health;
mod known;
mod looking;
mod orders;
mod scanning;

use crate::air::{Air, limit};
use crate::fault::HostFault;
use crate::host::{Host, HostEvent};
use crate::news::{AdapterState, News, Trouble, TroubleKind};
use crate::order::DeviceId;
use crate::outlet::Outlet;
use crate::patience::Patience;
use crate::shared::{Shared, ToHub};
use crate::stamp::{ClockWatch, Stamp, length};
use futures::stream::{BoxStream, StreamExt};
use known::{Attached, Sighting};
use scanning::scan_worker;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{mpsc, watch};
use units::{SourceId, Span, Timestamp};

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
