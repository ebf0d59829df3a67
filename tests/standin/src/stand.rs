//! The thread that owns the private bus, the clock and the service.

use crate::bus::{BusError, PrivateBus};
use crate::clock::{Clock, length};
use crate::fault::{Fault, Script};
use crate::ledger::Ledger;
use crate::model::Model;
use crate::service::{Service, lock};
use crate::wire::{NAME, SESSIONS_NAME};
use crossbeam_channel::{Receiver, Sender};
use dbus::Message;
use dbus::channel::Channel;
use dbus::message::MessageType;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::Duration;
use thiserror::Error;
use units::{Span, Timestamp};

/// Why the stand-in does not run.
#[derive(Debug, Error)]
pub enum StandInError {
    /// There is no bus.
    #[error(transparent)]
    Bus(#[from] BusError),
    /// The bus does not let us in.
    #[error("failed to serve on the private bus: {0}")]
    Wire(String),
    /// The system gave no thread.
    #[error("failed to start the stand-in's thread")]
    Thread(#[source] std::io::Error),
}

/// A running stand-in; it and its bus end when dropped.
#[derive(Debug)]
pub struct StandIn {
    address: String,
    clock: Clock,
    faults: Option<Sender<Fault>>,
    ledger: Arc<Mutex<Ledger>>,
    thread: Option<JoinHandle<()>>,
}

/// Orders that may wait for the thread; it takes them every few milliseconds.
const MOST_FAULTS: usize = 1024;
/// How often the thread looks for orders while nothing is due.
const LOOKS_EVERY: Span = Span::from_millis(5);
const ASKS_THE_BUS: Duration = Duration::from_secs(5);

impl StandIn {
    /// Starts a bus in `folder` and serves the model's devices on it. The script's moments count
    /// from now.
    ///
    /// # Errors
    /// The bus cannot be started or does not let us in.
    pub fn start(
        folder: &Path,
        model: Box<dyn Model>,
        script: Script,
    ) -> Result<Self, StandInError> {
        let bus = PrivateBus::start(folder)?;
        let address = PrivateBus::address_in(folder);
        let channel = join(&address)?;
        let ledger = Arc::new(Mutex::new(Ledger::default()));
        let clock = Clock::start();
        let (faults, from_test) = crossbeam_channel::bounded(MOST_FAULTS);
        let mut script_by_time = BTreeMap::new();
        for (nth, (at, fault)) in script.into_iter().enumerate() {
            script_by_time.insert((at, nth), fault);
        }
        let stage = Stage {
            address: address.clone(),
            bus,
            channel: Some(channel),
            clock,
            service: Service::new(model, ledger.clone()),
            script: script_by_time,
            from_test,
        };
        let thread = std::thread::Builder::new()
            .name("standin".to_owned())
            .spawn(move || stage.run())
            .map_err(StandInError::Thread)?;
        Ok(Self {
            address,
            clock,
            faults: Some(faults),
            ledger,
            thread: Some(thread),
        })
    }

    /// What to set `DBUS_SYSTEM_BUS_ADDRESS` to in a program that is to use the stand-in.
    pub fn address(&self) -> &str {
        &self.address
    }

    /// The moment on the stand-in's clock.
    pub fn now(&self) -> Timestamp {
        self.clock.now()
    }

    /// Lets something go wrong, or right, now.
    pub fn act(&self, fault: Fault) {
        if let Some(faults) = &self.faults {
            // The thread ends only with us; a fault that finds no room would be a broken test.
            faults.send(fault).expect("the stand-in's thread runs");
        }
    }

    /// What was sent and written up to now.
    pub fn ledger(&self) -> Ledger {
        lock(&self.ledger).clone()
    }

    /// Asks the ledger something without copying it.
    pub fn with_ledger<T>(&self, question: impl FnOnce(&Ledger) -> T) -> T {
        question(&lock(&self.ledger))
    }
}

impl Drop for StandIn {
    fn drop(&mut self) {
        self.faults = None;
        if let Some(thread) = self.thread.take() {
            // Had it panicked, the test has failed by other means.
            let _ = thread.join();
        }
    }
}

fn join(address: &str) -> Result<Channel, StandInError> {
    let wire = |error: dbus::Error| StandInError::Wire(error.to_string());
    let mut channel = Channel::open_private(address).map_err(wire)?;
    channel.register().map_err(wire)?;
    own(&channel, NAME, "RequestName").map_err(StandInError::Wire)?;
    own(&channel, SESSIONS_NAME, "RequestName").map_err(StandInError::Wire)?;
    Ok(channel)
}

/// Takes a service's name on the bus, or gives it back.
fn own(channel: &Channel, name: &str, method: &str) -> Result<(), String> {
    let call = Message::new_method_call(
        "org.freedesktop.DBus",
        "/org/freedesktop/DBus",
        "org.freedesktop.DBus",
        method,
    )?;
    let call = match method {
        "RequestName" => call.append2(name, 0_u32),
        _ => call.append1(name),
    };
    channel
        .send_with_reply_and_block(call, ASKS_THE_BUS)
        .map(|_| ())
        .map_err(|error| error.to_string())
}

struct Stage {
    address: String,
    bus: PrivateBus,
    channel: Option<Channel>,
    clock: Clock,
    service: Service,
    script: BTreeMap<(Timestamp, usize), Fault>,
    from_test: Receiver<Fault>,
}

impl Stage {
    fn run(mut self) {
        loop {
            loop {
                match self.from_test.try_recv() {
                    Ok(fault) => self.act(fault),
                    Err(crossbeam_channel::TryRecvError::Empty) => break,
                    Err(crossbeam_channel::TryRecvError::Disconnected) => return,
                }
            }
            let now = self.clock.now();
            while let Some(entry) = self.script.first_entry().filter(|e| e.key().0 <= now) {
                let fault = entry.remove();
                self.act(fault);
            }
            self.service.advance(now);
            let scripted = self.script.first_key_value().map(|((at, _), _)| *at);
            let due = self
                .service
                .next_due()
                .min(scripted.unwrap_or(Timestamp::MAX));
            let wait = length((due - self.clock.now()).min(LOOKS_EVERY));
            self.exchange(wait);
        }
    }

    fn exchange(&mut self, wait: Duration) {
        let Some(channel) = &self.channel else {
            self.service.outgoing();
            std::thread::sleep(wait);
            return;
        };
        for message in self.service.outgoing() {
            // A message for a bus that is dead is as lost as the bus.
            let _ = channel.send(message);
        }
        if channel.read_write(Some(wait)).is_err() {
            self.channel = None;
            return;
        }
        while let Some(message) = channel.pop_message() {
            if message.msg_type() == MessageType::MethodCall {
                self.service.call(self.clock.now(), &message);
            }
        }
    }

    fn act(&mut self, fault: Fault) {
        let now = self.clock.now();
        match fault {
            Fault::LoseName => {
                self.flush();
                if let Some(channel) = &self.channel {
                    own(channel, NAME, "ReleaseName").expect("a living bus takes its name back");
                }
            }
            Fault::TakeName => {
                if let Some(channel) = &self.channel {
                    own(channel, NAME, "RequestName").expect("a living bus gives the name");
                }
            }
            Fault::KillBus => {
                self.flush();
                self.channel = None;
                self.bus.kill();
            }
            Fault::RestartBus => {
                self.bus.restart().expect("a bus that ran once runs again");
                self.channel = Some(join(&self.address).expect("our own bus lets us in"));
            }
            _ => {}
        }
        self.service.act(now, fault);
    }

    /// What was sent before a crash has left the machine.
    fn flush(&mut self) {
        if let Some(channel) = &self.channel {
            for message in self.service.outgoing() {
                let _ = channel.send(message);
            }
            channel.flush();
        }
    }
}
