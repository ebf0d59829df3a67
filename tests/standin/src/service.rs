//! The service itself: answers calls, carries out faults, passes on what the model does.
//!
//! Sans-IO as far as it goes: messages in, messages out, time as an argument. The thread in
//! `stand` owns bus and clock.

use crate::fault::{Fault, On};
use crate::ledger::{Ledger, Sent, Written};
use crate::model::{Model, ModelEvent};
use crate::peer::{LinkUp, Peer};
use crate::wire::{
    self, ADAPTER, ADAPTER_PATH, CHARACTERISTIC, DEVICE, INTROSPECT, Interfaces, OBJECTS,
    PROPERTIES, SESSIONS, properties, property,
};
use dbus::Message;
use dbus::arg::{OwnedFd, PropMap};
use dbus::strings::Path;
use std::collections::{BTreeMap, HashMap};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use units::{Characteristic, Span, Timestamp};

/// From the start of a scan to the first device, and from one device to the next.
const ADVERTISES_EVERY: Span = Span::from_millis(20);
/// Between two advertisements of one device.
const ADVERTISES_AGAIN: Span = Span::from_millis(250);
/// How long a link takes.
const LINKS_AFTER: Span = Span::from_millis(50);
/// How long the services take when nothing is wrong.
const RESOLVES_AFTER: Span = Span::from_millis(20);

/// Something due at a moment.
#[derive(Debug)]
enum Due {
    Advertise(usize),
    LinkUp(usize),
    Resolved(usize, u32),
    Burst {
        device: usize,
        characteristic: Characteristic,
        next: u32,
        count: u32,
        spacing: Span,
    },
    Answer(usize, Characteristic, Message),
}

pub(crate) struct Service {
    model: Box<dyn Model>,
    peers: Vec<Peer>,
    plugged: bool,
    powered: bool,
    scanning: bool,
    /// Whether the service runs at all; without it nothing is answered and nothing is linked.
    running: bool,
    due: BTreeMap<(Timestamp, u64), Due>,
    serial: u64,
    out: Vec<Message>,
    ledger: Arc<Mutex<Ledger>>,
}

impl Service {
    pub(crate) fn new(model: Box<dyn Model>, ledger: Arc<Mutex<Ledger>>) -> Self {
        let peers: Vec<Peer> = model.profiles().into_iter().map(Peer::new).collect();
        lock(&ledger).links = vec![0; peers.len()];
        Self {
            model,
            peers,
            plugged: true,
            powered: true,
            scanning: false,
            running: true,
            due: BTreeMap::new(),
            serial: 0,
            out: Vec::new(),
            ledger,
        }
    }

    /// Messages to send, in order.
    pub(crate) fn outgoing(&mut self) -> Vec<Message> {
        std::mem::take(&mut self.out)
    }

    pub(crate) fn next_due(&self) -> Timestamp {
        let ours = self
            .due
            .first_key_value()
            .map_or(Timestamp::MAX, |((at, _), _)| *at);
        ours.min(self.model.next_due())
    }

    /// Carries out everything that is due by `now`.
    pub(crate) fn advance(&mut self, now: Timestamp) {
        while let Some(entry) = self.due.first_entry().filter(|entry| entry.key().0 <= now) {
            let ((at, _), due) = entry.remove_entry();
            self.happen(at, due);
        }
        self.model.advance(now);
        while let Some(event) = self.model.poll() {
            match event {
                ModelEvent::Value {
                    device,
                    characteristic,
                    bytes,
                } => {
                    self.send_value(now, device, characteristic, bytes);
                }
                ModelEvent::Gone { device } => {
                    self.peers[device].wrong.gone = true;
                    self.drop_link(now, device);
                }
                ModelEvent::Back { device } => {
                    self.peers[device].wrong.gone = false;
                    if matches!(self.peers[device].link, LinkUp::Coming) {
                        self.later(now + LINKS_AFTER, Due::LinkUp(device));
                    }
                }
            }
        }
    }

    fn later(&mut self, at: Timestamp, due: Due) {
        self.serial += 1;
        self.due.insert((at, self.serial), due);
    }

