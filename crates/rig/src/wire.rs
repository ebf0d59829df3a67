//! The records the instruments send, as bytes.

use units::Characteristic;

/// Assigned numbers of the characteristics a rig offers.
pub(crate) mod uuid {
    use super::Characteristic;
    pub(crate) const BATTERY_LEVEL: Characteristic = Characteristic(0x2A19);
    pub(crate) const MODEL: Characteristic = Characteristic(0x2A24);
    pub(crate) const SERIAL: Characteristic = Characteristic(0x2A25);
    pub(crate) const FIRMWARE: Characteristic = Characteristic(0x2A26);
    pub(crate) const HARDWARE: Characteristic = Characteristic(0x2A27);
    pub(crate) const MAKER: Characteristic = Characteristic(0x2A29);
    pub(crate) const SENSOR_LOCATION: Characteristic = Characteristic(0x2A5D);
    pub(crate) const POWER_MEASUREMENT: Characteristic = Characteristic(0x2A63);
    pub(crate) const POWER_FEATURE: Characteristic = Characteristic(0x2A65);
    pub(crate) const POWER_CONTROL_POINT: Characteristic = Characteristic(0x2A66);
    pub(crate) const MACHINE_FEATURE: Characteristic = Characteristic(0x2ACC);
    pub(crate) const BIKE_DATA: Characteristic = Characteristic(0x2AD2);
    pub(crate) const TRAINING_STATUS: Characteristic = Characteristic(0x2AD3);
    pub(crate) const SPEED_RANGE: Characteristic = Characteristic(0x2AD4);
    pub(crate) const RESISTANCE_RANGE: Characteristic = Characteristic(0x2AD6);
    pub(crate) const POWER_RANGE: Characteristic = Characteristic(0x2AD8);
    pub(crate) const MACHINE_CONTROL_POINT: Characteristic = Characteristic(0x2AD9);
    pub(crate) const MACHINE_STATUS: Characteristic = Characteristic(0x2ADA);

    /// Assigned numbers of the services.
    pub(crate) const DEVICE_INFORMATION: u16 = 0x180A;
    pub(crate) const BATTERY: u16 = 0x180F;
    pub(crate) const CYCLING_POWER: u16 = 0x1818;
    pub(crate) const FITNESS_MACHINE: u16 = 0x1826;
}

/// Cycling power measurement of a meter.
pub(crate) fn power_measurement(power_w: f64, record: &crate::meter::MeterRecord) -> Vec<u8> {
    let mut flags = 0_u16;
    let mut fields = Vec::new();
    if let Some(left_pct) = record.left_pct {
        flags |= 0b11;
        fields.push((left_pct * 2.0).round() as u8);
    }
    if let Some(steps) = record.torque_steps {
        flags |= 0b1100;
        fields.extend(steps.to_le_bytes());
    }
    if let Some((revolutions, ticks)) = record.crank {
        flags |= 1 << 5;
        fields.extend(revolutions.to_le_bytes());
        fields.extend(ticks.to_le_bytes());
    }
    let power_w = power_w.round() as i16;
    [
        flags.to_le_bytes().to_vec(),
        power_w.to_le_bytes().to_vec(),
        fields,
    ]
    .concat()
}

/// Cycling power measurement of a trainer: power alone.
pub(crate) fn bare_power(power_w: f64) -> Vec<u8> {
    [[0, 0], (power_w.round() as i16).to_le_bytes()].concat()
}

/// Indoor bike data, in one notification or in two.
pub(crate) fn bike_data(
    record: &crate::trainer::TrainerRecord,
    records: crate::spec::Records,
) -> Vec<Vec<u8>> {
    let speed = ((record.speed_kmh * 100.0).round() as u16).to_le_bytes();
    let cadence = ((record.cadence_rpm * 2.0).round() as u16).to_le_bytes();
    let power = (record.power_w.round() as i16).to_le_bytes();
    match records {
        crate::spec::Records::Whole => vec![[[0x44, 0], speed, cadence, power].concat()],
        crate::spec::Records::Split => {
            vec![
                [[0x05, 0], cadence].concat(),
                [[0x40, 0], speed, power].concat(),
            ]
        }
    }
}
