//! One device before a session: what was heard of it, what it says linked, and the procedure that
//! runs on it.

use super::told::{Told, not_known};
use crate::heard;
use analysis::before::{BeforeSession, SPIN_DOWN, ZERO_OFFSET};
use analysis::evidence::Place;
use bench::model::InstrumentRole;
use desk::{DeviceCard, LinkWord};
use radio::{Advertisement, DeviceId, LinkState};
use sensor::assigned;
use sensor::battery::BatteryLevel;
use sensor::control::{PowerMeterProcedure, PowerMeterTransaction, SpinDown};
use sensor::cycling_power::control::OffsetUnit;
use sensor::cycling_power::feature::{CyclingPowerFeature, PowerFeature};
use sensor::cycling_power::location::SensorLocation;
use sensor::fitness_machine::control::{Request, Response, ResultCode, op_code};
use sensor::fitness_machine::feature::TargetFeature;
use sensor::fitness_machine::status::Status;
use sensor::peripheral::Capabilities;
use sensor::stream::{Quantity, StreamDecoder};
use std::collections::BTreeMap;
use std::time::{Duration, Instant};
use units::{AttError, Packet, SourceId, Span, Timestamp, Write};

/// A value older than this is not shown any more.
const STALE: Span = Span::from_secs(3);

/// A link that takes longer than this is probably held by somebody else.
const LONG: Duration = Duration::from_secs(15);

/// A battery below this is worth a word before a long script, %.
const LOW_BATTERY_PCT: u8 = 20;

/// How long a machine may take to give control: the standard's limit for every procedure.
const ANSWER_WITHIN: Span = Span::from_secs(30);

enum Procedure {
    Zero(PowerMeterTransaction),
    /// Control was asked for, without which no machine spins down.
    AskingControl {
        since: Timestamp,
    },
    SpinDown(SpinDown),
}

/// One device.
pub struct Device {
    heard: Option<Advertisement>,
    name: String,
    pub role: Option<InstrumentRole>,
    pub place: Option<Place>,
    pub source: Option<SourceId>,
    pub trouble: Option<String>,
    link: LinkWord,
    link_asked: Option<Instant>,
    capabilities: Capabilities,
    decoder: StreamDecoder,
    values: BTreeMap<Quantity, (Timestamp, f64)>,
    battery_pct: Option<u8>,
    procedure: Option<Procedure>,
    procedure_words: String,
    done: Vec<BeforeSession>,
    told_by_others: bool,
}

impl Device {
    /// A device of which only the system's name is known.
    pub fn named(id: &DeviceId) -> Self {
        Self {
            heard: None,
            name: id.0.clone(),
            role: None,
            place: None,
            source: None,
            trouble: None,
            link: LinkWord::None,
            link_asked: None,
            capabilities: Capabilities::default(),
            decoder: StreamDecoder::new(),
            values: BTreeMap::new(),
            battery_pct: None,
            procedure: None,
            procedure_words: String::new(),
            done: Vec::new(),
            told_by_others: false,
        }
    }

    /// Takes what was heard without a link.
    pub fn hear(&mut self, heard: Advertisement) {
        if let Some(name) = &heard.name {
            self.name.clone_from(name);
        }
        self.heard = Some(heard);
    }

    /// A link was asked for.
    pub fn link(&mut self, source: SourceId, now: Instant) {
        self.source = Some(source);
        self.link = LinkWord::Making;
        self.link_asked = Some(now);
        self.decoder = StreamDecoder::new();
        self.values.clear();
    }

    /// What runs on it is not followed any more.
    pub fn break_off(&mut self) {
        let procedure = match self.procedure.take() {
            Some(Procedure::Zero(_)) => ZERO_OFFSET,
            Some(Procedure::SpinDown(_)) => SPIN_DOWN,
            Some(Procedure::AskingControl { .. }) | None => return,
        };
        self.done.push(not_known(procedure));
    }

    /// The link is not wanted any more.
    pub fn let_go(&mut self) {
        self.break_off();
        *self = Self {
            done: std::mem::take(&mut self.done),
            heard: self.heard.take(),
            name: std::mem::take(&mut self.name),
            ..Self::named(&DeviceId(String::new()))
        };
    }

