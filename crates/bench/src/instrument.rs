//! One instrument of the running session: its decoder, what it said about itself, its series and
//! the health of its data.

use crate::model::{Health, InstrumentRole, InstrumentView, Reading as ReadingView};
use crate::plan::{SourcePlan, place_name};
use crate::trace::Trace;
use analysis::evidence::{Arrival, Role, Stream, ZeroOffset};
use sensor::assigned;
use sensor::peripheral::Capabilities;
use sensor::stream::{Quantity, Reading, StreamDecoder};
use std::collections::BTreeMap;
use units::{Characteristic, Packet, Series, Span, Timestamp};

/// A value older than this says nothing about the present and is not shown.
const TOO_OLD: Span = Span::from_secs(5);

/// Without a packet for this long, an instrument counts as silent. Long enough for one lost packet
/// at 1 Hz; common practice in the project's radio notes.
pub const SILENT_AFTER: Span = Span::from_millis(3000);

/// Window over which the packet rate is counted.
const RATE_WINDOW: Span = Span::from_secs(30);

/// One instrument.
#[derive(Debug)]
pub struct Instrument {
    plan: SourcePlan,
    decoder: StreamDecoder,
    capabilities: Capabilities,
    /// What was received, by the characteristic it came from.
    streams: BTreeMap<Characteristic, Stream>,
    main: Option<Characteristic>,
    up: bool,
    epoch: u32,
    last_packet: Option<Timestamp>,
    packets: u64,
    power: Trace,
    cadence: Trace,
    speed: Trace,
    zeros: Vec<ZeroOffset>,
}

impl Instrument {
    /// An instrument that has said nothing yet.
    pub fn new(plan: SourcePlan) -> Self {
        let hold = Series::DEFAULT_HOLD;
        Self {
            main: plan.main,
            zeros: plan.calibration.zero().into_iter().collect(),
            plan,
            decoder: StreamDecoder::new(),
            capabilities: Capabilities::default(),
            streams: BTreeMap::new(),
            up: true,
            epoch: 0,
            last_packet: None,
            packets: 0,
            power: Trace::new(hold),
            cadence: Trace::new(hold),
            speed: Trace::new(hold),
        }
    }

    /// Who it is and what it is for.
    pub fn plan(&self) -> &SourcePlan {
        &self.plan
    }

    /// What it said about itself.
    pub fn capabilities(&self) -> &Capabilities {
        &self.capabilities
    }

    /// The characteristic that is its word for power, once known.
    pub fn main(&self) -> Option<Characteristic> {
        self.main
    }

    /// Takes a packet; gives its readings and what was odd about it, in words.
    pub fn handle(&mut self, packet: &Packet) -> (Vec<Reading>, Vec<String>) {
        self.packets += 1;
        self.last_packet = Some(packet.at);
        if packet.epoch != self.epoch {
            self.epoch = packet.epoch;
            self.break_series(packet.at);
        }
        self.capabilities.handle(packet);
        if self.main.is_none() {
            self.main = self.main_of(packet.characteristic);
        }
        if is_measurement(packet.characteristic) {
            let stream = self
                .streams
                .entry(packet.characteristic)
                .or_insert_with(|| empty_stream(&self.plan, packet.characteristic));
            stream.arrivals.push(Arrival {
                at: packet.at,
                epoch: packet.epoch,
            });
        }
        let readings = self.decoder.handle(packet);
        for reading in &readings {
            self.keep(reading);
        }
        let oddities = self
            .decoder
            .take_oddities()
            .into_iter()
            .map(|odd| {
                format!(
                    "{} ({}): {}",
                    assigned::name(odd.origin),
                    odd.origin,
                    odd.words
                )
            })
            .collect();
        (readings, oddities)
    }

    /// Fires what has fallen due.
    pub fn handle_time(&mut self, now: Timestamp) -> Vec<Reading> {
        let readings = self.decoder.handle_time(now);
        for reading in &readings {
            self.keep(reading);
        }
        readings
    }

    /// When [`Instrument::handle_time`] wants to be called next.
    pub fn poll_timeout(&self) -> Option<Timestamp> {
        self.decoder.poll_timeout()
    }

    /// Takes link news.
    pub fn handle_link(&mut self, at: Timestamp, up: bool, epoch: u32) {
        self.up = up;
        if !up {
            self.break_series(at);
        } else {
            self.epoch = epoch;
        }
    }

    /// Whether it is linked.
    pub fn is_up(&self) -> bool {
        self.up
    }

    /// When its last packet came.
    pub fn last_packet(&self) -> Option<Timestamp> {
        self.last_packet
    }

    /// Its zero was found.
    pub fn note_zero(&mut self, zero: ZeroOffset) {
        self.zeros.push(zero);
    }

    /// Whether its cranks stand still, as far as it says: it reports no turning, or nothing.
    pub fn stands_still(&self, now: Timestamp) -> bool {
        self.cadence
            .last()
            .is_none_or(|point| point.value < 1.0 || now - point.at >= SILENT_AFTER)
    }