    fn happen(&mut self, at: Timestamp, due: Due) {
        match due {
            Due::Advertise(device) => self.advertise(at, device),
            Due::LinkUp(device) => self.link_up(at, device),
            Due::Resolved(device, link) => self.resolved(at, device, link),
            Due::Burst {
                device,
                characteristic,
                next,
                count,
                spacing,
            } => {
                self.send_value(at, device, characteristic, next.to_le_bytes().to_vec());
                if next + 1 < count {
                    let next = next + 1;
                    let burst = Due::Burst {
                        device,
                        characteristic,
                        next,
                        count,
                        spacing,
                    };
                    self.later(at + spacing, burst);
                }
            }
            Due::Answer(device, characteristic, answer) => {
                self.peers[device].writing.remove(&characteristic);
                self.out.push(answer);
            }
        }
    }

    // ----- what the devices do

    fn advertise(&mut self, at: Timestamp, device: usize) {
        let (running, scanning) = (self.running, self.scanning);
        let peer = &mut self.peers[device];
        if !running || !scanning || peer.wrong.gone || peer.is_linked() {
            return;
        }
        if peer.known {
            let changes = properties([("RSSI", property(peer.profile.rssi))]);
            self.out.push(wire::changed(&peer.path, DEVICE, changes));
        } else {
            self.show_device(device);
        }
        self.later(at + ADVERTISES_AGAIN, Due::Advertise(device));
    }

    fn show_device(&mut self, device: usize) {
        let peer = &mut self.peers[device];
        peer.known = true;
        if let Some((path, interfaces)) = peer.objects().into_iter().next() {
            let added = wire::signal("/", OBJECTS, "InterfacesAdded");
            self.out.push(added.append2(wire::path(&path), interfaces));
        }
    }

    fn link_up(&mut self, at: Timestamp, device: usize) {
        let peer = &mut self.peers[device];
        if !matches!(peer.link, LinkUp::Coming) || peer.wrong.gone {
            return;
        }
        peer.link = LinkUp::Bare;
        peer.links += 1;
        let link = peer.links;
        lock(&self.ledger).links[device] = link;
        let changes = properties([("Connected", property(true))]);
        self.out.push(wire::changed(&peer.path, DEVICE, changes));
        if let Some((made, _)) = peer.waiting_connect.take() {
            self.out.push(made);
        }
        if !peer.wrong.never_resolve {
            let after = RESOLVES_AFTER + peer.wrong.resolve_after;
            self.later(at + after, Due::Resolved(device, link));
        }
        self.model.linked(at, device);
    }

    fn resolved(&mut self, at: Timestamp, device: usize, link: u32) {
        let peer = &mut self.peers[device];
        if !matches!(peer.link, LinkUp::Bare) || peer.links != link {
            return;
        }
        peer.link = LinkUp::Ready;
        peer.services_shown = true;
        let changes = properties([("ServicesResolved", property(true))]);
        self.out.push(wire::changed(&peer.path, DEVICE, changes));
        // BlueZ switches on again what was on before the link was lost.
        for characteristic in peer.notifying.iter().copied() {
            self.model.subscribed(at, device, characteristic);
        }
    }

    fn send_value(&mut self, at: Timestamp, device: usize, which: Characteristic, bytes: Vec<u8>) {
        let peer = &mut self.peers[device];
        if !self.running || !peer.is_ready() || !peer.notifying.contains(&which) {
            return;
        }
        if peer.swallows(which, at) {
            return;
        }
        let Some(path) = peer.path_of(which) else {
            return;
        };
        self.out.push(wire::value_changed(&path, &bytes));
        let link = peer.links;
        lock(&self.ledger).sent.push(Sent {
            at,
            device,
            link,
            characteristic: which,
            bytes,
        });
    }

    /// The link goes down, in BlueZ's order of signals.
    fn drop_link(&mut self, at: Timestamp, device: usize) {
        let peer = &mut self.peers[device];
        if let Some((_, aborted)) = peer.waiting_connect.take() {
            self.out.push(aborted);
        }
        if !peer.is_linked() {
            peer.link = LinkUp::No;
            return;
        }
        peer.link = LinkUp::No;
        peer.writing.clear();
        if self.running {
            for characteristic in &peer.notifying {
                if let Some(path) = peer.path_of(*characteristic) {
                    let changes = properties([("Notifying", property(false))]);
                    self.out.push(wire::changed(&path, CHARACTERISTIC, changes));
                }
            }
            for name in ["ServicesResolved", "Connected"] {
                let changes = properties([(name, property(false))]);
                self.out.push(wire::changed(&peer.path, DEVICE, changes));
            }
        }
        self.model.dropped(at, device);
    }

