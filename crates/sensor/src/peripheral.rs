//! What an instrument says about itself: identity, features, ranges.
//!
//! These values are read once per link and arrive as packets like everything else, so a replay
//! knows them too. Nothing in here is believed further than it was said: what was not read is
//! `None`, and a question about it is answered with the cautious side.

use crate::assigned;
use crate::cycling_power::feature::CyclingPowerFeature;
use crate::cycling_power::location::SensorLocation;
use crate::device_information::decode_text;
use crate::fitness_machine::feature::{FitnessMachineFeature, MachineFeature, TargetFeature};
use crate::fitness_machine::ranges::{InclinationRange, PowerRange, ResistanceRange};
use std::fmt;
use units::Packet;

/// Who an instrument says it is (device information service).
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Identity {
    /// Manufacturer name.
    pub maker: Option<String>,
    /// Model number.
    pub model: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// Firmware revision.
    pub firmware: Option<String>,
    /// Hardware revision.
    pub hardware: Option<String>,
    /// Software revision.
    pub software: Option<String>,
}

/// Maker, model and firmware in one line, as far as they are known.
impl fmt::Display for Identity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut words: Vec<String> = [&self.maker, &self.model]
            .into_iter()
            .flatten()
            .cloned()
            .collect();
        if let Some(firmware) = &self.firmware {
            words.push(format!("firmware {firmware}"));
        }
        f.write_str(&words.join(" "))
    }
}

/// Everything an instrument said about itself.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Capabilities {
    identity: Identity,
    fitness_machine: Option<FitnessMachineFeature>,
    cycling_power: Option<CyclingPowerFeature>,
    location: Option<SensorLocation>,
    power_range: Option<PowerRange>,
    resistance_range: Option<ResistanceRange>,
    inclination_range: Option<InclinationRange>,
    sends_bike_data: bool,
}

impl Capabilities {
    /// Takes a packet; only values about the instrument itself matter.
    pub fn handle(&mut self, packet: &Packet) {
        let bytes = &packet.bytes;
        let text = || Some(decode_text(bytes).value).filter(|text| !text.is_empty());
        match packet.characteristic {
            assigned::MANUFACTURER_NAME => self.identity.maker = text(),
            assigned::MODEL_NUMBER => self.identity.model = text(),
            assigned::SERIAL_NUMBER => self.identity.serial = text(),
            assigned::FIRMWARE_REVISION => self.identity.firmware = text(),
            assigned::HARDWARE_REVISION => self.identity.hardware = text(),
            assigned::SOFTWARE_REVISION => self.identity.software = text(),
            assigned::FITNESS_MACHINE_FEATURE => {
                self.fitness_machine = FitnessMachineFeature::decode(bytes).ok().map(|d| d.value);
            }
            assigned::CYCLING_POWER_FEATURE => {
                self.cycling_power = CyclingPowerFeature::decode(bytes).ok().map(|d| d.value);
            }
            assigned::SENSOR_LOCATION => {
                self.location = SensorLocation::decode(bytes).ok().map(|d| d.value);
            }
            assigned::SUPPORTED_POWER_RANGE => {
                self.power_range = PowerRange::decode(bytes).ok().map(|d| d.value);
            }
            assigned::SUPPORTED_RESISTANCE_LEVEL_RANGE => {
                self.resistance_range = ResistanceRange::decode(bytes).ok().map(|d| d.value);
            }
            assigned::SUPPORTED_INCLINATION_RANGE => {
                self.inclination_range = InclinationRange::decode(bytes).ok().map(|d| d.value);
            }
            assigned::INDOOR_BIKE_DATA => self.sends_bike_data = true,
            _ => {}
        }
    }

    /// Who it says it is.
    pub fn identity(&self) -> &Identity {
        &self.identity
    }

    /// Features of the fitness machine service, if it has one and they were read.
    pub fn fitness_machine(&self) -> Option<&FitnessMachineFeature> {
        self.fitness_machine.as_ref()
    }

    /// Features of the cycling power service, if it has one and they were read.
    pub fn cycling_power(&self) -> Option<&CyclingPowerFeature> {
        self.cycling_power.as_ref()
    }

    /// Where it sits on the bicycle, by its own word.
    pub fn location(&self) -> Option<SensorLocation> {
        self.location
    }

    /// Lowest and highest target power, W. A range that contradicts itself is none: its lowest
    /// would not be the lowest, and it is what a brake is released to.
    pub fn power_range_w(&self) -> Option<[f64; 2]> {
        let range = self.power_range.as_ref()?;
        in_order([f64::from(range.min_w), f64::from(range.max_w)])
    }

    /// Lowest and highest resistance level, in the control point's unit.
    pub fn resistance_range(&self) -> Option<[f64; 2]> {
        let range = self.resistance_range.as_ref()?;
        in_order([range.min, range.max])
    }

