//! What a device answers when it is read right after the link is made: who it is, what it can do.

use crate::spec::{BrakeSpec, IdentitySpec, InstrumentSpec, KindSpec, MeterFields, PlaceSpec};
use crate::wire::uuid;
use units::Characteristic;

/// The services an instrument offers, assigned numbers.
pub(crate) fn services(spec: &InstrumentSpec) -> Vec<u16> {
    let mut services = vec![uuid::DEVICE_INFORMATION];
    if spec.identity.battery_pct.is_some() {
        services.push(uuid::BATTERY);
    }
    match &spec.kind {
        KindSpec::Trainer(trainer) => {
            services.push(uuid::FITNESS_MACHINE);
            if trainer.power_service_ms.is_some() {
                services.push(uuid::CYCLING_POWER);
            }
        }
        KindSpec::Meter(_) => services.push(uuid::CYCLING_POWER),
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
                uuid::BIKE_DATA,
                uuid::MACHINE_CONTROL_POINT,
                uuid::MACHINE_STATUS,
            ]);
            if trainer.power_service_ms.is_some() {
                all.push(uuid::POWER_MEASUREMENT);
            }
        }
        KindSpec::Meter(_) => all.extend([uuid::POWER_MEASUREMENT, uuid::POWER_CONTROL_POINT]),
    }
    all
}

/// Every value that can be read, in the order of the reads.
pub(crate) fn reads(spec: &InstrumentSpec, brake: &BrakeSpec) -> Vec<(Characteristic, Vec<u8>)> {
    let mut reads = who(&spec.identity);
    match &spec.kind {
        KindSpec::Trainer(trainer) => {
            // Cadence and power are measured; resistance, power and simulation can be set.
            let measures = 1_u32 << 1 | 1 << 14;
            let spin_down = u32::from(trainer.spin_down_kmh.is_some());
            let sets = 1_u32 << 2 | 1 << 3 | 1 << 13 | spin_down << 15;
            let feature = [measures.to_le_bytes(), sets.to_le_bytes()].concat();
            reads.push((uuid::MACHINE_FEATURE, feature));
            reads.push((uuid::SPEED_RANGE, range(0, 8000, 1)));
            let most_tenths = (brake.resistance_most * 10.0).round() as i16;
            reads.push((uuid::RESISTANCE_RANGE, range(0, most_tenths, 1)));
            let (least_w, most_w) = brake.power_range_w;
            reads.push((uuid::POWER_RANGE, range(least_w, most_w, 1)));
            reads.push((
                uuid::TRAINING_STATUS,
                vec![0, crate::control::training::IDLE],
            ));
            if trainer.power_service_ms.is_some() {
                reads.push((uuid::POWER_FEATURE, 0_u32.to_le_bytes().to_vec()));
                reads.push((uuid::SENSOR_LOCATION, vec![13]));
            }
        }
        KindSpec::Meter(meter) => {
            let balance = u32::from(meter.fields == MeterFields::CrankAndBalance);
            let torque = u32::from(meter.fields == MeterFields::CrankAndTorque);
            // Crank revolutions, offset compensation, masking, crank length; context is torque.
            let always = 1_u32 << 3 | 1 << 9 | 1 << 10 | 1 << 12 | 1 << 16;
            let feature = always | balance | torque << 1;
            reads.push((uuid::POWER_FEATURE, feature.to_le_bytes().to_vec()));
            reads.push((uuid::SENSOR_LOCATION, vec![meter.location]));
        }
    }
    reads
}

fn who(identity: &IdentitySpec) -> Vec<(Characteristic, Vec<u8>)> {
    let text = |text: &str| text.as_bytes().to_vec();
    let mut reads = vec![
        (uuid::MAKER, text(&identity.maker)),
        (uuid::MODEL, text(&identity.model)),
        (uuid::SERIAL, text(&identity.serial)),
        (uuid::FIRMWARE, text(&identity.firmware)),
    ];
    if let Some(hardware) = &identity.hardware {
        reads.push((uuid::HARDWARE, text(hardware)));
    }
    if let Some(battery_pct) = identity.battery_pct {
        reads.push((uuid::BATTERY_LEVEL, vec![battery_pct.min(100)]));
    }
    reads
}

/// Lowest, highest and smallest step, as the range characteristics have it.
fn range(least: i16, most: i16, step: u16) -> Vec<u8> {
    [least.to_le_bytes(), most.to_le_bytes(), step.to_le_bytes()].concat()
}

/// The place in the words of the session.
pub(crate) fn place_word(place: PlaceSpec) -> &'static str {
    match place {
        PlaceSpec::Hub => "hub",
        PlaceSpec::Crank => "crank",
        PlaceSpec::Pedals => "pedals",
        PlaceSpec::OneSide => "one-side",
    }
}
