//! The vocabulary every other crate speaks: quantities, time, time series and packets.
//!
//! What is absent, on purpose: clocks, files, threads, and any opinion about cycling. A value of a
//! type in here can be made in a test from literals, and means the same everywhere.

mod packet;
mod quantity;
mod series;
mod time;

pub use packet::{AttError, Characteristic, Packet, SourceId, Write};
pub use quantity::{
    Celsius, Joules, Kilograms, MetresPerSecond, NewtonMetres, Newtons, RadPerSecond, RevPerMin,
    STANDARD_GRAVITY_M_PER_S2, Watts,
};
pub use series::{PushError, Series, WindowMean};
pub use time::{Span, Timestamp};
