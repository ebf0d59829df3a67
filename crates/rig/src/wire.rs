//! What the instruments say, as records of the standard services.

use crate::meter::MeterRecord;
use crate::spec::Records;
use crate::trainer::TrainerRecord;
use sensor::cycling_power::measurement::{
    AccumulatedTorque, BalanceReference, CrankRevolutions, CyclingPowerMeasurement,
    PedalPowerBalance, TorqueSource,
};
use sensor::fitness_machine::indoor_bike_data::IndoorBikeData;

/// Cycling power measurement of a meter.
pub(crate) fn power_measurement(power_w: f64, record: &MeterRecord) -> Vec<u8> {
    let balance = record.left_pct.map(|percent| PedalPowerBalance {
        percent,
        reference: BalanceReference::Left,
    });
    let accumulated_torque = record.torque_steps.map(|ticks_32| AccumulatedTorque {
        ticks_32,
        source: TorqueSource::Crank,
    });
    let crank = record
        .crank
        .map(|(revolutions, event_time_1024)| CrankRevolutions {
            revolutions,
            event_time_1024,
        });
    CyclingPowerMeasurement {
        power_w: whole_w(power_w),
        balance,
        accumulated_torque,
        crank,
        ..CyclingPowerMeasurement::default()
    }
    .encode()
}

/// Cycling power measurement of a trainer: power alone.
pub(crate) fn bare_power(power_w: f64) -> Vec<u8> {
    let power_w = whole_w(power_w);
    CyclingPowerMeasurement {
        power_w,
        ..CyclingPowerMeasurement::default()
    }
    .encode()
}

/// Indoor bike data, in one notification or in two.
pub(crate) fn bike_data(record: &TrainerRecord, records: Records) -> Vec<Vec<u8>> {
    let cadence = IndoorBikeData {
        cadence_rpm: Some(record.cadence_rpm),
        ..IndoorBikeData::default()
    };
    let rest = IndoorBikeData {
        speed_kmh: Some(record.speed_kmh),
        power_w: Some(whole_w(record.power_w)),
        ..IndoorBikeData::default()
    };
    match records {
        Records::Whole => {
            vec![
                IndoorBikeData {
                    cadence_rpm: cadence.cadence_rpm,
                    ..rest
                }
                .encode(),
            ]
        }
        // The record is open until the part with the speed.
        Records::Split => vec![cadence.encode(), rest.encode()],
    }
}

/// The nearest whole watt that the field can hold.
fn whole_w(power_w: f64) -> i16 {
    power_w.round() as i16
}