    /// Takes the news of its link.
    pub fn handle_link(&mut self, state: LinkState) {
        self.link = match state {
            LinkState::Idle => LinkWord::None,
            LinkState::Live => LinkWord::Live,
            LinkState::Lost => LinkWord::Lost,
            LinkState::Connecting | LinkState::Discovering | LinkState::Subscribing => {
                LinkWord::Making
            }
        };
        if state == LinkState::Live {
            self.trouble = None;
            self.link_asked = None;
        }
        if state == LinkState::Lost {
            let told = match &mut self.procedure {
                Some(Procedure::Zero(running)) => running.handle_link_lost().map(Told::Zero),
                Some(Procedure::SpinDown(running)) => {
                    running.handle_link_lost().map(Told::SpinDown)
                }
                Some(Procedure::AskingControl { .. }) => Some(Told::NoControl),
                None => None,
            };
            self.say(told);
        }
    }

    /// Takes a packet; gives what is to be written next, if anything is.
    pub fn handle_packet(&mut self, packet: &Packet) -> Option<Write> {
        self.capabilities.handle(packet);
        for reading in self.decoder.handle(packet) {
            self.values
                .insert(reading.quantity, (reading.at, reading.value));
        }
        if packet.characteristic == assigned::BATTERY_LEVEL {
            self.battery_pct = BatteryLevel::decode(&packet.bytes)
                .ok()
                .and_then(|level| level.value.percent);
        }
        if packet.characteristic == assigned::FITNESS_MACHINE_STATUS
            && let Ok(status) = Status::decode(&packet.bytes)
            && matches!(
                status.value,
                Status::TargetPowerChanged { .. } | Status::TargetResistanceChanged { .. }
            )
        {
            // Nothing in here sets a target, so somebody else did.
            self.told_by_others = true;
        }
        let told = match &mut self.procedure {
            Some(Procedure::Zero(running)) => running.handle_packet(packet).map(Told::Zero),
            Some(Procedure::SpinDown(running)) => running.handle_packet(packet).map(Told::SpinDown),
            Some(Procedure::AskingControl { .. }) | None => None,
        };
        self.say(told);
        self.begin_with_control(packet)
    }

    /// Takes the acknowledgement of a write.
    pub fn handle_write_result(&mut self, result: &Result<(), AttError>) {
        let told = match &mut self.procedure {
            Some(Procedure::Zero(running)) => running.handle_write_result(result).map(Told::Zero),
            Some(Procedure::SpinDown(running)) => {
                running.handle_write_result(result).map(Told::SpinDown)
            }
            Some(Procedure::AskingControl { .. }) if result.is_err() => Some(Told::NoControl),
            Some(Procedure::AskingControl { .. }) | None => None,
        };
        self.say(told);
    }

    /// Time has passed.
    pub fn handle_time(&mut self, now: Timestamp) -> Option<Write> {
        for reading in self.decoder.handle_time(now) {
            self.values
                .insert(reading.quantity, (reading.at, reading.value));
        }
        let told = match &mut self.procedure {
            Some(Procedure::Zero(running)) => running.handle_time(now).map(Told::Zero),
            Some(Procedure::SpinDown(running)) => running.handle_time(now).map(Told::SpinDown),
            Some(Procedure::AskingControl { since }) => {
                (now - *since >= ANSWER_WITHIN).then_some(Told::NoControl)
            }
            None => None,
        };
        self.say(told);
        None
    }

    fn say(&mut self, told: Option<Told>) {
        let over = match &self.procedure {
            Some(Procedure::Zero(running)) => running.is_over(),
            Some(Procedure::SpinDown(running)) => running.is_over(),
            Some(Procedure::AskingControl { .. }) => matches!(told, Some(Told::NoControl)),
            None => false,
        };
        if let Some(told) = told {
            self.procedure_words = told.words();
            self.done.extend(told.done());
        }
        if over {
            self.procedure = None;
        }
    }

    /// The procedures that came to their end since the last call.
    pub fn take_done(&mut self) -> Vec<BeforeSession> {
        std::mem::take(&mut self.done)
    }

    /// Begins to set the zero; gives what is to be written.
    pub fn begin_zero(&mut self, now: Timestamp) -> Option<Write> {
        let source = self.source.filter(|_| self.can_begin(self.offers_zero()))?;
        let unit = self
            .capabilities
            .cycling_power()
            .map_or(OffsetUnit::NewtonMetres, |feature| feature.offset_unit());
        let (running, bytes) =
            PowerMeterTransaction::start(now, PowerMeterProcedure::ZeroOffset, unit);
        self.procedure = Some(Procedure::Zero(running));
        self.procedure_words =
            "Setting the zero: nobody on the bicycle, cranks as the maker says.".to_owned();
        Some(Write {
            source,
            characteristic: assigned::CYCLING_POWER_CONTROL_POINT,
            bytes,
        })
    }

