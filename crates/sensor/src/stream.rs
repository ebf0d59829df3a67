//! From packets of one instrument to readings with a quantity and a unit.
//!
//! One decoder per instrument. It assembles split records, follows counters over roll-overs and
//! gaps, and lets cadence fall to zero at the moment it is due. Every reading says from which
//! characteristic it came, because one device may offer two services with different smoothing,
//! and both are kept.

use crate::assigned;
use crate::battery::BatteryLevel;
use crate::counter::{Counter, CounterShape, Step, mean_torque_nm};
use crate::cycling_power::measurement::{BalanceReference, CyclingPowerMeasurement, TorqueSource};
use crate::fitness_machine::RecordAssembler;
use crate::fitness_machine::control::Response;
use crate::fitness_machine::indoor_bike_data::IndoorBikeData;
use crate::fitness_machine::status::Status;
use crate::heart_rate::HeartRateMeasurement;
use crate::speed_cadence::SpeedCadenceMeasurement;
use std::collections::BTreeMap;
use units::{Characteristic, Packet, SourceId, Timestamp};

/// What a reading is of. The unit is part of the name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Quantity {
    /// Power, W.
    PowerW,
    /// Cadence, revolutions per minute.
    CadenceRpm,
    /// Speed as the instrument states it, km/h.
    SpeedKmh,
    /// Wheel revolutions per minute, from counters.
    WheelRpm,
    /// Average torque over the last crank revolutions, N·m.
    TorqueNm,
    /// Share of the left pedal, %; only where the instrument says that it is the left.
    LeftBalancePct,
    /// Heart rate, beats per minute.
    HeartRateBpm,
    /// Battery, %.
    BatteryPct,
    /// Resistance level as reported, unitless.
    ResistanceLevel,
    /// Energy since the instrument was started, kJ.
    EnergyKj,
    /// Time since the instrument was started, s.
    ElapsedS,
    /// Distance since the instrument was started, m.
    DistanceM,
}

/// One value of one quantity; always finite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// When it was received, or when it fell due.
    pub at: Timestamp,
    /// From which instrument.
    pub source: SourceId,
    /// From which of its characteristics.
    pub origin: Characteristic,
    /// Of what, and in which unit.
    pub quantity: Quantity,
    /// How much.
    pub value: f64,
}

/// Something odd about received bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Oddity {
    /// When the bytes were received.
    pub at: Timestamp,
    /// From which instrument.
    pub source: SourceId,
    /// From which of its characteristics.
    pub origin: Characteristic,
    /// What was odd, in words.
    pub words: String,
}

/// Decodes the packets of one instrument.
#[derive(Debug, Default)]
pub struct StreamDecoder {
    bike: RecordAssembler,
    bike_epoch: Option<u32>,
    cranks: BTreeMap<Characteristic, Crank>,
    wheels: BTreeMap<Characteristic, Counter>,
    source: Option<SourceId>,
    oddities: Vec<Oddity>,
}

#[derive(Debug)]
struct Crank {
    counter: Counter,
    torque_32nds: Option<u16>,
}

impl StreamDecoder {
    /// A decoder that has seen nothing.
    pub fn new() -> Self {
        Self::default()
    }

