//! The op codes of the control point.

/// Request Control.
pub const REQUEST_CONTROL: u8 = 0x00;
/// Reset.
pub const RESET: u8 = 0x01;
/// Set Target Speed.
pub const SET_TARGET_SPEED: u8 = 0x02;
/// Set Target Inclination.
pub const SET_TARGET_INCLINATION: u8 = 0x03;
/// Set Target Resistance Level.
pub const SET_TARGET_RESISTANCE: u8 = 0x04;
/// Set Target Power.
pub const SET_TARGET_POWER: u8 = 0x05;
/// Set Target Heart Rate.
pub const SET_TARGET_HEART_RATE: u8 = 0x06;
/// Start or Resume.
pub const START_OR_RESUME: u8 = 0x07;
/// Stop or Pause.
pub const STOP_OR_PAUSE: u8 = 0x08;
/// Set Targeted Expended Energy.
pub const SET_TARGETED_ENERGY: u8 = 0x09;
/// Set Targeted Number of Steps.
pub const SET_TARGETED_STEPS: u8 = 0x0A;
/// Set Targeted Number of Strides.
pub const SET_TARGETED_STRIDES: u8 = 0x0B;
/// Set Targeted Distance.
pub const SET_TARGETED_DISTANCE: u8 = 0x0C;
/// Set Targeted Training Time.
pub const SET_TARGETED_TIME: u8 = 0x0D;
/// Set Targeted Time in Two Heart Rate Zones.
pub const SET_TIME_IN_TWO_ZONES: u8 = 0x0E;
/// Set Targeted Time in Three Heart Rate Zones.
pub const SET_TIME_IN_THREE_ZONES: u8 = 0x0F;
/// Set Targeted Time in Five Heart Rate Zones.
pub const SET_TIME_IN_FIVE_ZONES: u8 = 0x10;
/// Set Indoor Bike Simulation Parameters.
pub const SET_SIMULATION: u8 = 0x11;
/// Set Wheel Circumference.
pub const SET_WHEEL_CIRCUMFERENCE: u8 = 0x12;
/// Spin Down Control.
pub const SPIN_DOWN: u8 = 0x13;
/// Set Targeted Cadence.
pub const SET_TARGETED_CADENCE: u8 = 0x14;
/// Response Code.
pub const RESPONSE: u8 = 0x80;

/// The procedure in words, or `None` for a number that is not listed.
pub fn name(op_code: u8) -> Option<&'static str> {
    Some(match op_code {
        REQUEST_CONTROL => "request control",
        RESET => "reset",
        SET_TARGET_SPEED => "set target speed",
        SET_TARGET_INCLINATION => "set target inclination",
        SET_TARGET_RESISTANCE => "set target resistance level",
        SET_TARGET_POWER => "set target power",
        SET_TARGET_HEART_RATE => "set target heart rate",
        START_OR_RESUME => "start or resume",
        STOP_OR_PAUSE => "stop or pause",
        SET_TARGETED_ENERGY => "set targeted expended energy",
        SET_TARGETED_STEPS => "set targeted number of steps",
        SET_TARGETED_STRIDES => "set targeted number of strides",
        SET_TARGETED_DISTANCE => "set targeted distance",
        SET_TARGETED_TIME => "set targeted training time",
        SET_TIME_IN_TWO_ZONES => "set targeted time in two heart rate zones",
        SET_TIME_IN_THREE_ZONES => "set targeted time in three heart rate zones",
        SET_TIME_IN_FIVE_ZONES => "set targeted time in five heart rate zones",
        SET_SIMULATION => "set indoor bike simulation parameters",
        SET_WHEEL_CIRCUMFERENCE => "set wheel circumference",
        SPIN_DOWN => "spin down control",
        SET_TARGETED_CADENCE => "set targeted cadence",
        RESPONSE => "response code",
        _ => return None,
    })
}