    /// Lowest and highest inclination, %.
    pub fn inclination_range_pct(&self) -> Option<[f64; 2]> {
        let range = self.inclination_range.as_ref()?;
        in_order([range.min_pct, range.max_pct])
    }

    /// Whether it can hold a target power, by its own word.
    pub fn can_set_power(&self) -> bool {
        self.fitness_machine
            .as_ref()
            .is_some_and(|feature| settable(feature, TargetFeature::Power))
    }

    /// Whether it can be given a resistance level, by its own word.
    pub fn can_set_resistance(&self) -> bool {
        self.fitness_machine
            .as_ref()
            .is_some_and(|feature| settable(feature, TargetFeature::ResistanceLevel))
    }

    /// Whether it offers a spin-down, by its own word.
    pub fn can_spin_down(&self) -> bool {
        self.fitness_machine
            .as_ref()
            .is_some_and(|feature| settable(feature, TargetFeature::SpinDown))
    }

    /// Whether it can simulate a slope, by its own word.
    pub fn can_simulate_slope(&self) -> bool {
        self.fitness_machine
            .as_ref()
            .is_some_and(|feature| settable(feature, TargetFeature::Simulation))
    }

    /// Whether its bike data hold power: by its features where they were read, otherwise by the
    /// fact that it sends bike data at all.
    pub fn measures_power_in_bike_data(&self) -> bool {
        match &self.fitness_machine {
            Some(feature) => feature.measures.contains(MachineFeature::PowerMeasurement),
            None => self.sends_bike_data,
        }
    }
}

fn in_order(range: [f64; 2]) -> Option<[f64; 2]> {
    Some(range).filter(|[lowest, highest]| lowest <= highest)
}

/// A machine that sent only the first half of its features is believed capable until it refuses.
fn settable(feature: &FitnessMachineFeature, target: TargetFeature) -> bool {
    feature
        .settable
        .is_none_or(|settable| settable.contains(target))
}

#[cfg(test)]
mod tests {
    use super::*;
    use units::{Characteristic, SourceId, Timestamp};

    fn told(values: &[(Characteristic, &[u8])]) -> Capabilities {
        let mut capabilities = Capabilities::default();
        for (characteristic, bytes) in values {
            capabilities.handle(&Packet {
                at: Timestamp::ZERO,
                source: SourceId(1),
                epoch: 1,
                characteristic: *characteristic,
                bytes: bytes.to_vec(),
            });
        }
        capabilities
    }

    /// Bytes A1 and G1 of the shared vectors (Fitness Machine Service 1.0.1, table 4.3).
    #[test]
    fn abilities_follow_the_feature_bits() {
        let trainer = told(&[
            (
                assigned::FITNESS_MACHINE_FEATURE,
                &[0x82, 0x40, 0, 0, 0x0C, 0xE0, 0, 0],
            ),
            (assigned::SUPPORTED_POWER_RANGE, &[1, 0, 0xE8, 3, 5, 0]),
            (assigned::MANUFACTURER_NAME, b"Maker\0"),
            (assigned::FIRMWARE_REVISION, b"1.2"),
        ]);
        assert!(trainer.can_set_power() && trainer.can_set_resistance());
        assert!(trainer.can_simulate_slope() && trainer.measures_power_in_bike_data());
        assert_eq!(trainer.power_range_w(), Some([1.0, 1000.0]));
        assert_eq!(trainer.identity().to_string(), "Maker firmware 1.2");
    }

    #[test]
    fn what_was_not_told_is_not_assumed() {
        let nothing = told(&[]);
        assert!(!nothing.can_set_power() && !nothing.measures_power_in_bike_data());
        assert_eq!(nothing.power_range_w(), None);
        assert_eq!(nothing.identity(), &Identity::default());
        let half = told(&[(assigned::FITNESS_MACHINE_FEATURE, &[0x82, 0x40, 0, 0])]);
        assert!(half.can_set_power(), "believed capable until it refuses");
    }

    #[test]
    fn a_range_that_contradicts_itself_is_none() {
        let swapped = told(&[
            (assigned::SUPPORTED_POWER_RANGE, &[0xE8, 3, 0, 0, 1, 0]),
            (
                assigned::SUPPORTED_RESISTANCE_LEVEL_RANGE,
                &[0xE8, 3, 0, 0, 1, 0],
            ),
            (assigned::SUPPORTED_INCLINATION_RANGE, &[0xE8, 3]),
        ]);
        assert_eq!(swapped.power_range_w(), None);
        assert_eq!(swapped.resistance_range(), None);
        assert_eq!(swapped.inclination_range_pct(), None);
    }
}
