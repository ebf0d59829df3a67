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
    /// The sessions, the one that the others are compared with first.
    pub sessions: Vec<ComparedSession>,
    /// Heads of the table of conditions: the condition, then one for each session.
    pub heads: Vec<String>,
    /// Rows of the table of conditions; the first cell is the condition in words.
    pub rows: Vec<Vec<String>>,
    /// What can be said and what cannot, in sentences.
    pub sentences: Vec<String>,
    /// Overlay and difference as plots.
    pub plots: Vec<Plot>,
}

/// One of the sessions side by side.
#[derive(Clone, Debug, Default)]
pub struct ComparedSession {
    /// Its title.
    pub title: String,
    /// When it was ridden.
    pub started: String,
    /// Its verdict in words.
    pub verdict: String,
}
