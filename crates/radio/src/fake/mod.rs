//! A host without any Bluetooth, for the ways in which Windows and macOS differ and which no
//! stand-in for the Linux service can show: a queue of sixteen values that loses the seventeenth,
//! objects that are "no longer available" after a loss, and calls that never answer.

mod bench;
mod host;
mod tests;