    // ----- faults that do not need the bus

    pub(crate) fn act(&mut self, at: Timestamp, fault: Fault) {
        match fault {
            Fault::Burst {
                device,
                characteristic,
                count,
                spacing,
            } => {
                if count > 0 {
                    let burst = Due::Burst {
                        device,
                        characteristic,
                        next: 0,
                        count,
                        spacing,
                    };
                    self.later(at, burst);
                }
            }
            Fault::DropLink { device } => self.drop_link(at, device),
            Fault::RefuseLinks { device, times } => self.peers[device].wrong.refuse_links = times,
            Fault::IgnoreLinks { device, times } => self.peers[device].wrong.ignore_links = times,
            Fault::DelayServices { device, by } => {
                let wrong = &mut self.peers[device].wrong;
                wrong.never_resolve = by.is_none();
                wrong.resolve_after = by.unwrap_or(Span::ZERO);
            }
            Fault::HideOnce {
                device,
                characteristics,
            } => {
                self.peers[device].wrong.hide_once = characteristics.into_iter().collect();
            }
            Fault::Silence { device, lasting } => {
                self.peers[device].wrong.silent_until = Some(at + lasting);
            }
            Fault::AttError {
                device,
                characteristic,
                on,
                code,
                times,
            } => {
                self.peers[device]
                    .wrong
                    .att
                    .push((characteristic, on, code, times));
            }
            Fault::IgnoreWrites { device, times } => self.peers[device].wrong.ignore_writes = times,
            Fault::DelayWriteAnswers { device, by } => self.peers[device].wrong.delay_writes = by,
            Fault::Swallow {
                device,
                characteristic,
                times,
            } => {
                self.peers[device]
                    .wrong
                    .swallow
                    .push((characteristic, times));
            }
            Fault::MoveHandles { device } => {
                self.drop_link(at, device);
                let peer = &mut self.peers[device];
                peer.first_handle += 0x40;
                peer.services_shown = false;
                peer.notifying.clear();
            }
            Fault::RemoveDevice { device } => self.remove(at, device),
            Fault::ReturnDevice { device } => {
                self.peers[device].wrong.gone = false;
                self.show_device(device);
            }
            Fault::TakeControl { device } => self.model.taken_over(at, device),
            Fault::Restart { device, lasting } => self.model.restarted(at, device, lasting),
            Fault::UnplugAdapter => {
                self.power(at, false);
                self.plugged = false;
                for peer in &mut self.peers {
                    peer.known = false;
                }
                let removed = wire::signal("/", OBJECTS, "InterfacesRemoved");
                let interfaces = vec![ADAPTER.to_owned()];
                self.out
                    .push(removed.append2(wire::path(ADAPTER_PATH), interfaces));
            }
            Fault::PlugAdapter => {
                self.plugged = true;
                let interfaces = HashMap::from([(ADAPTER.to_owned(), self.adapter_properties())]);
                let added = wire::signal("/", OBJECTS, "InterfacesAdded");
                self.out
                    .push(added.append2(wire::path(ADAPTER_PATH), interfaces));
                self.power(at, true);
            }
            Fault::AdapterOff => self.power(at, false),
            Fault::AdapterOn => self.power(at, true),
            Fault::LoseName | Fault::KillBus => self.crash(at),
            Fault::TakeName | Fault::RestartBus => self.running = true,
        }
    }

    fn remove(&mut self, at: Timestamp, device: usize) {
        self.drop_link(at, device);
        let peer = &mut self.peers[device];
        let gone: Vec<(String, Vec<String>)> = peer
            .objects()
            .into_iter()
            .map(|(path, interfaces)| (path, interfaces.into_keys().collect()))
            .collect();
        peer.known = false;
        peer.services_shown = false;
        peer.notifying.clear();
        peer.wrong.gone = true;
        for (path, interfaces) in gone.into_iter().rev() {
            let removed = wire::signal("/", OBJECTS, "InterfacesRemoved");
            self.out
                .push(removed.append2(wire::path(&path), interfaces));
        }
    }

