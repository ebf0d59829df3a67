//! Notes and tags: what a person adds to a session after the ride.

use crate::amend;
use crate::archive::Archive;
use crate::error::Result;
use crate::row::EventRow;
use chrono::{DateTime, FixedOffset};
use serde::{Deserialize, Serialize};
use serde_json::json;
use std::path::Path;
use units::Timestamp;

/// Kind of the event that holds a note: `{"words", "written"}`.
pub const NOTE: &str = "note";
/// Kind of the event that gives a tag: `{"tag", "written"}`.
pub const TAG: &str = "tag";
/// Kind of the event that takes a tag away: `{"tag", "written"}`.
pub const UNTAG: &str = "untag";

/// Something a person adds to a session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Remark {
    /// A note in words.
    Note(String),
    /// A tag is given.
    Tag(String),
    /// A tag is taken away.
    Untag(String),
}

/// A note and when it was written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Note {
    /// The note.
    pub words: String,
    /// When it was written; `None` if the event does not say.
    pub written: Option<DateTime<FixedOffset>>,
}

impl Remark {
    fn event(&self, at: Timestamp, written: DateTime<FixedOffset>) -> EventRow {
        let (kind, key, words) = match self {
            Self::Note(words) => (NOTE, "words", words),
            Self::Tag(tag) => (TAG, "tag", tag),
            Self::Untag(tag) => (UNTAG, "tag", tag),
        };
        EventRow {
            at,
            kind: kind.to_owned(),
            body: json!({ key: words.trim(), "written": written.to_rfc3339() }),
        }
    }
}

/// Adds a remark to a closed session. Its moment on the session's clock is the end of the
/// recording, so that nothing that is computed from the session changes.
///
/// # Errors
/// As [`crate::annotate`].
pub fn add_remark(path: &Path, remark: &Remark, written: DateTime<FixedOffset>) -> Result<()> {
    let at = Archive::open(path)?
        .time_range()?
        .map_or(Timestamp::ZERO, |(_, to)| to);
    amend::annotate(path, &remark.event(at, written))
}

/// The tags in force and all notes, from the events in recorded order. What does not read is
/// passed over: a remark of a later version is no reason not to show the session.
pub(super) fn in_force(events: &[EventRow]) -> (Vec<String>, Vec<Note>) {
    let (mut tags, mut notes) = (Vec::<String>::new(), Vec::new());
    for event in events {
        let field = |key: &str| event.body.get(key).and_then(|value| value.as_str());
        match event.kind.as_str() {
            NOTE => notes.extend(field("words").map(|words| Note {
                words: words.to_owned(),
                written: field("written").and_then(|text| text.parse().ok()),
            })),
            TAG => {
                if let Some(tag) = field("tag").filter(|tag| tags.iter().all(|had| had != tag)) {
                    tags.push(tag.to_owned());
                }
            }
            UNTAG => tags.retain(|had| Some(had.as_str()) != field("tag")),
            _ => {}
        }
    }
    (tags, notes)
}
