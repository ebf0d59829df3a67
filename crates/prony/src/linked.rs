//! Real instruments over the radio, as instruments of a session.
//!
//! Connecting belongs to the session: its clock starts with the radio, and what the instruments
//! say about themselves is recorded like everything else.

use crate::bench_file::BenchFile;
use crate::instruments::{Instruments, News};
use anyhow::{Result, bail};
use bench::Command;
use crossbeam_channel::{Receiver, RecvTimeoutError, select};
use radio::{Anchor, Awake, DeviceId, LinkState, Order, Radio, RadioConfig, Token, Wanted};
use sensor::assigned;
use sensor::peripheral::Capabilities;
use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::time::Duration;
use units::{AttError, Characteristic, SourceId, Timestamp, Write};

/// What is listened to, in this order; control points and status first.
pub(crate) const LISTENED: [Characteristic; 7] = [
    assigned::FITNESS_MACHINE_CONTROL_POINT,
    assigned::CYCLING_POWER_CONTROL_POINT,
    assigned::FITNESS_MACHINE_STATUS,
    assigned::INDOOR_BIKE_DATA,
    assigned::CYCLING_POWER_MEASUREMENT,
    assigned::CSC_MEASUREMENT,
    assigned::HEART_RATE_MEASUREMENT,
];

/// What is read once for each link.
pub(crate) const READ: [Characteristic; 17] = [
    assigned::FITNESS_MACHINE_FEATURE,
    assigned::SUPPORTED_SPEED_RANGE,
    assigned::SUPPORTED_HEART_RATE_RANGE,
    assigned::CSC_FEATURE,
    assigned::BODY_SENSOR_LOCATION,
    assigned::SUPPORTED_POWER_RANGE,
    assigned::SUPPORTED_RESISTANCE_LEVEL_RANGE,
    assigned::SUPPORTED_INCLINATION_RANGE,
    assigned::CYCLING_POWER_FEATURE,
    assigned::SENSOR_LOCATION,
    assigned::MANUFACTURER_NAME,
    assigned::MODEL_NUMBER,
    assigned::SERIAL_NUMBER,
    assigned::FIRMWARE_REVISION,
    assigned::HARDWARE_REVISION,
    assigned::SOFTWARE_REVISION,
    assigned::BATTERY_LEVEL,
];

/// How long the program waits for all instruments of a bench to be linked and read.
const CONNECT_WITHIN: Duration = Duration::from_secs(60);

/// Instruments over the radio.
pub struct Linked {
    radio: Radio,
    /// Seconds of the session in one of the world; see [`crate::equipment`].
    pace: f64,
    heard: VecDeque<News>,
    writes: BTreeMap<Token, Write>,
    reads: BTreeSet<Token>,
    /// What an instrument offers of what is to be read, until its link is live.
    to_read: BTreeMap<SourceId, Vec<Characteristic>>,
    next_token: u64,
    live: BTreeSet<SourceId>,
    capabilities: BTreeMap<SourceId, Capabilities>,
    troubles: Vec<String>,
    /// The machine stays awake for as long as the instruments are linked.
    _awake: Option<Awake>,
}

impl Linked {
    /// Starts the radio and links every instrument of a bench, until all are live and read.
    ///
    /// # Errors
    /// If the radio cannot be used, or an instrument is not there within a minute; the message
    /// names it and says what to do.
    pub fn connect(bench: &BenchFile, anchor: Anchor, mut tell: impl FnMut(&str)) -> Result<Self> {
        let radio = Radio::start(RadioConfig::new(anchor))?;
        let awake = Awake::hold("a test bench records its instruments");
        if let Err(error) = &awake {
            tell(&error.to_string());
        }
        let mut linked = Self {
            _awake: awake.ok(),
            radio,
            pace: crate::equipment::pace(),
            heard: VecDeque::new(),
            writes: BTreeMap::new(),
            reads: BTreeSet::new(),
            to_read: BTreeMap::new(),
            next_token: 0,
            live: BTreeSet::new(),
            capabilities: BTreeMap::new(),
            troubles: Vec::new(),
        };
        for (device, plan) in &bench.instruments {
            linked.radio.order(Order::Attach {
                source: plan.id,
                id: DeviceId(device.clone()),
                wanted: LISTENED.map(Wanted::usual).to_vec(),
            })?;
        }
        let begun = crate::clock::instant_now();
        while linked.live.len() < bench.instruments.len() || !linked.reads.is_empty() {
            if begun.elapsed() > CONNECT_WITHIN {
                bail!("{}", linked.missing(bench));
            }
            match linked.radio.news().recv_timeout(Duration::from_millis(200)) {
                Ok(news) => linked.hear(news),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => bail!("the radio stopped"),
            }
            for trouble in linked.troubles.drain(..) {
                tell(&trouble);
            }
        }
        Ok(linked)
    }

