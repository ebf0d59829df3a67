//! Instruments before a session: what is in range, who has which role, and what each says.
//!
//! A thread of its own holds the radio. It is let go before a session begins, because the session
//! links its instruments itself and records everything they say from the first byte.

mod device;
mod told;

use super::logbook::Logbook;
use crate::bench_file::BenchFile;
use crate::clock::instant_now;
use crate::heard;
use crate::linked::{LISTENED, READ};
use analysis::before::CalibrationRecord;
use anyhow::{Result, anyhow, bail};
use bench::SourcePlan;
use bench::model::InstrumentRole;
use crossbeam_channel::{Receiver, Sender, bounded, select};
use desk::{DeviceCard, RadioWish, Searching};
use device::Device;
use radio::{AdapterState, Anchor, DeviceId, News, Order, Radio, RadioConfig, Scan, Token, Wanted};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;
use units::{Characteristic, SourceId, Span, Timestamp, Write};

/// Wishes that may wait for the radio's thread, which looks many times a second.
const WAITING_WISHES: usize = 256;

/// How often the picture is renewed.
const RENEW: Duration = Duration::from_millis(250);

/// What the thread shows.
#[derive(Clone, Default)]
pub struct Seen {
    /// Whether it looks for devices.
    pub searching: Searching,
    /// What is the matter, in words.
    pub words: Option<String>,
    /// The devices.
    pub cards: Vec<DeviceCard>,
}

/// The radio before a session. Dropping it lets every device go.
pub struct Scanner {
    wishes: Option<Sender<RadioWish>>,
    seen: Arc<Mutex<Seen>>,
    thread: Option<JoinHandle<()>>,
}

impl Scanner {
    /// Starts the radio on a thread of its own. What instruments carry out is noted.
    ///
    /// # Errors
    /// If no thread can be started. What is wrong with the radio is shown in words.
    pub fn start(screen: egui::Context, logbook: Logbook) -> Result<Self> {
        let (wishes, inbox) = bounded(WAITING_WISHES);
        let seen = Arc::new(Mutex::new(Seen {
            searching: Searching::Beginning,
            ..Seen::default()
        }));
        let thread = std::thread::Builder::new()
            .name("instruments".to_owned())
            .spawn({
                let seen = Arc::clone(&seen);
                move || {
                    let show = |shown: Seen| {
                        let mut seen = seen.lock().unwrap_or_else(PoisonError::into_inner);
                        if seen.words != shown.words
                            || seen.searching != shown.searching
                            || seen.cards != shown.cards
                        {
                            *seen = shown;
                            screen.request_repaint();
                        }
                    };
                    if let Err(error) =
                        Searcher::start(logbook).and_then(|mut s| s.run(&inbox, &show))
                    {
                        show(Seen {
                            words: Some(format!("{error:#}")),
                            ..Seen::default()
                        });
                    }
                }
            })?;
        Ok(Self {
            wishes: Some(wishes),
            seen,
            thread: Some(thread),
        })
    }

    /// Hands on a wish.
    pub fn wish(&self, wish: RadioWish) {
        if let Some(wishes) = &self.wishes {
            // A thread that has ended has said why.
            let _ = wishes.try_send(wish);
        }
    }

    /// What is to be shown.
    pub fn seen(&self) -> Seen {
        self.seen
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }

    /// Whether the thread has ended, because the radio cannot be used.
    pub fn is_over(&self) -> bool {
        self.thread.as_ref().is_none_or(JoinHandle::is_finished)
    }
}

