//! The system's Bluetooth: what it says of itself, and whether it is there at all.

use super::Hub;
use crate::air::limit;
use crate::device::ToDevice;
use crate::fault::HostFault;
use crate::host::HostEvent;
use crate::news::{AdapterState, News};
use crate::shared::ToHub;

impl Hub {
    pub(super) fn open_events(&self) {
        let shared = self.shared.clone();
        tokio::spawn(async move {
            let events = limit(shared.patience.call, shared.host.events()).await.ok();
            let _ = shared.hub.send(ToHub::Events(events)).await;
        });
    }

    pub(super) async fn noticed(&mut self, event: Option<HostEvent>) {
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

    pub(super) fn ask_health(&mut self) {
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

    pub(super) async fn health(&mut self, answer: Result<AdapterState, HostFault>) {
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

    pub(super) async fn adapter_is(&mut self, state: AdapterState) {
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
}
