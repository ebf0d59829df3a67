//! The system's Bluetooth by way of btleplug.

use crate::btle_words::{bus_is_dead, fault};
use crate::fault::HostFault;
use crate::host::{Host, HostEvent, Later, Remote, Values};
use crate::news::{AdapterState, Advertisement, Entry, Flags};
use crate::order::DeviceId;
use crate::told::{Deaf, Question, Told};
use btleplug::api::bleuuid::{BleUuid, uuid_from_u16};
use btleplug::api::{
    Central, CentralEvent, CentralState, CharPropFlags, Characteristic as BtleCharacteristic,
    Manager as _, Peripheral as _, RetrievePeripheralsOptions, ScanFilter, WriteType,
};
use btleplug::platform::{Adapter, Manager, Peripheral, PeripheralId};
use futures::stream::{BoxStream, StreamExt};
use std::collections::BTreeMap;
use std::future::ready;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use units::Characteristic;
use uuid::Uuid;

/// btleplug's own name for a device, kept because only some systems let one be made from text.
type Ids = Arc<Mutex<BTreeMap<DeviceId, PeripheralId>>>;

pub(crate) struct Btle {
    services: Vec<Uuid>,
    adapter: Mutex<Option<Adapter>>,
    ids: Ids,
    deaf: Deaf,
}

impl Btle {
    pub(crate) fn new(services: &[u16]) -> Self {
        Self {
            services: services.iter().copied().map(uuid_from_u16).collect(),
            adapter: Mutex::new(None),
            ids: Ids::default(),
            deaf: Deaf::default(),
        }
    }

    fn adapter(&self) -> Result<Adapter, HostFault> {
        lock(&self.adapter).clone().ok_or(HostFault::NoService)
    }

    async fn known(&self, id: &DeviceId) -> Result<Peripheral, HostFault> {
        let adapter = self.adapter()?;
        let known = lock(&self.ids).get(id).cloned();
        if let Some(known) = known {
            let options = RetrievePeripheralsOptions {
                identifiers: Some(vec![known]),
                services: None,
            };
            let found = adapter.retrieve_peripherals(options).await;
            if let Some(peripheral) = found.map_err(said)?.into_iter().next() {
                return Ok(peripheral);
            }
        }
        let all = adapter.peripherals().await.map_err(said)?;
        all.into_iter()
            .find(|one| name(&one.id()) == *id)
            .ok_or(HostFault::NotFound)
    }
}

