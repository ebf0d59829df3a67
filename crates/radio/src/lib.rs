//! Bluetooth links to real instruments, for a program that is not asynchronous.
//!
//! [`Radio::start`] owns its own named threads. [`Order`]s go in, [`News`] comes out, both over
//! bounded channels. Bytes are stamped at receipt and handed on; nothing in here knows what they
//! mean. Each attached device has a link machine ([`link`](self), without clock or I/O), a drain
//! that only stamps and forwards, a data-age watchdog and a place for one pending write per
//! characteristic, where the newest write wins.
//!
//! What is absent, on purpose: decoding, control procedures, recording, and any write that nobody
//! ordered. A link that comes back is subscribed again and then waits; what to write to it is for
//! the control actor to decide, who sees the new link epoch.
//!
//! `TROUBLE.md` beside this crate lists what bites long recordings and where each is met.

mod air;
mod awake;
mod btle;
mod btle_words;
mod device;
mod drain;
#[cfg(test)]
mod fake;
mod fault;
pub mod host;
mod hub;
mod link;
mod news;
mod order;
mod outlet;
mod patience;
mod radio;
mod shared;
mod stamp;
mod told;
mod watch;
mod writes;

pub use awake::{Awake, AwakeError};
pub use fault::HostFault;
pub use news::{AdapterState, Advertisement, Entry, Flags, LinkState, News, Trouble, TroubleKind};
pub use order::{DeviceId, Order, Rhythm, Scan, Token, Wanted};
pub use outlet::Backlog;
pub use patience::Patience;
pub use radio::{Radio, RadioConfig, RadioError};
pub use stamp::Anchor;
