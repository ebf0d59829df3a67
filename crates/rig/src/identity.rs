//! What a device answers when it is read right after the link is made: who it is, what it can do.

use crate::spec::{
    BrakeSpec, IdentitySpec, InstrumentSpec, KindSpec, MeterFields, PlaceSpec, TargetSpec,
};
use sensor::assigned;
use sensor::battery::BatteryLevel;
use sensor::cycling_power::feature::{CyclingPowerFeature, PowerFeature};
use sensor::cycling_power::location::SensorLocation;
use sensor::device_information::encode_text;
use sensor::fitness_machine::ResistanceWidth;
use sensor::fitness_machine::feature::{
    FitnessMachineFeature, MachineFeature, MachineFeatures, TargetFeature, TargetFeatures,
};
use sensor::fitness_machine::ranges::{PowerRange, ResistanceRange, SpeedRange};
use sensor::fitness_machine::training_status::{TrainingState, TrainingStatus};
use sensor::heart_rate::BodySensorLocation;
use sensor::speed_cadence::{SpeedCadenceFeature, SpeedCadenceFeatures};
use units::Characteristic;

/// Fastest flywheel a trainer of the rig speaks of, km/h.
const MOST_KMH: f64 = 80.0;

/// The services an instrument offers, assigned numbers.
pub(crate) fn services(spec: &InstrumentSpec) -> Vec<u16> {
    let mut services = vec![assigned::DEVICE_INFORMATION_SERVICE];
    if spec.identity.battery_pct.is_some() {
        services.push(assigned::BATTERY_SERVICE);
    }
    match &spec.kind {
        KindSpec::Trainer(trainer) => {
            services.push(assigned::FITNESS_MACHINE_SERVICE);
            if trainer.power_service_ms.is_some() {
                services.push(assigned::CYCLING_POWER_SERVICE);
            }
        }
        KindSpec::Meter(_) => services.push(assigned::CYCLING_POWER_SERVICE),
        KindSpec::Cadence(_) => services.push(assigned::SPEED_CADENCE_SERVICE),
        KindSpec::HeartRate(_) => services.push(assigned::HEART_RATE_SERVICE),
    }
    services
}

/// The characteristics an instrument offers.
pub(crate) fn characteristics(spec: &InstrumentSpec, brake: &BrakeSpec) -> Vec<Characteristic> {
    let mut all: Vec<_> = reads(spec, brake)
        .into_iter()
        .map(|(characteristic, _)| characteristic)
        .collect();
    match &spec.kind {
        KindSpec::Trainer(trainer) => {
            all.extend([
                assigned::INDOOR_BIKE_DATA,
                assigned::FITNESS_MACHINE_CONTROL_POINT,
                assigned::FITNESS_MACHINE_STATUS,
            ]);
            if trainer.power_service_ms.is_some() {
                all.push(assigned::CYCLING_POWER_MEASUREMENT);
            }
        }
        KindSpec::Meter(_) => all.extend([
            assigned::CYCLING_POWER_MEASUREMENT,
            assigned::CYCLING_POWER_CONTROL_POINT,
        ]),
        KindSpec::Cadence(_) => all.push(assigned::CSC_MEASUREMENT),
        KindSpec::HeartRate(_) => all.push(assigned::HEART_RATE_MEASUREMENT),
    }
    all
}