fn said(error: btleplug::Error) -> HostFault {
    fault(&error)
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // Only plain loads and stores happen under these locks, so the value is whole.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

fn name(id: &PeripheralId) -> DeviceId {
    DeviceId(id.to_string())
}

fn remember(ids: &Ids, id: &PeripheralId) -> DeviceId {
    let device = name(id);
    lock(ids)
        .entry(device.clone())
        .or_insert_with(|| id.clone());
    device
}

const fn state(of: CentralState) -> AdapterState {
    match of {
        CentralState::PoweredOff => AdapterState::Off,
        CentralState::PoweredOn | CentralState::Unknown => AdapterState::On,
    }
}

impl Host for Btle {
    fn renew(&self) -> Later<'_, ()> {
        Box::pin(async {
            let manager = Manager::new().await.map_err(said)?;
            let adapters = manager.adapters().await.map_err(said)?;
            let mut chosen = None;
            for adapter in adapters {
                let on = matches!(adapter.adapter_state().await, Ok(CentralState::PoweredOn));
                if on || chosen.is_none() {
                    chosen = Some(adapter);
                }
                if on {
                    break;
                }
            }
            *lock(&self.adapter) = Some(chosen.ok_or(HostFault::NoAdapter)?);
            Ok(())
        })
    }

    fn health(&self) -> Later<'_, AdapterState> {
        Box::pin(async {
            let adapter = self.adapter()?;
            let question = Question::to(&self.deaf);
            // `adapter_state` answers "off" when it gets no answer; `adapter_info` does not.
            let info = adapter.adapter_info().await;
            if !info.as_ref().is_err_and(bus_is_dead) {
                question.answered();
            }
            info.map_err(|error| match fault(&error) {
                HostFault::Gone | HostFault::NotFound => HostFault::NoAdapter,
                other => other,
            })?;
            Ok(state(adapter.adapter_state().await.map_err(said)?))
        })
    }

    fn events(&self) -> Later<'_, BoxStream<'static, HostEvent>> {
        Box::pin(async {
            let ids = self.ids.clone();
            let events = self.adapter()?.events().await.map_err(said)?;
            let events = events.filter_map(move |event| ready(translate(&ids, event)));
            Ok(Told::wrap(events.boxed(), &self.deaf))
        })
    }

    fn start_scan(&self) -> Later<'_, ()> {
        Box::pin(async {
            let filter = ScanFilter {
                services: self.services.clone(),
            };
            self.adapter()?.start_scan(filter).await.map_err(said)
        })
    }

    fn stop_scan(&self) -> Later<'_, ()> {
        Box::pin(async { self.adapter()?.stop_scan().await.map_err(said) })
    }

    fn describe<'a>(&'a self, id: &'a DeviceId) -> Later<'a, Advertisement> {
        Box::pin(async {
            let known = self.known(id).await?;
            let said_of_itself = known.properties().await.map_err(said)?.unwrap_or_default();
            let mut services: Vec<u16> = said_of_itself
                .services
                .iter()
                .filter_map(|uuid| uuid.to_ble_u16())
                .collect();
            services.sort_unstable();
            services.dedup();
            let mut service_data: Vec<(u16, Vec<u8>)> = said_of_itself
                .service_data
                .into_iter()
                .filter_map(|(uuid, data)| Some((uuid.to_ble_u16()?, data)))
                .collect();
            service_data.sort_unstable();
            Ok(Advertisement {
                id: id.clone(),
                name: said_of_itself
                    .advertisement_name
                    .or(said_of_itself.local_name),
                services,
                rssi: said_of_itself.rssi,
                service_data,
                seen_at: None,
            })
        })
    }

    fn find<'a>(&'a self, id: &'a DeviceId) -> Later<'a, Arc<dyn Remote>> {
        Box::pin(async {
            let peripheral = self.known(id).await?;
            remember(&self.ids, &peripheral.id());
            let remote = BtleRemote {
                peripheral,
                deaf: self.deaf.clone(),
                table: Mutex::default(),
            };
            Ok(Arc::new(remote) as Arc<dyn Remote>)
        })
    }
}

fn translate(ids: &Ids, event: CentralEvent) -> Option<HostEvent> {
    match event {
        CentralEvent::DeviceDiscovered(id)
        | CentralEvent::DeviceUpdated(id)
        | CentralEvent::RssiUpdate { id, .. }
        | CentralEvent::ManufacturerDataAdvertisement { id, .. }
        | CentralEvent::ServiceDataAdvertisement { id, .. }
        | CentralEvent::ServicesAdvertisement { id, .. } => {
            Some(HostEvent::Sighted(remember(ids, &id)))
        }
        CentralEvent::DeviceDisconnected(id) => Some(HostEvent::Disconnected(name(&id))),
        CentralEvent::StateUpdate(of) => Some(HostEvent::Adapter(state(of))),
        CentralEvent::DeviceConnected(_) | CentralEvent::DeviceServicesModified(_) => None,
    }
}

struct BtleRemote {
    peripheral: Peripheral,
    deaf: Deaf,
    /// The characteristics of this link; never kept for the next one.
    table: Mutex<BTreeMap<Characteristic, BtleCharacteristic>>,
}

impl BtleRemote {
    fn entry(&self, characteristic: Characteristic) -> Result<BtleCharacteristic, HostFault> {
        lock(&self.table)
            .get(&characteristic)
            .cloned()
            .ok_or(HostFault::Gone)
    }
}

