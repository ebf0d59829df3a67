//! A recording of an imported session, moved by hand. The move is an event in a block of its own; what
//! was recorded and sealed before stays as it is, and moves add up.

use super::{NUDGED, is_import};
use anyhow::Result;
use serde_json::json;
use session::{Archive, EventRow};
use std::fmt;
use std::path::Path;
use units::Timestamp;

/// Which recording is moved.
#[derive(Clone, Copy, Debug)]
pub enum Moved<'a> {
    /// That of an instrument with this role, in the words of the session file.
    WithRole(&'a str),
    /// That of an instrument with this name.
    Named(&'a str),
}

/// Why there is nothing to move: not what the file holds, but what was asked of it.
#[derive(Debug)]
pub struct NotMovable(String);

impl fmt::Display for NotMovable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for NotMovable {}

/// Moves a recording later by so many seconds; negative for earlier.
///
/// # Errors
/// [`NotMovable`] if the session was not imported, has no such recording, or the number is none;
/// otherwise if the file cannot be read or written.
pub fn nudge(path: &Path, moved: Moved<'_>, later_s: f64) -> Result<()> {
    if !later_s.is_finite() {
        return Err(NotMovable("a recording is moved by a number of seconds".to_owned()).into());
    }
    let archive = Archive::open(path)?;
    if !is_import(&archive)? {
        let words = format!(
            "{} was not imported; only imported recordings are moved by hand",
            path.display()
        );
        return Err(NotMovable(words).into());
    }
    let sources = archive.sources()?;
    let mut fitting = sources.iter().filter(|source| match moved {
        Moved::WithRole(role) => source.role == role,
        Moved::Named(name) => source.name == name,
    });
    let source = match (fitting.next(), fitting.next(), moved) {
        (Some(source), None, _) => source,
        (None, _, Moved::WithRole(role)) => {
            return Err(NotMovable(format!("no recording has the role {role:?}")).into());
        }
        (None, _, Moved::Named(name)) => {
            return Err(NotMovable(format!("no recording has the name {name:?}")).into());
        }
        (Some(_), Some(_), _) => {
            let words = "two recordings go by that; move one by its role with `prony nudge`";
            return Err(NotMovable(words.to_owned()).into());
        }
    };
    let end = archive.time_range()?.map_or(Timestamp::ZERO, |(_, to)| to);
    let event = EventRow {
        at: end,
        kind: NUDGED.to_owned(),
        body: json!({ "source": source.id.0, "later_s": later_s }),
    };
    drop(archive);
    session::annotate(path, &event)?;
    Ok(())
}
