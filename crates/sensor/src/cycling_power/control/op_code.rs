//! The op codes of the control point.

/// Set Cumulative Value.
pub const SET_CUMULATIVE_VALUE: u8 = 0x01;
/// Update Sensor Location.
pub const UPDATE_LOCATION: u8 = 0x02;
/// Request Supported Sensor Locations.
pub const REQUEST_LOCATIONS: u8 = 0x03;
/// Set Crank Length.
pub const SET_CRANK_LENGTH: u8 = 0x04;
/// Request Crank Length.
pub const REQUEST_CRANK_LENGTH: u8 = 0x05;
/// Set Chain Length.
pub const SET_CHAIN_LENGTH: u8 = 0x06;
/// Request Chain Length.
pub const REQUEST_CHAIN_LENGTH: u8 = 0x07;
/// Set Chain Weight.
pub const SET_CHAIN_WEIGHT: u8 = 0x08;
/// Request Chain Weight.
pub const REQUEST_CHAIN_WEIGHT: u8 = 0x09;
/// Set Span Length.
pub const SET_SPAN_LENGTH: u8 = 0x0A;
/// Request Span Length.
pub const REQUEST_SPAN_LENGTH: u8 = 0x0B;
/// Start Offset Compensation.
pub const START_OFFSET_COMPENSATION: u8 = 0x0C;
/// Mask Cycling Power Measurement Content.
pub const MASK_CONTENT: u8 = 0x0D;
/// Request Sampling Rate.
pub const REQUEST_SAMPLING_RATE: u8 = 0x0E;
/// Request Factory Calibration Date.
pub const REQUEST_CALIBRATION_DATE: u8 = 0x0F;
/// Start Enhanced Offset Compensation.
pub const START_ENHANCED_OFFSET: u8 = 0x10;
/// Response Code.
pub const RESPONSE: u8 = 0x20;

/// The procedure in words, or `None` for a number that is not listed.
pub fn name(op_code: u8) -> Option<&'static str> {
    Some(match op_code {
        SET_CUMULATIVE_VALUE => "set cumulative value",
        UPDATE_LOCATION => "update sensor location",
        REQUEST_LOCATIONS => "request supported sensor locations",
        SET_CRANK_LENGTH => "set crank length",
        REQUEST_CRANK_LENGTH => "request crank length",
        SET_CHAIN_LENGTH => "set chain length",
        REQUEST_CHAIN_LENGTH => "request chain length",
        SET_CHAIN_WEIGHT => "set chain weight",
        REQUEST_CHAIN_WEIGHT => "request chain weight",
        SET_SPAN_LENGTH => "set span length",
        REQUEST_SPAN_LENGTH => "request span length",
        START_OFFSET_COMPENSATION => "start offset compensation",
        MASK_CONTENT => "mask measurement content",
        REQUEST_SAMPLING_RATE => "request sampling rate",
        REQUEST_CALIBRATION_DATE => "request factory calibration date",
        START_ENHANCED_OFFSET => "start enhanced offset compensation",
        RESPONSE => "response code",
        _ => return None,
    })
}