impl Remote for BtleRemote {
    fn connect(&self) -> Later<'_, ()> {
        Box::pin(async {
            // Windows may have linked again on its own with stale subscriptions, and then
            // answers at once; macOS and Linux have no such trap.
            if cfg!(windows) && self.peripheral.is_connected().await.unwrap_or(false) {
                self.peripheral.disconnect().await.map_err(said)?;
                tokio::time::sleep(std::time::Duration::from_secs(1)).await;
            }
            self.peripheral.connect().await.map_err(said)
        })
    }

    fn disconnect(&self) -> Later<'_, ()> {
        Box::pin(async { self.peripheral.disconnect().await.map_err(said) })
    }

    fn is_connected(&self) -> Later<'_, bool> {
        Box::pin(async { self.peripheral.is_connected().await.map_err(said) })
    }

    fn discover(&self) -> Later<'_, Vec<Entry>> {
        Box::pin(async {
            self.peripheral.discover_services().await.map_err(said)?;
            let (mut entries, mut table) = (Vec::new(), BTreeMap::new());
            for service in self.peripheral.services() {
                let Some(number) = service.uuid.to_ble_u16() else {
                    continue;
                };
                for offered in service.characteristics {
                    let Some(characteristic) = offered.uuid.to_ble_u16().map(Characteristic) else {
                        continue;
                    };
                    let flags = flags(offered.properties);
                    entries.push(Entry {
                        service: number,
                        characteristic,
                        flags,
                    });
                    table.entry(characteristic).or_insert(offered);
                }
            }
            *lock(&self.table) = table;
            Ok(entries)
        })
    }

    fn values(&self) -> Later<'_, Values> {
        Box::pin(async {
            let values = self.peripheral.notifications().await.map_err(said)?;
            let values = values.filter_map(|value| {
                ready(
                    value
                        .uuid
                        .to_ble_u16()
                        .map(|uuid| (Characteristic(uuid), value.value)),
                )
            });
            Ok(Told::wrap(values.boxed(), &self.deaf))
        })
    }

    fn subscribe(&self, characteristic: Characteristic) -> Later<'_, ()> {
        Box::pin(async move {
            let entry = self.entry(characteristic)?;
            self.peripheral.subscribe(&entry).await.map_err(said)
        })
    }

    fn unsubscribe(&self, characteristic: Characteristic) -> Later<'_, ()> {
        Box::pin(async move {
            let entry = self.entry(characteristic)?;
            self.peripheral.unsubscribe(&entry).await.map_err(said)
        })
    }

    fn read(&self, characteristic: Characteristic) -> Later<'_, Vec<u8>> {
        Box::pin(async move {
            let entry = self.entry(characteristic)?;
            self.peripheral.read(&entry).await.map_err(said)
        })
    }

    fn write(&self, characteristic: Characteristic, bytes: Vec<u8>) -> Later<'_, ()> {
        Box::pin(async move {
            let entry = self.entry(characteristic)?;
            // With response, unless the device declares that it cannot (D8).
            let kind = match flags(entry.properties) {
                flags if flags.has(Flags::WRITE) => WriteType::WithResponse,
                flags if flags.has(Flags::WRITE_WITHOUT_RESPONSE) => WriteType::WithoutResponse,
                _ => WriteType::WithResponse,
            };
            self.peripheral
                .write(&entry, &bytes, kind)
                .await
                .map_err(said)
        })
    }
}

fn flags(of: CharPropFlags) -> Flags {
    [
        (CharPropFlags::READ, Flags::READ),
        (
            CharPropFlags::WRITE_WITHOUT_RESPONSE,
            Flags::WRITE_WITHOUT_RESPONSE,
        ),
        (CharPropFlags::WRITE, Flags::WRITE),
        (CharPropFlags::NOTIFY, Flags::NOTIFY),
        (CharPropFlags::INDICATE, Flags::INDICATE),
        (CharPropFlags::BROADCAST, Flags::BROADCAST),
    ]
    .into_iter()
    .filter(|(theirs, _)| of.contains(*theirs))
    .fold(Flags::default(), |sum, (_, ours)| sum.with(ours))
}
