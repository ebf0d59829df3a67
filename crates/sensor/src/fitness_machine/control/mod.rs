//! The Fitness Machine Control Point: requests of the client and the indications that answer.
//!
//! Source: Fitness Machine Service 1.0, section 4.16. A request is written with response; the
//! answer comes later as an indication.

pub mod op_code;
mod request;
mod response;
pub(crate) mod scale;

pub use request::{Request, SpinDownCommand, StopOrPause};
pub use response::{Response, ResultCode, SpinDownSpeeds};
