//! The Cycling Power Control Point (2A66): requests of the client and the indications that answer.
//!
//! Op codes from the GATT Specification Supplement. It leaves the units of chain length and chain
//! weight to the service; two independent implementations use 1 mm and 1 g, which is followed.

mod mask;
pub mod op_code;
mod parameter;
mod request;
mod response;
mod result;
mod scale;

pub use mask::{ContentMask, MaskableContent};
pub use parameter::{
    CalibrationDate, EnhancedFailure, FailureReason, ManufacturerData, Offset, OffsetUnit,
    ResponseParameter,
};
pub use request::Request;
pub use response::Response;
pub use result::ResultCode;
