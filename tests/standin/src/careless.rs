//! A trainer that breaks rules of its standards, each on purpose and by name: what its rig would
//! say well is changed on the way out.

use crate::model::{Model, ModelEvent, Profile};
use crate::rigged::RigModel;
use sensor::assigned as a;
use sensor::fitness_machine::indoor_bike_data::IndoorBikeData;
use std::collections::VecDeque;
use units::{Characteristic, Span, Timestamp};

/// One rule broken. Beside each the rule of the audit that must find it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Habit {
    /// The maker's name ends in a zero octet.
    ZeroInText,
    /// The features have a reserved bit.
    ReservedFeatureBit,
    /// No cadence is sent, though the features claim one.
    NoCadenceSent,
    /// A heart rate is sent that the features do not claim.
    UnclaimedHeartRate,
    /// The bike data have a reserved flag.
    ReservedDataFlag,
    /// The bike data are one octet too long.
    SurplusOctet,
    /// Everything may be set without control.
    NeedsNoControl,
    /// An op code without meaning is answered with "operation failed".
    UnknownOpFails,
    /// A power out of range is taken.
    TakesAnyPower,
    /// A missing parameter is taken.
    TakesNoParameter,
    /// A second write is taken while the first is pending.
    TakesTwoAtOnce,
    /// The status reports another power than was set.
    WrongStatus,
    /// Start while started succeeds.
    StartsTwice,
}

impl Habit {
    /// Every habit with the rule of the audit that it breaks.
    pub const ALL: [(Self, &'static str); 13] = [
        (Self::ZeroInText, "information.maker.value"),
        (Self::ReservedFeatureBit, "ftms.feature.reserved"),
        (Self::NoCadenceSent, "ftms.claim.cadence"),
        (Self::UnclaimedHeartRate, "ftms.claim.heart-rate"),
        (Self::ReservedDataFlag, "ftms.bike-data.reserved"),
        (Self::SurplusOctet, "ftms.bike-data.length"),
        (Self::NeedsNoControl, "ftms.control.needed"),
        (Self::UnknownOpFails, "ftms.op.unknown"),
        (Self::TakesAnyPower, "ftms.parameter.range"),
        (Self::TakesNoParameter, "ftms.parameter.length"),
        (Self::TakesTwoAtOnce, "ftms.busy"),
        (Self::WrongStatus, "ftms.set-power.status"),
        (Self::StartsTwice, "ftms.start.again"),
    ];
}

/// The highest op code that has a meaning (Fitness Machine Service, control point procedures).
const LAST_OP: u8 = 0x14;

/// A rig whose first instrument, a trainer, has habits.
#[derive(Clone, Debug)]
pub struct Careless {
    rig: RigModel,
    habits: Vec<Habit>,
    /// The op code of a second write that was taken and is to be answered after the first.
    owed: Option<u8>,
    out: VecDeque<ModelEvent>,
}

impl Careless {
    /// A rig whose trainer, the first instrument, has these habits.
    pub fn new(rig: RigModel, habits: &[Habit]) -> Self {
        Self {
            rig,
            habits: habits.to_vec(),
            owed: None,
            out: VecDeque::new(),
        }
    }

    fn has(&self, habit: Habit) -> bool {
        self.habits.contains(&habit)
    }

    fn said(&self, characteristic: Characteristic, bytes: Vec<u8>) -> Vec<u8> {
        match characteristic {
            a::INDOOR_BIKE_DATA => self.bike_data(bytes),
            a::FITNESS_MACHINE_CONTROL_POINT => self.answer(bytes),
            a::FITNESS_MACHINE_STATUS => match bytes.as_slice() {
                [0x08, low, high] if self.has(Habit::WrongStatus) => {
                    let power_w = i16::from_le_bytes([*low, *high]) + 10;
                    let [low, high] = power_w.to_le_bytes();
                    vec![0x08, low, high]
                }
                _ => bytes,
            },
            _ => bytes,
        }
    }

    fn bike_data(&self, bytes: Vec<u8>) -> Vec<u8> {
        let Ok(mut record) = IndoorBikeData::decode(&bytes) else {
            return bytes;
        };
        if self.has(Habit::NoCadenceSent) {
            record.value.cadence_rpm = None;
        }
        if self.has(Habit::UnclaimedHeartRate) {
            record.value.heart_rate_bpm = Some(120);
        }
        let mut bytes = record.value.encode();
        if self.has(Habit::ReservedDataFlag) {
            // Bit 13 of the flags, the first that is reserved.
            bytes[1] |= 0x20;
        }
        if self.has(Habit::SurplusOctet) {
            bytes.push(0);
        }
        bytes
    }

