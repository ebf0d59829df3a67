//! Evidence packs: one archive with a session and everything that was concluded from it, to be kept,
//! published, or handed to somebody who disagrees.
//!
//! * [`pack`] makes one. The session goes in byte for byte; everything else is made from it, or was
//!   given by a person. Packing the same twice gives the same bytes.
//! * [`check`] looks into one: are the members those that were packed, is the session what was
//!   recorded, and do findings, report and tables follow from it.
//!
//! A pack is a ZIP archive. `manifest.json` in it lists every other member with length and SHA-256,
//! `SHA256SUMS` says the same in the form that `sha256sum -c` reads, and `README.txt` tells a person
//! how to check all of it without this program.

mod check;
mod contents;
mod difference;
mod given;
mod making;
mod manifest;
mod member;
mod zipped;

pub use check::{PackReport, check, is_pack};
pub use given::Given;
pub use making::{Packed, pack};