/// Every value that can be read, in the order of the reads.
pub(crate) fn reads(spec: &InstrumentSpec, brake: &BrakeSpec) -> Vec<(Characteristic, Vec<u8>)> {
    let mut reads = who(&spec.identity);
    match &spec.kind {
        KindSpec::Trainer(trainer) => {
            let can = |target| !trainer.lacks.contains(&target);
            let mut sets: Vec<TargetFeature> = [
                (TargetSpec::Resistance, TargetFeature::ResistanceLevel),
                (TargetSpec::Power, TargetFeature::Power),
                (TargetSpec::Simulation, TargetFeature::Simulation),
            ]
            .into_iter()
            .filter(|(target, _)| can(*target))
            .map(|(_, feature)| feature)
            .collect();
            if trainer.spin_down_kmh.is_some() {
                sets.push(TargetFeature::SpinDown);
            }
            let feature = FitnessMachineFeature {
                measures: MachineFeatures::of(&[
                    MachineFeature::Cadence,
                    MachineFeature::PowerMeasurement,
                ]),
                settable: Some(TargetFeatures::of(&sets)),
            };
            let speed = SpeedRange {
                min_kmh: 0.0,
                max_kmh: MOST_KMH,
                step_kmh: 0.01,
            };
            let resistance = ResistanceRange {
                min: 0.0,
                max: brake.resistance_most,
                step: 0.1,
                width: ResistanceWidth::TwoOctets,
            };
            let (min_w, max_w) = brake.power_range_w;
            let power = PowerRange {
                min_w,
                max_w,
                step_w: 1,
            };
            let idle = TrainingStatus::new(TrainingState::Idle);
            reads.extend([
                (assigned::FITNESS_MACHINE_FEATURE, feature.encode()),
                (assigned::SUPPORTED_SPEED_RANGE, speed.encode()),
            ]);
            // A range is there exactly where its target can be set.
            if can(TargetSpec::Resistance) {
                let range = assigned::SUPPORTED_RESISTANCE_LEVEL_RANGE;
                reads.push((range, resistance.encode()));
            }
            if can(TargetSpec::Power) {
                reads.push((assigned::SUPPORTED_POWER_RANGE, power.encode()));
            }
            reads.push((assigned::TRAINING_STATUS, idle.encode()));
            if trainer.power_service_ms.is_some() {
                let feature = CyclingPowerFeature::of(&[]);
                reads.push((assigned::CYCLING_POWER_FEATURE, feature.encode()));
                reads.push((assigned::SENSOR_LOCATION, SensorLocation::RearHub.encode()));
            }
        }
        KindSpec::Meter(meter) => {
            let mut can = vec![
                PowerFeature::CrankRevolutions,
                PowerFeature::OffsetCompensation,
                PowerFeature::ContentMasking,
                PowerFeature::CrankLength,
                PowerFeature::TorqueContext,
            ];
            match meter.fields {
                MeterFields::Crank => {}
                MeterFields::CrankAndTorque => can.push(PowerFeature::AccumulatedTorque),
                MeterFields::CrankAndBalance => can.push(PowerFeature::Balance),
            }
            let feature = CyclingPowerFeature::of(&can);
            let location = SensorLocation::from_number(meter.location);
            reads.push((assigned::CYCLING_POWER_FEATURE, feature.encode()));
            reads.push((assigned::SENSOR_LOCATION, location.encode()));
        }
        KindSpec::Cadence(sensor) => {
            let mut can = vec![SpeedCadenceFeature::CrankRevolutions];
            if sensor.wheel_mm.is_some() {
                can.push(SpeedCadenceFeature::WheelRevolutions);
            }
            let feature = SpeedCadenceFeatures::of(&can);
            reads.push((assigned::CSC_FEATURE, feature.encode()));
        }
        KindSpec::HeartRate(_) => {
            let chest = BodySensorLocation::Chest;
            reads.push((assigned::BODY_SENSOR_LOCATION, chest.encode()));
        }
    }
    reads
}

fn who(identity: &IdentitySpec) -> Vec<(Characteristic, Vec<u8>)> {
    let mut reads = vec![
        (assigned::MANUFACTURER_NAME, encode_text(&identity.maker)),
        (assigned::MODEL_NUMBER, encode_text(&identity.model)),
        (assigned::SERIAL_NUMBER, encode_text(&identity.serial)),
        (assigned::FIRMWARE_REVISION, encode_text(&identity.firmware)),
    ];
    if let Some(hardware) = &identity.hardware {
        reads.push((assigned::HARDWARE_REVISION, encode_text(hardware)));
    }
    if let Some(percent) = identity.battery_pct {
        let level = BatteryLevel {
            percent: Some(percent.min(100)),
        };
        reads.push((assigned::BATTERY_LEVEL, level.encode()));
    }
    reads
}

/// The place in the words of the session.
pub(crate) fn place_word(place: PlaceSpec) -> &'static str {
    match place {
        PlaceSpec::Hub => "hub",
        PlaceSpec::Crank => "crank",
        PlaceSpec::Pedals => "pedals",
        PlaceSpec::OneSide => "one-side",
        PlaceSpec::Body => "body",
    }
}