impl Drop for Scanner {
    fn drop(&mut self) {
        self.wishes = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// The bench that the roles of some devices make.
///
/// # Errors
/// If there is not exactly one device under test and one reference.
pub fn bench_of(name: &str, cards: &[DeviceCard]) -> Result<BenchFile> {
    let mut given: Vec<&DeviceCard> = cards.iter().filter(|card| card.role.is_some()).collect();
    given.sort_by_key(|card| card.role);
    let has = |role| given.iter().filter(|card| card.role == Some(role)).count() == 1;
    if !has(InstrumentRole::UnderTest) || !has(InstrumentRole::PrimaryReference) {
        bail!("a bench needs one device under test and one reference; give both roles first");
    }
    let instruments: Vec<(String, SourcePlan)> = given
        .iter()
        .enumerate()
        .filter_map(|(index, card)| {
            let twins = given[..index]
                .iter()
                .filter(|c| c.name == card.name)
                .count();
            let name = match twins {
                0 => card.name.clone(),
                n => format!("{} ({})", card.name, n + 1),
            };
            let plan = SourcePlan {
                id: SourceId(index as u16 + 1),
                name,
                role: card.role?,
                place: card.place.unwrap_or(analysis::evidence::Place::Unknown),
                main: None,
                calibration: CalibrationRecord::default(),
            };
            Some((card.id.clone(), plan))
        })
        .collect();
    Ok(BenchFile {
        name: name.trim().to_owned(),
        rider_ceiling_w: None,
        instruments,
    })
}

/// What the thread works with.
struct Searcher {
    radio: Radio,
    begun: std::time::Instant,
    searching: Searching,
    words: Option<String>,
    devices: BTreeMap<DeviceId, Device>,
    tokens: u64,
    writes: BTreeMap<Token, SourceId>,
    sources: u16,
    logbook: Logbook,
}

impl Drop for Searcher {
    /// However the radio is let go, what was begun is noted.
    fn drop(&mut self) {
        self.devices.values_mut().for_each(Device::break_off);
        self.note_done();
    }
}

impl Searcher {
    fn start(logbook: Logbook) -> Result<Self> {
        let anchor = Anchor::now(Timestamp::ZERO);
        let mut config = RadioConfig::new(anchor);
        config.services = heard::sought();
        let radio = Radio::start(config)?;
        radio.order(Order::Scan(Scan::On))?;
        Ok(Self {
            radio,
            begun: anchor.instant,
            searching: Searching::Yes,
            words: None,
            devices: BTreeMap::new(),
            tokens: 0,
            writes: BTreeMap::new(),
            sources: 0,
            logbook,
        })
    }

    fn now(&self) -> Timestamp {
        Timestamp::ZERO + Span::from_secs_f64((instant_now() - self.begun).as_secs_f64())
    }

    fn run(&mut self, inbox: &Receiver<RadioWish>, show: &dyn Fn(Seen)) -> Result<()> {
        let mut shown_at = None;
        loop {
            let news = self.radio.news().clone();
            select! {
                recv(inbox) -> wish => match wish {
                    Ok(wish) => self.obey(wish)?,
                    Err(_) => return Ok(()),
                },
                recv(news) -> news => match news {
                    Ok(News::Stopped) | Err(_) => bail!("the radio stopped; search again"),
                    Ok(news) => self.hear(news)?,
                },
                default(RENEW) => {}
            }
            let now = self.now();
            self.carry_on(now)?;
            self.note_done();
            if shown_at.is_none_or(|at: std::time::Instant| at.elapsed() >= RENEW) {
                shown_at = Some(instant_now());
                show(self.seen(now));
            }
        }
    }

    fn note_done(&mut self) {
        for (id, device) in &mut self.devices {
            for done in device.take_done() {
                self.logbook.note(&id.0, done);
            }
        }
    }

    fn seen(&self, now: Timestamp) -> Seen {
        let mut cards: Vec<DeviceCard> = self.devices.values().map(|d| d.card(now)).collect();
        device::warn_of_shared_makers(&mut cards);
        cards.sort_by_key(|card| {
            (
                card.role.is_none(),
                card.role,
                card.age_s.is_none(),
                -i32::from(card.signal_dbm.unwrap_or(-127)) / 6,
                card.name.clone(),
            )
        });
        Seen {
            searching: self.searching,
            words: self.words.clone(),
            cards,
        }
    }

    fn obey(&mut self, wish: RadioWish) -> Result<()> {
        match wish {
            RadioWish::Search(searching) => {
                self.searching = searching;
                let scan = match searching {
                    Searching::No => Scan::Off,
                    Searching::Beginning | Searching::Yes => Scan::On,
                };
                self.radio.order(Order::Scan(scan))?;
                // With something linked, a wish to search is a short burst.
                if scan == Scan::On && self.devices.values().any(|d| d.source.is_some()) {
                    self.radio.order(Order::Scan(Scan::Once))?;
                }
            }
            RadioWish::GiveRole { device, role } => self.give_role(&DeviceId(device), role)?,
            RadioWish::GivePlace { device, place } => {
                if let Some(device) = self.devices.get_mut(&DeviceId(device)) {
                    device.place = Some(place);
                }
            }
            RadioWish::ZeroOffset(device) => {
                let now = self.now();
                let write = self
                    .devices
                    .get_mut(&DeviceId(device))
                    .and_then(|d| d.begin_zero(now));
                self.write(write)?;
            }
            RadioWish::SpinDown(device) => {
                let now = self.now();
                let write = self
                    .devices
                    .get_mut(&DeviceId(device))
                    .and_then(|d| d.begin_spin_down(now));
                self.write(write)?;
            }
            // The window does these itself.
            RadioWish::KeepBench(_)
            | RadioWish::LinkBench(_)
            | RadioWish::ForgetBench(_)
            | RadioWish::Audit { .. }
            | RadioWish::CloseAudit => {}
        }
        Ok(())
    }

    fn give_role(&mut self, id: &DeviceId, role: Option<InstrumentRole>) -> Result<()> {
        // Only what is recorded only may be there more than once.
        if role.is_some_and(|role| role != InstrumentRole::Witness) {
            let earlier = self
                .devices
                .iter()
                .find(|(other, device)| *other != id && device.role == role)
                .map(|(other, _)| other.clone());
            if let Some(other) = earlier {
                self.give_role(&other, None)?;
            }
        }
        let device = self
            .devices
            .entry(id.clone())
            .or_insert_with(|| Device::named(id));
        device.role = role;
        match (role, device.source) {
            (Some(_), None) => {
                self.sources += 1;
                let source = SourceId(self.sources);
                device.link(source, instant_now());
                self.radio.order(Order::Attach {
                    source,
                    id: id.clone(),
                    wanted: LISTENED.map(Wanted::usual).to_vec(),
                })?;
            }
            (None, Some(source)) => {
                device.let_go();
                self.radio.order(Order::Detach { source })?;
            }
            _ => {}
        }
        Ok(())
    }

    fn of(&mut self, source: SourceId) -> Option<&mut Device> {
        self.devices
            .values_mut()
            .find(|device| device.source == Some(source))
    }

    fn hear(&mut self, news: News) -> Result<()> {
        match news {
            News::Found(heard) => {
                let id = heard.id.clone();
                self.devices
                    .entry(id.clone())
                    .or_insert_with(|| Device::named(&id))
                    .hear(heard);
            }
            News::Link { source, state, .. } => {
                if let Some(device) = self.of(source) {
                    device.handle_link(state);
                }
            }
            News::Services {
                source, entries, ..
            } => {
                let offered: Vec<Characteristic> = READ
                    .into_iter()
                    .filter(|wanted| entries.iter().any(|entry| entry.characteristic == *wanted))
                    .collect();
                for characteristic in offered {
                    let token = self.token();
                    self.radio.order(Order::Read {
                        token,
                        source,
                        characteristic,
                    })?;
                }
            }
            News::Packet(packet) => {
                let write = self
                    .of(packet.source)
                    .and_then(|d| d.handle_packet(&packet));
                self.write(write)?;
            }
            News::WriteDone { token, result, .. } => {
                if let Some(source) = self.writes.remove(&token)
                    && let Some(device) = self.of(source)
                {
                    device.handle_write_result(&result);
                }
            }
            News::Adapter { state, .. } => {
                self.words = match state {
                    AdapterState::On => None,
                    AdapterState::Off => {
                        Some("Bluetooth is switched off; switch it on in the system.".to_owned())
                    }
                    AdapterState::Missing => {
                        Some("There is no Bluetooth adapter, or its service is down.".to_owned())
                    }
                };
            }
            News::Trouble(trouble) => match trouble.source.and_then(|source| self.of(source)) {
                Some(device) => device.trouble = Some(trouble.to_string()),
                None => self.words = Some(trouble.to_string()),
            },
            News::ReadDone { .. } | News::ClockJump { .. } | News::Stopped => {}
        }
        Ok(())
    }

    fn carry_on(&mut self, now: Timestamp) -> Result<()> {
        let ids: Vec<DeviceId> = self.devices.keys().cloned().collect();
        for id in ids {
            let write = self.devices.get_mut(&id).and_then(|d| d.handle_time(now));
            self.write(write)?;
        }
        Ok(())
    }

    fn write(&mut self, write: Option<Write>) -> Result<()> {
        let Some(write) = write else { return Ok(()) };
        let token = self.token();
        self.writes.insert(token, write.source);
        self.radio
            .order(Order::Write { token, write })
            .map_err(|error| anyhow!(error))
    }

    fn token(&mut self) -> Token {
        self.tokens += 1;
        Token(self.tokens)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn card(id: &str, name: &str, role: Option<InstrumentRole>) -> DeviceCard {
        DeviceCard {
            id: id.to_owned(),
            name: name.to_owned(),
            role,
            ..DeviceCard::default()
        }
    }

    #[test]
    fn a_bench_is_made_of_roles_in_their_order() {
        let cards = [
            card("c", "Meter", Some(InstrumentRole::SecondReference)),
            card("b", "Meter", Some(InstrumentRole::PrimaryReference)),
            card("x", "Nobody", None),
            card("a", "Trainer", Some(InstrumentRole::UnderTest)),
        ];
        let bench = bench_of(" left stand ", &cards).unwrap();
        assert_eq!(bench.name, "left stand");
        let names: Vec<_> = bench.instruments.iter().map(|(_, p)| &p.name[..]).collect();
        assert_eq!(names, ["Trainer", "Meter", "Meter (2)"]);
        assert!(bench_of("x", &cards[..1]).is_err());
    }
}
