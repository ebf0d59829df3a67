//! Everything that was seen of a device, before anything is judged.

use crate::DecodeError;
use crate::Decoded;
use crate::assigned;
use crate::bits::bit_set;
use crate::cycling_power::feature::CyclingPowerFeature;
use crate::fitness_machine::feature::{FitnessMachineFeature, TargetFeature};
use crate::fitness_machine::ranges::{PowerRange, ResistanceRange};
use crate::peripheral::Capabilities;
use crate::speed_cadence::SpeedCadenceFeatures;
use std::collections::BTreeMap;
use units::{AttError, Characteristic, Packet, SourceId, Timestamp};

bit_set! {
    /// What a characteristic declares that it can do, as the attribute protocol writes it.
    Properties(u8),
    /// One thing a characteristic may declare.
    Property {
        Broadcast = 0, "broadcast";
        Read = 1, "read";
        WriteWithoutResponse = 2, "write without response";
        Write = 3, "write";
        Notify = 4, "notify";
        Indicate = 5, "indicate";
    }
}

/// One line of a device's service table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Offered {
    /// Assigned number of the service.
    pub service: u16,
    /// The characteristic.
    pub characteristic: Characteristic,
    /// What it declares that it can do.
    pub properties: Properties,
}

/// A notification or indication.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Heard {
    pub(super) at: Timestamp,
    pub(super) epoch: u32,
    pub(super) bytes: Vec<u8>,
}

/// More notifications of one characteristic than this are not kept: 100 minutes at 4 Hz.
const MOST_HEARD: usize = 24_000;

/// What was seen.
#[derive(Debug, Default)]
pub(super) struct Evidence {
    pub(super) advertisement: Option<Vec<u8>>,
    pub(super) table: Vec<Offered>,
    pub(super) reads: BTreeMap<Characteristic, Result<Vec<u8>, AttError>>,
    pub(super) heard: BTreeMap<Characteristic, Vec<Heard>>,
    pub(super) capabilities: Capabilities,
}

impl Evidence {
    pub(super) fn hear(&mut self, packet: &Packet) {
        let heard = self.heard.entry(packet.characteristic).or_default();
        if heard.len() < MOST_HEARD {
            heard.push(Heard {
                at: packet.at,
                epoch: packet.epoch,
                bytes: packet.bytes.clone(),
            });
        }
    }

    pub(super) fn read(
        &mut self,
        now: Timestamp,
        characteristic: Characteristic,
        result: Result<Vec<u8>, AttError>,
    ) {
        if let Ok(bytes) = &result {
            self.capabilities.handle(&Packet {
                at: now,
                source: SourceId(0),
                epoch: 0,
                characteristic,
                bytes: bytes.clone(),
            });
        }
        self.reads.insert(characteristic, result);
    }

    pub(super) fn heard(&self, characteristic: Characteristic) -> &[Heard] {
        self.heard.get(&characteristic).map_or(&[], Vec::as_slice)
    }

    pub(super) fn has_service(&self, service: u16) -> bool {
        self.table.iter().any(|offered| offered.service == service)
    }

    pub(super) fn offered(&self, service: u16, characteristic: Characteristic) -> Option<Offered> {
        let is_it = |one: &&Offered| one.service == service && one.characteristic == characteristic;
        self.table.iter().find(is_it).copied()
    }

    /// Whether a control point is there to be written to and to answer.
    pub(super) fn has_control_point(&self, service: u16, characteristic: Characteristic) -> bool {
        self.offered(service, characteristic)
            .is_some_and(|offered| {
                offered.properties.contains(Property::Write)
                    && offered.properties.contains(Property::Indicate)
            })
    }

    /// The value of a characteristic that was read, if it could be read and understood.
    fn value<T>(
        &self,
        characteristic: Characteristic,
        decode: impl Fn(&[u8]) -> Result<Decoded<T>, DecodeError>,
    ) -> Option<T> {
        let bytes = self.reads.get(&characteristic)?.as_ref().ok()?;
        decode(bytes).ok().map(|decoded| decoded.value)
    }

    pub(super) fn machine(&self) -> Option<FitnessMachineFeature> {
        self.value(
            assigned::FITNESS_MACHINE_FEATURE,
            FitnessMachineFeature::decode,
        )
    }

    pub(super) fn meter(&self) -> Option<CyclingPowerFeature> {
        self.value(assigned::CYCLING_POWER_FEATURE, CyclingPowerFeature::decode)
    }

    pub(super) fn speed(&self) -> Option<SpeedCadenceFeatures> {
        self.value(assigned::CSC_FEATURE, SpeedCadenceFeatures::decode)
    }

    pub(super) fn power_range(&self) -> Option<PowerRange> {
        self.value(assigned::SUPPORTED_POWER_RANGE, PowerRange::decode)
            .filter(|range| range.min_w <= range.max_w)
    }

    pub(super) fn resistance_range(&self) -> Option<ResistanceRange> {
        self.value(
            assigned::SUPPORTED_RESISTANCE_LEVEL_RANGE,
            ResistanceRange::decode,
        )
        .filter(|range| range.min <= range.max)
    }

    /// Whether the machine says that this can be set; `None` if it did not say.
    pub(super) fn can_set(&self, target: TargetFeature) -> Option<bool> {
        Some(self.machine()?.settable?.contains(target))
    }
}
