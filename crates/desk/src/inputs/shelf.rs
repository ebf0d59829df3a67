//! What the shelf shows: rows, interrupted sessions, and sessions side by side.

use analysis::outcome::Plot;
use std::sync::Arc;

/// A saved session.
#[derive(Clone, Debug, Default)]
pub struct ShelfRow {
    /// What [`Request::OpenShelved`](crate::Request::OpenShelved) is answered with; a path usually.
    pub key: String,
    /// Title for people.
    pub title: String,
    /// What else tells it from others, in a line: firmware, serial number, references.
    pub details: String,
    /// When it was ridden, in words of the user's convention.
    pub started: String,
    /// The same for sorting, seconds since 1970; 0 where it is not known.
    pub started_s: i64,
    /// How long it is, in words.
    pub length: String,
    /// The same for sorting, seconds.
    pub length_s: f64,
    /// Its verdict in the words of the design, if it was judged.
    pub verdict: Option<String>,
    /// Whether the recording is closed and sealed, in words: "sealed", "not sealed".
    pub state: String,
    /// Words that the user gave it to be found by.
    pub tags: Vec<String>,
    /// What the user noted about it.
    pub note: String,
    /// Power of the reference in equal parts of the session, 0 to 1 of its largest.
    pub thumbnail: Arc<[f32]>,
}

/// A session whose recording was not closed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Interrupted {
    /// Its key, as on the shelf.
    pub key: String,
    /// Its title.
    pub title: String,
}

/// Sessions side by side.
#[derive(Clone, Debug, Default)]
pub struct CompareView {
    /// Changes with every comparison.
    pub id: u64,
    /// What the sessions are to each other, in words.
    pub kind: String,
    /// What somebody can say that they are to each other, in words.
    pub kinds: Vec<String>,
    /// What somebody did say, if they did.
    pub asked: Option<usize>,
    /// The sessions, the one that the others are compared with first.
    pub sessions: Vec<ComparedSession>,
    /// The table of conditions, one row for each session that rode a condition.
    pub rows: Vec<ComparedRow>,
    /// What can be said and what cannot, in sentences.
    pub sentences: Vec<String>,
    /// What the intervals rest on, and what has to be known before trusting them.
    pub basis: Vec<String>,
    /// The conditions as plots.
    pub plots: Vec<Plot>,
    /// The rides over each other, each step's beginnings together.
    pub by_step: Laid,
    /// The rides over each other, the beginnings of the recordings together.
    pub by_clock: Laid,
}

/// One of the sessions side by side.
#[derive(Clone, Debug, Default)]
pub struct ComparedSession {
    /// Its title.
    pub title: String,
    /// Serial number of the device.
    pub serial: String,
    /// Firmware of the device.
    pub firmware: String,
    /// When it was ridden.
    pub started: String,
    /// Its verdict in words.
    pub verdict: String,
}

/// One condition in one session, in words and numbers.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ComparedRow {
    /// The condition; rows of one condition follow each other.
    pub condition: String,
    /// Number of the session.
    pub session: String,
    /// Difference with its expanded uncertainty, %.
    pub error: String,
    /// Verdict.
    pub verdict: String,
    /// Change from the first session, %.
    pub change: String,
    /// Its 95 % interval with nothing taken as common.
    pub independent: String,
    /// Its 95 % interval with common terms cancelled.
    pub cancelled: String,
    /// Whether a change is shown, or why there is none.
    pub shown: String,
}

/// Rides laid over each other.
#[derive(Clone, Debug)]
pub enum Laid {
    /// The plots.
    Over(Vec<Plot>),
    /// Why they cannot be.
    Refused(String),
}

impl Default for Laid {
    fn default() -> Self {
        Self::Over(Vec::new())
    }
}