    /// Decodes one packet. Characteristics without readings give none; bytes that cannot be read
    /// give an [`Oddity`].
    pub fn handle(&mut self, packet: &Packet) -> Vec<Reading> {
        self.source = Some(packet.source);
        let mut readings = Readings {
            packet,
            list: Vec::new(),
        };
        match packet.characteristic {
            assigned::CYCLING_POWER_MEASUREMENT => {
                if let Some(record) = self.read(packet, CyclingPowerMeasurement::decode) {
                    self.cycling_power(&record, &mut readings);
                }
            }
            assigned::INDOOR_BIKE_DATA => {
                if let Some(part) = self.read(packet, IndoorBikeData::decode) {
                    self.indoor_bike(part, &mut readings);
                }
            }
            assigned::CSC_MEASUREMENT => {
                if let Some(record) = self.read(packet, SpeedCadenceMeasurement::decode) {
                    self.speed_cadence(&record, &mut readings);
                }
            }
            assigned::HEART_RATE_MEASUREMENT => {
                if let Some(record) = self.read(packet, HeartRateMeasurement::decode) {
                    readings.add(Quantity::HeartRateBpm, f64::from(record.heart_rate_bpm));
                }
            }
            assigned::BATTERY_LEVEL => {
                if let Some(record) = self.read(packet, BatteryLevel::decode) {
                    readings.add_some(Quantity::BatteryPct, record.percent.map(f64::from));
                }
            }
            // These hold no readings; but what is odd about them has to be known too, because the
            // machines that act on them pass over what they cannot read.
            assigned::FITNESS_MACHINE_CONTROL_POINT => {
                self.read(packet, Response::decode);
            }
            assigned::FITNESS_MACHINE_STATUS => {
                self.read(packet, Status::decode);
            }
            _ => {}
        }
        readings.list
    }

    /// Fires what has fallen due: a cadence that became zero. The readings carry the moment at
    /// which they fell due, not `now`.
    pub fn handle_time(&mut self, now: Timestamp) -> Vec<Reading> {
        let Some(source) = self.source else {
            return Vec::new();
        };
        let zero = |(origin, counter): (&Characteristic, &mut Counter), quantity| {
            counter.handle_time(now).map(|at| Reading {
                at,
                source,
                origin: *origin,
                quantity,
                value: 0.0,
            })
        };
        let cranks = self
            .cranks
            .iter_mut()
            .filter_map(|(origin, crank)| zero((origin, &mut crank.counter), Quantity::CadenceRpm));
        let wheels = self
            .wheels
            .iter_mut()
            .filter_map(|wheel| zero(wheel, Quantity::WheelRpm));
        let mut readings: Vec<_> = cranks.chain(wheels).collect();
        readings.sort_by_key(|reading| reading.at);
        readings
    }

    /// When [`StreamDecoder::handle_time`] wants to be called next.
    pub fn poll_timeout(&self) -> Option<Timestamp> {
        let cranks = self.cranks.values().map(|crank| &crank.counter);
        cranks
            .chain(self.wheels.values())
            .filter_map(Counter::poll_timeout)
            .min()
    }

    /// What was odd about the bytes since the last call.
    pub fn take_oddities(&mut self) -> Vec<Oddity> {
        std::mem::take(&mut self.oddities)
    }

    fn read<T>(
        &mut self,
        packet: &Packet,
        decode: impl Fn(&[u8]) -> Result<crate::Decoded<T>, crate::DecodeError>,
    ) -> Option<T> {
        match decode(&packet.bytes) {
            Ok(decoded) => {
                for anomaly in &decoded.anomalies {
                    self.odd(packet, anomaly.to_string());
                }
                Some(decoded.value)
            }
            Err(error) => {
                self.odd(packet, error.to_string());
                None
            }
        }
    }

    fn odd(&mut self, packet: &Packet, words: String) {
        self.oddities.push(Oddity {
            at: packet.at,
            source: packet.source,
            origin: packet.characteristic,
            words,
        });
    }

    fn cycling_power(&mut self, record: &CyclingPowerMeasurement, readings: &mut Readings<'_>) {
        readings.add(Quantity::PowerW, f64::from(record.power_w));
        readings.add_some(Quantity::EnergyKj, record.energy_kj.map(f64::from));
        if let Some(balance) = record.balance
            && balance.reference == BalanceReference::Left
            && balance.percent <= 100.0
        {
            readings.add(Quantity::LeftBalancePct, balance.percent);
        }
        if let Some(crank) = record.crank {
            // A torque that is counted at the wheel is not one of crank revolutions.
            let at_crank = record
                .accumulated_torque
                .filter(|torque| torque.source == TorqueSource::Crank)
                .map(|torque| torque.ticks_32);
            self.crank(readings, crank.revolutions, crank.event_time_1024, at_crank);
        }
        if let Some(wheel) = record.wheel {
            let shape = CounterShape::WHEEL_2048;
            self.wheel(readings, shape, wheel.revolutions, wheel.event_time_2048);
        }
    }