    fn power(&mut self, at: Timestamp, on: bool) {
        if self.powered == on {
            return;
        }
        if !on {
            for device in 0..self.peers.len() {
                self.drop_link(at, device);
            }
            self.scanning = false;
        }
        self.powered = on;
        let changes = properties([("Powered", property(on))]);
        self.out.push(wire::changed(ADAPTER_PATH, ADAPTER, changes));
    }

    /// The service dies: links go without a signal, subscriptions are forgotten.
    fn crash(&mut self, at: Timestamp) {
        self.running = false;
        self.scanning = false;
        for device in 0..self.peers.len() {
            self.drop_link(at, device);
            let peer = &mut self.peers[device];
            peer.notifying.clear();
            peer.waiting_connect = None;
        }
        self.out.clear();
    }

    // ----- calls

    pub(crate) fn call(&mut self, at: Timestamp, call: &Message) {
        let text = |part: Option<String>| part.unwrap_or_default();
        let path = text(call.path().map(|path| path.to_string()));
        let interface = text(call.interface().map(|interface| interface.to_string()));
        let member = text(call.member().map(|member| member.to_string()));
        let answer = match (interface.as_str(), member.as_str()) {
            (OBJECTS, "GetManagedObjects") => Some(call.method_return().append1(self.objects())),
            (INTROSPECT, "Introspect") => Some(self.introspect(call, &path)),
            (PROPERTIES, "GetAll") => Some(self.get_all(call, &path)),
            (PROPERTIES, "Get") => Some(self.get(call, &path)),
            (PROPERTIES, "Set") => {
                self.power(at, true);
                Some(call.method_return())
            }
            (SESSIONS, "Inhibit") => Some(self.stay_awake(call)),
            (ADAPTER, member) => Some(self.adapter(at, call, member)),
            (DEVICE, member) => self.device(at, call, &path, member),
            (CHARACTERISTIC, member) => self.characteristic(at, call, &path, member),
            _ => Some(wire::fails(
                call,
                "org.freedesktop.DBus.Error.UnknownMethod",
                "no method",
            )),
        };
        self.out.extend(answer);
    }

    /// A promise holds until the program's end of a pipe is closed, however the program ends.
    fn stay_awake(&self, call: &Message) -> Message {
        let Ok((mut ours, theirs)) = std::io::pipe() else {
            return wire::failed(call, "no pipe");
        };
        let ledger = Arc::clone(&self.ledger);
        let watch = std::thread::Builder::new().name("promise".to_owned());
        let watching = watch.spawn(move || {
            // Ends when the last copy of the other end is closed.
            let _ = std::io::copy(&mut ours, &mut std::io::sink());
            lock(&ledger).awake.1 += 1;
        });
        if watching.is_err() {
            return wire::failed(call, "no thread");
        }
        lock(&self.ledger).awake.0 += 1;
        call.method_return().append1(OwnedFd::from(theirs))
    }