    /// Begins a spin-down; gives what is to be written: first of all a request for control.
    pub fn begin_spin_down(&mut self, now: Timestamp) -> Option<Write> {
        let source = self
            .source
            .filter(|_| self.can_begin(self.offers_spin_down()))?;
        self.procedure = Some(Procedure::AskingControl { since: now });
        self.procedure_words = "Spin-down: asking for control.".to_owned();
        Some(Write {
            source,
            characteristic: assigned::FITNESS_MACHINE_CONTROL_POINT,
            bytes: Request::RequestControl.encode(),
        })
    }

    /// The answer to the request for control: a spin-down begins, or the words say why not.
    fn begin_with_control(&mut self, packet: &Packet) -> Option<Write> {
        let asking = matches!(self.procedure, Some(Procedure::AskingControl { .. }));
        if !asking || packet.characteristic != assigned::FITNESS_MACHINE_CONTROL_POINT {
            return None;
        }
        let response = Response::decode(&packet.bytes).ok()?.value;
        if response.request_op != op_code::REQUEST_CONTROL {
            return None;
        }
        if response.result != ResultCode::Success {
            self.procedure = None;
            self.procedure_words = format!(
                "The spin-down was not begun: control was refused ({}). Let go of it in other \
                 programs and head units.",
                response.result
            );
            return None;
        }
        let (running, bytes) = SpinDown::start(packet.at);
        self.procedure = Some(Procedure::SpinDown(running));
        self.procedure_words = "Spin-down: asked for it.".to_owned();
        Some(Write {
            source: packet.source,
            characteristic: assigned::FITNESS_MACHINE_CONTROL_POINT,
            bytes,
        })
    }

    fn can_begin(&self, offers: bool) -> bool {
        offers && self.link == LinkWord::Live && self.procedure.is_none()
    }

    fn offers_zero(&self) -> bool {
        self.capabilities.cycling_power().is_some_and(|feature| {
            feature.contains(PowerFeature::OffsetCompensation)
                || feature.contains(PowerFeature::EnhancedOffsetCompensation)
        })
    }

    fn offers_spin_down(&self) -> bool {
        self.capabilities
            .fitness_machine()
            .and_then(|feature| feature.settable)
            .is_some_and(|settable| settable.contains(TargetFeature::SpinDown))
    }

    fn value(&self, quantity: Quantity, now: Timestamp) -> Option<f64> {
        self.values
            .get(&quantity)
            .filter(|(at, _)| now - *at <= STALE)
            .map(|(_, value)| *value)
    }

    fn measures_at(&self) -> Option<Place> {
        self.place.or_else(|| {
            Some(match self.capabilities.location()? {
                SensorLocation::LeftCrank
                | SensorLocation::RightCrank
                | SensorLocation::LeftPedal
                | SensorLocation::RightPedal => Place::OneSide,
                SensorLocation::RearHub | SensorLocation::RearWheel => Place::Hub,
                other => match other.name() {
                    "pedal" | "pedals" => Place::Pedals,
                    "spider" | "chainring" | "chain ring" => Place::Crank,
                    _ => return None,
                },
            })
        })
    }

    /// The device as the desk shows it.
    pub fn card(&self, now: Timestamp) -> DeviceCard {
        let heard = self.heard.as_ref();
        let live = self.link == LinkWord::Live;
        DeviceCard {
            id: heard.map_or_else(|| self.name.clone(), |heard| heard.id.0.clone()),
            name: self.name.clone(),
            services: heard.map(services).unwrap_or_default(),
            signal_dbm: heard.and_then(|heard| heard.rssi),
            age_s: heard
                .and_then(|heard| heard.seen_at)
                .map(|at| (now - at).as_secs_f64().max(0.0) as u64),
            role: self.role,
            place: self.measures_at(),
            link: self.link,
            identity: self.capabilities.identity().to_string(),
            features: self.features(),
            battery_pct: self.battery_pct,
            power_w: live.then(|| self.value(Quantity::PowerW, now)).flatten(),
            cadence_rpm: live
                .then(|| self.value(Quantity::CadenceRpm, now))
                .flatten(),
            speed_kmh: live.then(|| self.value(Quantity::SpeedKmh, now)).flatten(),
            warnings: self.warnings(),
            offers_zero: live && self.offers_zero() && self.procedure.is_none(),
            offers_spin_down: live && self.offers_spin_down() && self.procedure.is_none(),
            procedure: self.procedure_words.clone(),
        }
    }