    fn speed_cadence(&mut self, record: &SpeedCadenceMeasurement, readings: &mut Readings<'_>) {
        if let Some(crank) = record.crank {
            self.crank(readings, crank.revolutions, crank.event_time_1024, None);
        }
        if let Some(wheel) = record.wheel {
            let shape = CounterShape::WHEEL_1024;
            self.wheel(readings, shape, wheel.revolutions, wheel.event_time_1024);
        }
    }

    fn indoor_bike(&mut self, part: IndoorBikeData, readings: &mut Readings<'_>) {
        if self.bike_epoch.replace(readings.packet.epoch) != Some(readings.packet.epoch) {
            // A record that was not closed before the link went is never closed.
            self.bike = RecordAssembler::default();
        }
        let Some(record) = self.bike.handle(part) else {
            return;
        };
        readings.add_some(Quantity::PowerW, record.power_w.map(f64::from));
        readings.add_some(Quantity::CadenceRpm, record.cadence_rpm);
        readings.add_some(Quantity::SpeedKmh, record.speed_kmh);
        readings.add_some(Quantity::DistanceM, record.distance_m.map(f64::from));
        readings.add_some(
            Quantity::ResistanceLevel,
            record
                .resistance
                .map(|resistance| f64::from(resistance.raw)),
        );
        readings.add_some(Quantity::HeartRateBpm, record.heart_rate_bpm.map(f64::from));
        readings.add_some(Quantity::ElapsedS, record.elapsed_s.map(f64::from));
    }

    fn crank(
        &mut self,
        readings: &mut Readings<'_>,
        revolutions: u16,
        event_time: u16,
        torque_32nds: Option<u16>,
    ) {
        let packet = readings.packet;
        let crank = self
            .cranks
            .entry(packet.characteristic)
            .or_insert_with(|| Crank {
                counter: Counter::new(CounterShape::CRANK),
                torque_32nds: None,
            });
        let step =
            crank
                .counter
                .handle(packet.at, packet.epoch, u32::from(revolutions), event_time);
        let before = std::mem::replace(&mut crank.torque_32nds, torque_32nds);
        if let Step::Turned { revolutions, rpm } = step {
            readings.add(Quantity::CadenceRpm, rpm);
            if let (Some(before), Some(now)) = (before, torque_32nds) {
                readings.add_some(Quantity::TorqueNm, mean_torque_nm(before, now, revolutions));
            }
        }
        self.odd_step(packet, step, "crank");
    }

    fn wheel(
        &mut self,
        readings: &mut Readings<'_>,
        shape: CounterShape,
        revolutions: u32,
        event_time: u16,
    ) {
        let packet = readings.packet;
        let counter = self
            .wheels
            .entry(packet.characteristic)
            .or_insert_with(|| Counter::new(shape));
        let step = counter.handle(packet.at, packet.epoch, revolutions, event_time);
        if let Step::Turned { rpm, .. } = step {
            readings.add(Quantity::WheelRpm, rpm);
        }
        self.odd_step(packet, step, "wheel");
    }

    fn odd_step(&mut self, packet: &Packet, step: Step, which: &str) {
        match step {
            Step::BadRecord => {
                self.odd(
                    packet,
                    format!("{which} revolutions without any time between them"),
                );
            }
            Step::Restarted { rpm } => self.odd(
                packet,
                format!("{which} counters imply {rpm:.0} rpm; they restarted, difference dropped"),
            ),
            Step::Armed | Step::Nothing | Step::Turned { .. } => {}
        }
    }
}

struct Readings<'a> {
    packet: &'a Packet,
    list: Vec<Reading>,
}

impl Readings<'_> {
    fn add(&mut self, quantity: Quantity, value: f64) {
        if value.is_finite() {
            self.list.push(Reading {
                at: self.packet.at,
                source: self.packet.source,
                origin: self.packet.characteristic,
                quantity,
                value,
            });
        }
    }

    fn add_some(&mut self, quantity: Quantity, value: Option<f64>) {
        if let Some(value) = value {
            self.add(quantity, value);
        }
    }
}