    fn objects(&self) -> HashMap<Path<'static>, Interfaces> {
        let adapter = HashMap::from([(ADAPTER.to_owned(), self.adapter_properties())]);
        self.plugged
            .then(|| (ADAPTER_PATH.to_owned(), adapter))
            .into_iter()
            .chain(self.peers.iter().flat_map(Peer::objects))
            .map(|(path, interfaces)| (wire::path(&path), interfaces))
            .collect()
    }

    fn adapter_properties(&self) -> PropMap {
        properties([
            ("Address", property("C0:FF:EE:00:00:00".to_owned())),
            ("AddressType", property("public".to_owned())),
            ("Name", property("bench".to_owned())),
            ("Alias", property("bench".to_owned())),
            ("Modalias", property("usb:v1D6Bp0246d0540".to_owned())),
            ("Powered", property(self.powered)),
            ("Discovering", property(self.scanning)),
        ])
    }

    fn introspect(&mut self, call: &Message, path: &str) -> Message {
        let below = format!("{path}/");
        let children: Vec<String> = self
            .objects()
            .into_keys()
            .filter_map(|object| {
                let name = object.strip_prefix(&below)?;
                (!name.contains('/')).then(|| format!("<node name=\"{name}\"/>"))
            })
            .collect();
        // A service that was looked into has now been looked into: what was hidden appears.
        if path.contains("/service") && !path.contains("/char") {
            for peer in &mut self.peers {
                let hides = |spec: &crate::gatt::CharacteristicSpec| {
                    peer.wrong.hide_once.contains(&spec.characteristic)
                };
                let seen: Vec<Characteristic> = peer
                    .characteristics()
                    .filter(|(service, _, spec)| service == path && hides(spec))
                    .map(|(_, _, spec)| spec.characteristic)
                    .collect();
                peer.wrong.hide_once.retain(|hidden| !seen.contains(hidden));
            }
        }
        call.method_return()
            .append1(format!("<node>{}</node>", children.concat()))
    }

    fn get_all(&self, call: &Message, path: &str) -> Message {
        let interface: Option<&str> = call.get1();
        let found = self
            .objects()
            .remove(&wire::path(path))
            .and_then(|mut interfaces| interfaces.remove(interface.unwrap_or_default()));
        match found {
            Some(properties) => call.method_return().append1(properties),
            None => wire::no_such_object(call),
        }
    }

    fn get(&self, call: &Message, path: &str) -> Message {
        let (interface, name): (Option<&str>, Option<&str>) = call.get2();
        let found = self
            .objects()
            .remove(&wire::path(path))
            .and_then(|mut interfaces| interfaces.remove(interface.unwrap_or_default()))
            .and_then(|mut properties| properties.remove(name.unwrap_or_default()));
        match found {
            Some(value) => call.method_return().append1(value),
            None => wire::no_such_object(call),
        }
    }

    fn adapter(&mut self, at: Timestamp, call: &Message, member: &str) -> Message {
        match member {
            "SetDiscoveryFilter" => {}
            "StartDiscovery" if !self.powered => {
                return wire::fails(call, "org.bluez.Error.NotReady", "Resource Not Ready");
            }
            "StartDiscovery" => {
                self.scanning = true;
                lock(&self.ledger).scans.0 += 1;
                for device in 0..self.peers.len() {
                    let first = at + ADVERTISES_EVERY * (device as i64 + 1);
                    self.later(first, Due::Advertise(device));
                }
            }
            "StopDiscovery" if !self.scanning => {
                return wire::failed(call, "No discovery started");
            }
            "StopDiscovery" => {
                self.scanning = false;
                lock(&self.ledger).scans.1 += 1;
            }
            _ => return wire::failed(call, "no such method here"),
        }
        call.method_return()
    }

    fn device(
        &mut self,
        at: Timestamp,
        call: &Message,
        path: &str,
        member: &str,
    ) -> Option<Message> {
        let Some(device) = self
            .peers
            .iter()
            .position(|peer| peer.path == path && peer.known)
        else {
            return Some(wire::no_such_object(call));
        };
        match member {
            "Connect" => self.connect(at, call, device),
            "Disconnect" => {
                self.drop_link(at, device);
                // A client that takes the link down itself gives up its subscriptions.
                self.peers[device].notifying.clear();
                Some(call.method_return())
            }
            _ => Some(wire::failed(call, "no such method here")),
        }
    }

    fn connect(&mut self, at: Timestamp, call: &Message, device: usize) -> Option<Message> {
        let connecting = 1 + self
            .peers
            .iter()
            .filter(|peer| matches!(peer.link, LinkUp::Coming))
            .count();
        {
            let mut ledger = lock(&self.ledger);
            ledger.most_connecting = ledger.most_connecting.max(connecting as u32);
            ledger.connects_while_scanning += u32::from(self.scanning);
        }
        let powered = self.powered;
        let peer = &mut self.peers[device];
        if !powered {
            return Some(wire::fails(
                call,
                "org.bluez.Error.NotReady",
                "Resource Not Ready",
            ));
        }
        match peer.link {
            LinkUp::Bare | LinkUp::Ready => return Some(call.method_return()),
            LinkUp::Coming => {
                let words = "Operation already in progress";
                return Some(wire::fails(call, "org.bluez.Error.InProgress", words));
            }
            LinkUp::No => {}
        }
        if peer.wrong.refuse_links > 0 {
            peer.wrong.refuse_links -= 1;
            return Some(wire::failed(call, "le-connection-abort-by-local"));
        }
        if peer.wrong.ignore_links > 0 {
            peer.wrong.ignore_links -= 1;
            return None;
        }
        peer.link = LinkUp::Coming;
        let aborted = wire::failed(call, "le-connection-abort-by-local");
        peer.waiting_connect = Some((call.method_return(), aborted));
        // A device out of reach is waited for, as BlueZ does.
        if !peer.wrong.gone {
            self.later(at + LINKS_AFTER, Due::LinkUp(device));
        }
        None
    }

    fn characteristic(
        &mut self,
        at: Timestamp,
        call: &Message,
        path: &str,
        member: &str,
    ) -> Option<Message> {
        let found = self.peers.iter().enumerate().find_map(|(device, peer)| {
            let spec = peer
                .at_path(path)
                .filter(|_| peer.known && peer.services_shown)?;
            Some((device, spec))
        });
        let Some((device, spec)) = found else {
            return Some(wire::no_such_object(call));
        };
        let which = spec.characteristic;
        let speaks = spec.flags.contains(&"notify") || spec.flags.contains(&"indicate");
        let linked = self.peers[device].is_linked();
        match member {
            "StartNotify" if !speaks => Some(wire::att_error(call, 0x06, "Notify")),
            "StartNotify" => {
                if let Some(code) = self.peers[device].att_error(which, On::Subscribe) {
                    return Some(wire::att_error(call, code, "Notify"));
                }
                let peer = &mut self.peers[device];
                peer.notifying.insert(which);
                lock(&self.ledger)
                    .subscribed
                    .push((device, peer.links, which));
                if linked {
                    self.model.subscribed(at, device, which);
                }
                Some(call.method_return())
            }
            "StopNotify" => {
                if !self.peers[device].notifying.remove(&which) {
                    return Some(wire::failed(call, "No notify session started"));
                }
                self.model.unsubscribed(at, device, which);
                Some(call.method_return())
            }
            _ if !linked => Some(wire::failed(call, "Not connected")),
            "ReadValue" => Some(self.read(at, call, path, device, which)),
            "WriteValue" => self.write(at, call, device, which),
            _ => Some(wire::failed(call, "no such method here")),
        }
    }

    fn read(
        &mut self,
        at: Timestamp,
        call: &Message,
        path: &str,
        device: usize,
        which: Characteristic,
    ) -> Message {
        if let Some(code) = self.peers[device].att_error(which, On::Read) {
            return wire::att_error(call, code, "Read");
        }
        match self.model.read(at, device, which) {
            Ok(bytes) => {
                // BlueZ tells a read value to everybody, as if it had been notified.
                self.out.push(wire::value_changed(path, &bytes));
                call.method_return().append1(bytes)
            }
            Err(code) => wire::att_error(call, code, "Read"),
        }
    }

    fn write(
        &mut self,
        at: Timestamp,
        call: &Message,
        device: usize,
        which: Characteristic,
    ) -> Option<Message> {
        let bytes: Vec<u8> = call.get1().unwrap_or_default();
        if !self.peers[device].writing.insert(which) {
            let words = "Operation already in progress";
            return Some(wire::fails(call, "org.bluez.Error.InProgress", words));
        }
        let refused = match self.peers[device].att_error(which, On::Write) {
            Some(code) => Some(code),
            None => self.model.write(at, device, which, &bytes).err(),
        };
        let peer = &mut self.peers[device];
        let link = peer.links;
        lock(&self.ledger).written.push(Written {
            at,
            device,
            link,
            characteristic: which,
            bytes,
            refused,
        });
        if peer.wrong.ignore_writes > 0 {
            peer.wrong.ignore_writes -= 1;
            return None;
        }
        let answer = match refused {
            Some(code) => wire::att_error(call, code, "Write"),
            None => call.method_return(),
        };
        let due = at + peer.wrong.delay_writes;
        self.later(due, Due::Answer(device, which, answer));
        None
    }
}

pub(crate) fn lock(ledger: &Mutex<Ledger>) -> MutexGuard<'_, Ledger> {
    ledger.lock().unwrap_or_else(PoisonError::into_inner)
}
