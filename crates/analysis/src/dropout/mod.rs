//! Drop-outs: what the device did not report, told apart and never averaged in.
//!
//! Kinds: packets that did not come; zero while the reference shows work; one value repeated while
//! the reference moves; a link that was lost and came back; and true coasting, which is listed
//! but is no fault. Repeated values need care, because a smoothed device in whole watts repeats
//! itself honestly: a run counts as frozen only if it is far longer than the device's usual runs
//! while the reference is alive, or if the reference moved by more than a live value could hide.
//! A value that repeats the commanded power is left to the examination of target echo.

mod classified;
mod signs;
mod tracker;

pub use classified::classify;
pub use tracker::{Episode, EpisodeKind, Tracker};
