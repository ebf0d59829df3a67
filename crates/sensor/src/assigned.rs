//! Assigned numbers of the services and characteristics the bench speaks, and their names.
//!
//! Source: Bluetooth SIG Assigned Numbers and GATT Specification Supplement. A 16-bit number `xxxx`
//! stands for the UUID `0000xxxx-0000-1000-8000-00805f9b34fb`.

use units::Characteristic;

/// Service number: Device Information.
pub const DEVICE_INFORMATION_SERVICE: u16 = 0x180A;
/// Service number: Heart Rate.
pub const HEART_RATE_SERVICE: u16 = 0x180D;
/// Service number: Battery.
pub const BATTERY_SERVICE: u16 = 0x180F;
/// Service number: Cycling Speed and Cadence.
pub const SPEED_CADENCE_SERVICE: u16 = 0x1816;
/// Service number: Cycling Power.
pub const CYCLING_POWER_SERVICE: u16 = 0x1818;
/// Service number: Fitness Machine.
pub const FITNESS_MACHINE_SERVICE: u16 = 0x1826;

macro_rules! characteristics {
    ($($(#[$doc:meta])* $constant:ident = $number:literal, $name:literal;)*) => {
        $($(#[$doc])* pub const $constant: Characteristic = Characteristic($number);)*

        /// Every characteristic this crate knows, in the order of the list above.
        pub const ALL: &[Characteristic] = &[$($constant),*];

        /// The name of a characteristic in the words of the standard, or "unknown characteristic".
        pub fn name(characteristic: Characteristic) -> &'static str {
            match characteristic.0 {
                $($number => $name,)*
                _ => "unknown characteristic",
            }
        }
    };
}

characteristics! {
    /// Cycling Power Measurement (notify).
    CYCLING_POWER_MEASUREMENT = 0x2A63, "Cycling Power Measurement";
    /// Cycling Power Vector (notify).
    CYCLING_POWER_VECTOR = 0x2A64, "Cycling Power Vector";
    /// Cycling Power Feature (read).
    CYCLING_POWER_FEATURE = 0x2A65, "Cycling Power Feature";
    /// Cycling Power Control Point (write, indicate).
    CYCLING_POWER_CONTROL_POINT = 0x2A66, "Cycling Power Control Point";
    /// Sensor Location (read), of the cycling power and the speed and cadence service.
    SENSOR_LOCATION = 0x2A5D, "Sensor Location";

    /// CSC Measurement (notify): cycling speed and cadence.
    CSC_MEASUREMENT = 0x2A5B, "CSC Measurement";
    /// CSC Feature (read).
    CSC_FEATURE = 0x2A5C, "CSC Feature";
    /// SC Control Point (write, indicate).
    SC_CONTROL_POINT = 0x2A55, "SC Control Point";

    /// Fitness Machine Feature (read).
    FITNESS_MACHINE_FEATURE = 0x2ACC, "Fitness Machine Feature";
    /// Indoor Bike Data (notify).
    INDOOR_BIKE_DATA = 0x2AD2, "Indoor Bike Data";
    /// Training Status (read, notify).
    TRAINING_STATUS = 0x2AD3, "Training Status";
    /// Supported Speed Range (read).
    SUPPORTED_SPEED_RANGE = 0x2AD4, "Supported Speed Range";
    /// Supported Inclination Range (read).
    SUPPORTED_INCLINATION_RANGE = 0x2AD5, "Supported Inclination Range";
    /// Supported Resistance Level Range (read).
    SUPPORTED_RESISTANCE_LEVEL_RANGE = 0x2AD6, "Supported Resistance Level Range";
    /// Supported Heart Rate Range (read).
    SUPPORTED_HEART_RATE_RANGE = 0x2AD7, "Supported Heart Rate Range";
    /// Supported Power Range (read).
    SUPPORTED_POWER_RANGE = 0x2AD8, "Supported Power Range";
    /// Fitness Machine Control Point (write, indicate).
    FITNESS_MACHINE_CONTROL_POINT = 0x2AD9, "Fitness Machine Control Point";
    /// Fitness Machine Status (notify).
    FITNESS_MACHINE_STATUS = 0x2ADA, "Fitness Machine Status";

    /// Heart Rate Measurement (notify).
    HEART_RATE_MEASUREMENT = 0x2A37, "Heart Rate Measurement";
    /// Body Sensor Location (read).
    BODY_SENSOR_LOCATION = 0x2A38, "Body Sensor Location";
    /// Heart Rate Control Point (write).
    HEART_RATE_CONTROL_POINT = 0x2A39, "Heart Rate Control Point";

    /// Battery Level (read, notify).
    BATTERY_LEVEL = 0x2A19, "Battery Level";

    /// System ID (read).
    SYSTEM_ID = 0x2A23, "System ID";
    /// Model Number String (read).
    MODEL_NUMBER = 0x2A24, "Model Number String";
    /// Serial Number String (read).
    SERIAL_NUMBER = 0x2A25, "Serial Number String";
    /// Firmware Revision String (read).
    FIRMWARE_REVISION = 0x2A26, "Firmware Revision String";
    /// Hardware Revision String (read).
    HARDWARE_REVISION = 0x2A27, "Hardware Revision String";
    /// Software Revision String (read).
    SOFTWARE_REVISION = 0x2A28, "Software Revision String";
    /// Manufacturer Name String (read).
    MANUFACTURER_NAME = 0x2A29, "Manufacturer Name String";
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn every_number_is_listed_once_and_has_a_name() {
        let numbers: HashSet<_> = ALL.iter().collect();
        assert_eq!(numbers.len(), ALL.len());
        assert!(ALL.iter().all(|&c| name(c) != "unknown characteristic"));
        assert_eq!(name(Characteristic(0x2A63)), "Cycling Power Measurement");
        assert_eq!(name(Characteristic(0x2A00)), "unknown characteristic");
    }
}