    fn features(&self) -> Vec<String> {
        let mut words = Vec::new();
        if let Some([low, high]) = self.capabilities.power_range_w() {
            words.push(format!("target power {low:.0} to {high:.0} W"));
        } else if self.capabilities.can_set_power() {
            words.push("target power".to_owned());
        }
        if self.capabilities.can_set_resistance() {
            words.push("resistance level".to_owned());
        }
        if self.capabilities.can_simulate_slope() {
            words.push("slope simulation".to_owned());
        }
        if self.offers_spin_down() {
            words.push("spin-down".to_owned());
        }
        if let Some(feature) = self.capabilities.cycling_power() {
            words.extend(known_power_features(feature).map(str::to_owned));
        }
        if let Some(location) = self.capabilities.location() {
            words.push(format!("sits at the {}", location.name()));
        }
        words
    }

    fn warnings(&self) -> Vec<String> {
        let mut words = Vec::new();
        if self.measures_at() == Some(Place::OneSide) {
            words.push(
                "It measures one side and doubles it: a shift from leg to leg looks like an error \
                 of the device."
                    .to_owned(),
            );
        }
        if let Some(pct) = self.battery_pct.filter(|pct| *pct < LOW_BATTERY_PCT) {
            words.push(format!(
                "Its battery is at {pct} %: change it before a long script."
            ));
        }
        if self.told_by_others {
            words.push(
                "Its target was changed, and not from here: let go of it in other programs and \
                 head units."
                    .to_owned(),
            );
        }
        let waits_long = self.link == LinkWord::Making
            && self.link_asked.is_some_and(|asked| asked.elapsed() > LONG);
        if let Some(trouble) = &self.trouble {
            words.push(trouble.clone());
        } else if waits_long {
            words.push(
                "It does not answer: another program or a head unit may hold it, or it sleeps; \
                 turn the cranks."
                    .to_owned(),
            );
        }
        words
    }
}

fn known_power_features(feature: &CyclingPowerFeature) -> impl Iterator<Item = &'static str> {
    let known = [
        (PowerFeature::OffsetCompensation, "zero offset"),
        (PowerFeature::Balance, "pedal power balance"),
        (PowerFeature::CrankRevolutions, "crank revolutions"),
        (PowerFeature::WheelRevolutions, "wheel revolutions"),
        (PowerFeature::CrankLength, "crank length"),
    ];
    let feature = *feature;
    known
        .into_iter()
        .filter(move |(one, _)| feature.contains(*one))
        .map(|(_, words)| words)
}

/// Two instruments of one maker may share the way they are calibrated, and then agree without
/// being right.
pub fn warn_of_shared_makers(cards: &mut [DeviceCard]) {
    let maker = |card: &DeviceCard| card.identity.split_whitespace().next().map(str::to_owned);
    let with_role = |cards: &[DeviceCard], role| {
        cards
            .iter()
            .find(|card| card.role == Some(role))
            .and_then(maker)
    };
    let device = with_role(cards, InstrumentRole::UnderTest);
    let reference = with_role(cards, InstrumentRole::PrimaryReference);
    if device.is_none() || device != reference {
        return;
    }
    for card in cards
        .iter_mut()
        .filter(|card| card.role == Some(InstrumentRole::PrimaryReference))
    {
        card.warnings.push(
            "Device and reference are of one maker: they may share a calibration, and agree \
             without being right."
                .to_owned(),
        );
    }
}

fn services(heard: &Advertisement) -> Vec<String> {
    // What it measures first: the list may be cut off at its end.
    let measures = |service: &u16| {
        ![
            assigned::DEVICE_INFORMATION_SERVICE,
            assigned::BATTERY_SERVICE,
        ]
        .contains(service)
    };
    let (first, then): (Vec<u16>, Vec<u16>) = heard.services.iter().copied().partition(measures);
    first
        .iter()
        .chain(&then)
        .map(|service| match *service {
            assigned::DEVICE_INFORMATION_SERVICE => "device information".to_owned(),
            assigned::BATTERY_SERVICE => "battery".to_owned(),
            other => heard::measures(other).map_or_else(|| format!("{other:04X}"), str::to_owned),
        })
        .collect()
}
