//! One device as the service knows it: its objects on the bus, its link, and what is wrong with it.

use crate::fault::On;
use crate::gatt::{CharacteristicSpec, ServiceSpec};
use crate::model::Profile;
use crate::wire::{
    self, ADAPTER_PATH, CHARACTERISTIC, DEVICE, Interfaces, SERVICE, properties, property, show,
    uuid,
};
use dbus::Message;
use dbus::arg::{PropMap, RefArg, Variant};
use std::collections::{BTreeSet, HashMap, HashSet};
use units::{Characteristic, Span, Timestamp};

/// How the link stands.
#[derive(Debug)]
pub(crate) enum LinkUp {
    No,
    /// Being set up; whoever asked waits for the answer.
    Coming,
    /// Linked, services not known yet.
    Bare,
    Ready,
}

/// What is wrong with the device at present.
#[derive(Debug, Default)]
pub(crate) struct Wrong {
    pub(crate) refuse_links: u32,
    pub(crate) ignore_links: u32,
    /// Services never get known.
    pub(crate) never_resolve: bool,
    pub(crate) resolve_after: Span,
    pub(crate) hide_once: HashSet<Characteristic>,
    pub(crate) silent_until: Option<Timestamp>,
    pub(crate) att: Vec<(Characteristic, On, u8, u32)>,
    pub(crate) ignore_writes: u32,
    pub(crate) delay_writes: Span,
    pub(crate) swallow: Vec<(Characteristic, u32)>,
    /// The model says that it is out of reach.
    pub(crate) gone: bool,
}

#[derive(Debug)]
pub(crate) struct Peer {
    pub(crate) profile: Profile,
    pub(crate) path: String,
    /// Whether the system knows it, so that it has an object on the bus.
    pub(crate) known: bool,
    /// Services stay on the bus once they are known, as BlueZ's cache keeps them.
    pub(crate) services_shown: bool,
    pub(crate) link: LinkUp,
    pub(crate) links: u32,
    /// Remembered through lost links, and switched on again with the next.
    pub(crate) notifying: BTreeSet<Characteristic>,
    pub(crate) first_handle: u16,
    /// The answers, good and bad, for whoever waits for the link.
    pub(crate) waiting_connect: Option<(Message, Message)>,
    pub(crate) writing: HashSet<Characteristic>,
    pub(crate) wrong: Wrong,
}

impl Peer {
    pub(crate) fn new(profile: Profile) -> Self {
        Self {
            path: wire::device_path(&profile.address),
            profile,
            known: false,
            services_shown: false,
            link: LinkUp::No,
            links: 0,
            notifying: BTreeSet::new(),
            first_handle: 1,
            waiting_connect: None,
            writing: HashSet::new(),
            wrong: Wrong::default(),
        }
    }

    pub(crate) const fn is_linked(&self) -> bool {
        matches!(self.link, LinkUp::Bare | LinkUp::Ready)
    }

    pub(crate) const fn is_ready(&self) -> bool {
        matches!(self.link, LinkUp::Ready)
    }

    /// Takes one of the attribute errors that wait for such a request.
    pub(crate) fn att_error(&mut self, characteristic: Characteristic, on: On) -> Option<u8> {
        let planned = self
            .wrong
            .att
            .iter_mut()
            .find(|(which, request, _, times)| {
                *which == characteristic && *request == on && *times > 0
            })?;
        planned.3 -= 1;
        Some(planned.2)
    }

    /// Whether a value gets lost on its way.
    pub(crate) fn swallows(&mut self, characteristic: Characteristic, now: Timestamp) -> bool {
        if self.wrong.silent_until.is_some_and(|until| now < until) {
            return true;
        }
        match self
            .wrong
            .swallow
            .iter_mut()
            .find(|(c, times)| *c == characteristic && *times > 0)
        {
            Some((_, times)) => {
                *times -= 1;
                true
            }
            None => false,
        }
    }

    // ----- objects on the bus

    /// Service objects with their path.
    fn services(&self) -> impl Iterator<Item = (String, &ServiceSpec)> {
        let mut handle = self.first_handle;
        self.profile.table.iter().map(move |service| {
            let path = format!("{}/service{handle:04x}", self.path);
            handle += 1 + 3 * service.characteristics.len() as u16;
            (path, service)
        })
    }

    /// Characteristic objects with the path of their service and their own.
    pub(crate) fn characteristics(
        &self,
    ) -> impl Iterator<Item = (String, String, &CharacteristicSpec)> {
        self.services().flat_map(|(path, service)| {
            let first = u16::from_str_radix(&path[path.len() - 4..], 16).unwrap_or(1);
            (0_u16..)
                .zip(&service.characteristics)
                .map(move |(nth, spec)| {
                    let own = format!("{path}/char{:04x}", first + 1 + 3 * nth);
                    (path.clone(), own, spec)
                })
        })
    }

    pub(crate) fn path_of(&self, characteristic: Characteristic) -> Option<String> {
        self.characteristics()
            .find(|(_, _, spec)| spec.characteristic == characteristic)
            .map(|(_, path, _)| path)
    }

    pub(crate) fn at_path(&self, path: &str) -> Option<CharacteristicSpec> {
        self.characteristics()
            .find(|(_, own, _)| own == path)
            .map(|(_, _, spec)| spec.clone())
    }

    /// Every object of this device with its interfaces.
    pub(crate) fn objects(&self) -> Vec<(String, Interfaces)> {
        if !self.known {
            return Vec::new();
        }
        let mut objects = vec![(
            self.path.clone(),
            HashMap::from([(DEVICE.to_owned(), self.device())]),
        )];
        if self.services_shown {
            for (path, service) in self.services() {
                let shown = properties([
                    ("UUID", property(uuid(service.service))),
                    ("Primary", property(true)),
                    ("Device", property(wire::path(&self.path))),
                ]);
                objects.push((path, HashMap::from([(SERVICE.to_owned(), shown)])));
            }
            for (service, path, spec) in self.characteristics() {
                if self.wrong.hide_once.contains(&spec.characteristic) {
                    continue;
                }
                let flags: Vec<String> = spec.flags.iter().map(|&flag| flag.to_owned()).collect();
                let shown = properties([
                    ("UUID", property(show(spec.characteristic))),
                    ("Service", property(wire::path(&service))),
                    ("Flags", property(flags)),
                    (
                        "Notifying",
                        property(self.notifying.contains(&spec.characteristic)),
                    ),
                    ("MTU", property(185_u16)),
                ]);
                objects.push((path, HashMap::from([(CHARACTERISTIC.to_owned(), shown)])));
            }
        }
        objects
    }

    fn device(&self) -> PropMap {
        let profile = &self.profile;
        let advertised: Vec<String> = profile
            .advertised
            .iter()
            .map(|&number| uuid(number))
            .collect();
        let data: HashMap<String, Variant<Box<dyn RefArg>>> = profile
            .service_data
            .iter()
            .map(|(number, data)| (uuid(*number), property(data.clone())))
            .collect();
        properties([
            ("Address", property(profile.address.clone())),
            ("AddressType", property("random".to_owned())),
            ("Name", property(profile.name.clone())),
            ("Alias", property(profile.name.clone())),
            ("Paired", property(false)),
            ("Connected", property(self.is_linked())),
            ("ServicesResolved", property(self.is_ready())),
            ("Trusted", property(false)),
            ("Blocked", property(false)),
            ("LegacyPairing", property(false)),
            ("RSSI", property(profile.rssi)),
            ("UUIDs", property(advertised)),
            ("ServiceData", property(data)),
            ("Adapter", property(wire::path(ADAPTER_PATH))),
        ])
    }
}