    fn answer(&self, bytes: Vec<u8>) -> Vec<u8> {
        let result = match bytes.as_slice() {
            [0x80, _, 0x05] if self.has(Habit::NeedsNoControl) => 0x01,
            [0x80, op, 0x02] if *op > LAST_OP && self.has(Habit::UnknownOpFails) => 0x04,
            [0x80, 0x05, 0x03] if self.has(Habit::TakesAnyPower) => 0x01,
            [0x80, 0x08, 0x03] if self.has(Habit::TakesNoParameter) => 0x01,
            [0x80, 0x07, 0x04] if self.has(Habit::StartsTwice) => 0x01,
            _ => return bytes,
        };
        vec![0x80, bytes[1], result]
    }
}

impl Model for Careless {
    fn profiles(&self) -> Vec<Profile> {
        self.rig.profiles()
    }

    fn advance(&mut self, to: Timestamp) {
        self.rig.advance(to);
        while let Some(event) = self.rig.poll() {
            let event = match event {
                ModelEvent::Value {
                    device: 0,
                    characteristic,
                    bytes,
                } => ModelEvent::Value {
                    device: 0,
                    characteristic,
                    bytes: self.said(characteristic, bytes),
                },
                other => other,
            };
            let answers = matches!(
                event,
                ModelEvent::Value {
                    device: 0,
                    characteristic: a::FITNESS_MACHINE_CONTROL_POINT,
                    ..
                }
            );
            self.out.push_back(event);
            if let Some(op) = self.owed.take_if(|_| answers) {
                self.out.push_back(ModelEvent::Value {
                    device: 0,
                    characteristic: a::FITNESS_MACHINE_CONTROL_POINT,
                    bytes: vec![0x80, op, 0x01],
                });
            }
        }
    }

    fn poll(&mut self) -> Option<ModelEvent> {
        self.out.pop_front()
    }

    fn next_due(&self) -> Timestamp {
        if self.out.is_empty() {
            self.rig.next_due()
        } else {
            Timestamp::ZERO
        }
    }

    fn linked(&mut self, at: Timestamp, device: usize) {
        self.rig.linked(at, device);
    }

    fn dropped(&mut self, at: Timestamp, device: usize) {
        self.rig.dropped(at, device);
    }

    fn subscribed(&mut self, at: Timestamp, device: usize, characteristic: Characteristic) {
        self.rig.subscribed(at, device, characteristic);
    }

    fn unsubscribed(&mut self, at: Timestamp, device: usize, characteristic: Characteristic) {
        self.rig.unsubscribed(at, device, characteristic);
    }

    fn taken_over(&mut self, at: Timestamp, device: usize) {
        self.rig.taken_over(at, device);
    }

    fn restarted(&mut self, at: Timestamp, device: usize, lasting: Span) {
        self.rig.restarted(at, device, lasting);
    }

    fn read(
        &mut self,
        at: Timestamp,
        device: usize,
        characteristic: Characteristic,
    ) -> Result<Vec<u8>, u8> {
        let mut bytes = self.rig.read(at, device, characteristic)?;
        if device == 0 && characteristic == a::MANUFACTURER_NAME && self.has(Habit::ZeroInText) {
            bytes.push(0);
        }
        if device == 0
            && characteristic == a::FITNESS_MACHINE_FEATURE
            && self.has(Habit::ReservedFeatureBit)
        {
            // Bit 20 of the first word; the last with a meaning is 16.
            bytes[2] |= 0x10;
        }
        Ok(bytes)
    }

    fn write(
        &mut self,
        at: Timestamp,
        device: usize,
        characteristic: Characteristic,
        bytes: &[u8],
    ) -> Result<(), u8> {
        let outcome = self.rig.write(at, device, characteristic, bytes);
        let control = device == 0 && characteristic == a::FITNESS_MACHINE_CONTROL_POINT;
        if control && outcome == Err(0xFE) && self.has(Habit::TakesTwoAtOnce) {
            self.owed = bytes.first().copied();
            return Ok(());
        }
        outcome
    }
}
