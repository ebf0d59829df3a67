//! A recorded session that is played again through the bench.

use units::{Span, Timestamp};

/// A replay as the desk shows it. Nothing is connected and nothing is recorded.
#[derive(Clone, Copy, Debug)]
pub struct ReplayView<'a> {
    /// Name of the session for people.
    pub label: &'a str,
    /// The moment that is shown.
    pub at: Timestamp,
    /// Length of the recording.
    pub length: Span,
    /// Seconds of the recording in a second.
    pub pace: u32,
    /// Whether it moves.
    pub motion: Motion,
}

impl ReplayView<'_> {
    /// Paces that can be chosen.
    pub const PACES: [u32; 5] = [1, 2, 5, 20, 60];
}

/// Whether a replay moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Motion {
    /// It does.
    Playing,
    /// It stands still.
    Paused,
}