    /// What an instrument said about itself.
    pub fn capabilities(&self, source: SourceId) -> Capabilities {
        self.capabilities.get(&source).cloned().unwrap_or_default()
    }

    fn missing(&self, bench: &BenchFile) -> String {
        let names: Vec<_> = bench
            .instruments
            .iter()
            .filter(|(_, plan)| !self.live.contains(&plan.id))
            .map(|(device, plan)| format!("{} ({device})", plan.name))
            .collect();
        format!(
            "not linked within a minute: {}. Wake it (turn the cranks), let go of it in other \
             programs and head units, and look at `prony devices`. An adapter holds a few links \
             only, some no more than three: with many instruments a second one may be needed",
            if names.is_empty() {
                "all are linked, but one does not answer reads".to_owned()
            } else {
                names.join(", ")
            }
        )
    }

    /// The moment on the session's clock.
    fn session_time(&self, at: Timestamp) -> Timestamp {
        if self.pace == 1.0 {
            return at;
        }
        Timestamp::from_secs_f64(at.as_secs_f64() * self.pace)
    }

    fn hear(&mut self, news: radio::News) {
        match news {
            radio::News::Packet(mut packet) => {
                packet.at = self.session_time(packet.at);
                self.capabilities
                    .entry(packet.source)
                    .or_default()
                    .handle(&packet);
                self.heard.push_back(News::Packet(packet));
            }
            radio::News::Link {
                source,
                at,
                state,
                epoch,
                words,
            } => {
                let up = state == LinkState::Live;
                if up {
                    self.read_all(source);
                }
                let was_live = if up {
                    !self.live.insert(source)
                } else {
                    self.live.remove(&source)
                };
                if up || was_live {
                    self.heard.push_back(News::Link {
                        at: self.session_time(at),
                        source,
                        up,
                        epoch,
                        words,
                    });
                }
            }
            radio::News::Services {
                source, entries, ..
            } => {
                let offered = READ
                    .into_iter()
                    .filter(|read| entries.iter().any(|entry| entry.characteristic == *read));
                self.to_read.insert(source, offered.collect());
            }
            radio::News::WriteDone { token, at, result } => {
                if let Some(write) = self.writes.remove(&token) {
                    let at = self.session_time(at);
                    self.heard.push_back(News::WriteReply { at, write, result });
                }
            }
            radio::News::ReadDone { token, .. } => {
                self.reads.remove(&token);
            }
            radio::News::Trouble(trouble) => self.troubles.push(trouble.to_string()),
            radio::News::ClockJump { by, .. } => {
                self.troubles
                    .push(format!("the machine slept or its clock was set: {by}"));
            }
            radio::News::Found(_) | radio::News::Adapter { .. } | radio::News::Stopped => {}
        }
    }

    /// Reads everything there is to read, once the link takes requests.
    fn read_all(&mut self, source: SourceId) {
        for characteristic in self.to_read.remove(&source).unwrap_or_default() {
            let token = self.token();
            let order = Order::Read {
                token,
                source,
                characteristic,
            };
            if self.radio.order(order).is_ok() {
                self.reads.insert(token);
            }
        }
    }

    fn token(&mut self) -> Token {
        self.next_token += 1;
        Token(self.next_token)
    }
}

impl Instruments for Linked {
    fn due(&self) -> Option<Timestamp> {
        self.heard.front().map(News::at)
    }

    fn poll(&mut self, _now: Timestamp) -> Option<News> {
        while let Ok(news) = self.radio.news().try_recv() {
            self.hear(news);
        }
        self.heard.pop_front()
    }

    fn write(&mut self, now: Timestamp, write: Write) {
        let token = self.token();
        match self.radio.order(Order::Write {
            token,
            write: write.clone(),
        }) {
            Ok(()) => {
                self.writes.insert(token, write);
            }
            Err(error) => self.heard.push_back(News::WriteReply {
                at: now,
                write,
                result: Err(AttError::Other(error.to_string())),
            }),
        }
    }

    fn wait(
        &mut self,
        commands: &Receiver<Command>,
        at_most: Duration,
    ) -> Result<Command, RecvTimeoutError> {
        let news = self.radio.news().clone();
        select! {
            recv(commands) -> command => command.map_err(|_| RecvTimeoutError::Disconnected),
            recv(news) -> news => {
                if let Ok(news) = news {
                    self.hear(news);
                }
                Err(RecvTimeoutError::Timeout)
            }
            default(at_most) => Err(RecvTimeoutError::Timeout),
        }
    }

    fn troubles(&mut self) -> Vec<String> {
        std::mem::take(&mut self.troubles)
    }
}
