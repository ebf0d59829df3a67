//! The real program against a stand-in Bluetooth service on a private bus. The tests mostly wait, so
//! they are one program that lets them wait side by side; the two that count every value of a long
//! ride at ten times the world's pace (`bluetooth_script`, `bluetooth_soak`) have the machine to
//! themselves.
//!
//! What this cannot show – loss in the air, pairing, other systems – is listed in
//! crates/radio/TROUBLE.md.

mod audit;
mod kinds;
mod safety;
mod session;