    /// Whether its data can be relied on now.
    pub fn health(&self, now: Timestamp) -> Health {
        match (self.up, self.last_packet) {
            (false, _) => Health::Lost,
            (true, None) => Health::Waiting,
            (true, Some(last)) if now - last > SILENT_AFTER => Health::Silent(now - last),
            (true, Some(_)) => Health::Good,
        }
    }

    /// The stream of its main characteristic, once it has sent something.
    pub fn main_stream(&self) -> Option<&Stream> {
        self.streams.get(&self.main?)
    }

    /// Its streams for the analysis. The main one has the instrument's role and name, the others
    /// are witnesses.
    pub fn evidence(&self) -> Vec<Stream> {
        let mut streams: Vec<_> = self
            .streams
            .iter()
            .filter(|(_, stream)| !stream.power_w.is_empty() || !stream.cadence_rpm.is_empty())
            .map(|(origin, stream)| {
                let mut stream = stream.clone();
                if Some(*origin) == self.main {
                    stream.name.clone_from(&self.plan.name);
                    stream.role = self.plan.role.for_analysis();
                    stream.zero_offsets.clone_from(&self.zeros);
                }
                stream
            })
            .collect();
        streams.sort_by_key(|stream| stream.role == Role::Witness);
        streams
    }

    /// The instrument for the screen.
    pub fn view(&self, now: Timestamp) -> InstrumentView {
        let latest = |trace: &Trace| {
            trace
                .last()
                .map(|point| ReadingView {
                    value: point.value,
                    age: now - point.at,
                })
                .filter(|reading| reading.age <= TOO_OLD)
        };
        InstrumentView {
            source: self.plan.id,
            name: self.plan.name.clone(),
            role: self.plan.role,
            place: place_name(self.plan.place).to_owned(),
            health: self.health(now),
            power_w: latest(&self.power),
            cadence_rpm: latest(&self.cadence),
            speed_kmh: latest(&self.speed),
            power: self.power.clone(),
            cadence: self.cadence.clone(),
            speed: self.speed.clone(),
            packets: self.packets,
            rate_hz: self.rate_hz(now),
            identity: self.capabilities.identity().to_string(),
        }
    }

    fn rate_hz(&self, now: Timestamp) -> Option<f64> {
        let arrivals = &self.streams.get(&self.main?)?.arrivals;
        let first = arrivals.partition_point(|arrival| arrival.at < now - RATE_WINDOW);
        let recent = &arrivals[first..];
        let (begin, end) = (recent.first()?.at, recent.last()?.at);
        (recent.len() > 1).then(|| (recent.len() - 1) as f64 / (end - begin).as_secs_f64())
    }

    /// A trainer's own word is its bike data; a meter's is its power measurement. A trainer that
    /// says its bike data hold no power is taken by its power measurement.
    fn main_of(&self, characteristic: Characteristic) -> Option<Characteristic> {
        let speaks_bike_data = self.plan.role == InstrumentRole::UnderTest
            && self.capabilities.measures_power_in_bike_data();
        match characteristic {
            assigned::INDOOR_BIKE_DATA if speaks_bike_data => Some(characteristic),
            assigned::CYCLING_POWER_MEASUREMENT if !speaks_bike_data => Some(characteristic),
            assigned::CSC_MEASUREMENT if self.plan.role == InstrumentRole::Witness => {
                Some(characteristic)
            }
            _ => None,
        }
    }

    fn keep(&mut self, reading: &Reading) {
        let is_main = Some(reading.origin) == self.main;
        let Some(stream) = self.streams.get_mut(&reading.origin) else {
            return;
        };
        let (series, trace) = match reading.quantity {
            Quantity::PowerW => (&mut stream.power_w, &mut self.power),
            Quantity::CadenceRpm => (&mut stream.cadence_rpm, &mut self.cadence),
            Quantity::SpeedKmh => (&mut stream.speed_kmh, &mut self.speed),
            _ => return,
        };
        // Two records at one moment: the first stays, as in every series of the house.
        if series.push(reading.at, reading.value).is_ok() && is_main {
            trace.push(reading.at, reading.value);
        }
    }

    fn break_series(&mut self, at: Timestamp) {
        for stream in self.streams.values_mut() {
            stream.power_w.break_at(at);
            stream.cadence_rpm.break_at(at);
            stream.speed_kmh.break_at(at);
        }
    }
}

fn empty_stream(plan: &SourcePlan, origin: Characteristic) -> Stream {
    let name = format!("{} · {}", plan.name, assigned::name(origin));
    Stream::new(&name, Role::Witness, plan.place)
}

fn is_measurement(characteristic: Characteristic) -> bool {
    matches!(
        characteristic,
        assigned::CYCLING_POWER_MEASUREMENT
            | assigned::INDOOR_BIKE_DATA
            | assigned::CSC_MEASUREMENT
            | assigned::HEART_RATE_MEASUREMENT
    )
}
