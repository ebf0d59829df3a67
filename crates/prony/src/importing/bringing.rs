//! Recordings made elsewhere become a session: read, told of, placed on one clock, stored whole.

use super::{GivenWord, IMPORTED, Part, join};
use crate::setup;
use analysis::settings::Settings;
use anyhow::{Result, anyhow};
use chrono::{DateTime, FixedOffset};
use serde_json::json;
use session::import::{self, Began, Columns};
use session::{About, Document, EventRow, Recorder, SourceInfo};
use std::path::Path;
use units::{SourceId, Span, Timestamp};

/// One recording to be brought in.
pub struct Original {
    /// Role, in the words of the session file.
    pub role: &'static str,
    /// Name of the file.
    pub file: String,
    /// What is in it.
    pub bytes: Vec<u8>,
    /// Where the instrument measures.
    pub place: String,
    /// Columns of a CSV file, where the guess is wrong.
    pub columns: Option<Columns>,
}

/// What is told while recordings are brought in.
pub enum Told {
    /// What was read or placed.
    Found(String),
    /// What is imperfect about an original.
    Imperfect(String),
}

/// Why nothing was brought in.
pub enum NotBrought {
    /// A recording cannot be used as it was given.
    Unusable(anyhow::Error),
    /// The recordings cannot be placed, or the session cannot be written.
    Refused(anyhow::Error),
}

impl NotBrought {
    fn unusable(error: impl Into<anyhow::Error>) -> Self {
        Self::Unusable(error.into())
    }

    /// What is wrong, in words.
    pub fn error(self) -> anyhow::Error {
        match self {
            Self::Unusable(error) | Self::Refused(error) => error,
        }
    }
}

impl From<anyhow::Error> for NotBrought {
    fn from(error: anyhow::Error) -> Self {
        Self::Refused(error)
    }
}

/// Reads, tells, places and stores; nothing is written unless the recordings are of one ride. The
/// first is the device under test, the second the reference. Beside the file that is written stands
/// what is asked before that: whether somebody still wants it.
///
/// # Errors
/// [`NotBrought`], in words that name the recording and the remedy.
pub fn bring_in(
    originals: Vec<Original>,
    word: GivenWord,
    settings: &Settings,
    (out, go_on): (&Path, &dyn Fn() -> bool),
    told: &mut dyn FnMut(Told),
) -> Result<(), NotBrought> {
    let mut parts = Vec::new();
    let mut files = Vec::new();
    for (index, original) in originals.into_iter().enumerate() {
        let Original {
            role,
            file,
            bytes,
            place,
            columns,
        } = original;
        let recording =
            import::read(&bytes, &file, columns.as_ref()).map_err(NotBrought::unusable)?;
        describe(role, &recording, told);
        parts.push(Part {
            source: SourceInfo {
                id: SourceId(index as u16 + 1),
                name: format!("{role}: {file}"),
                role: role.to_owned(),
                place,
                identity: recording.identity.clone(),
                calibration: serde_json::Value::Null,
                simulated: false,
            },
            recording,
            nudge: Span::ZERO,
            given_word: word,
        });
        files.push((format!("{role}-{}/{file}", index + 1), bytes));
    }
    let [_, reference, ..] = parts.as_slice() else {
        return Err(NotBrought::Unusable(anyhow!(
            "a comparison needs the recording of the device under test and that of a reference"
        )));
    };
    let started: Option<DateTime<FixedOffset>> = match reference.recording.began {
        Began::Utc(moment) => Some(moment.fixed_offset()),
        Began::Local(_) | Began::Unknown => None,
    };
    let (_, imported) = join(&parts, settings)?;
    for line in imported.check() {
        told(Told::Found(format!("placed  {line}")));
    }
    for remark in &imported.remarks {
        told(Told::Imperfect(format!("note: {remark}")));
    }
    if !go_on() {
        return Err(NotBrought::Refused(anyhow!(
            "the import was given up; nothing was stored"
        )));
    }
    let about = About {
        session: setup::new_session_id(),
        program: concat!("prony ", env!("CARGO_PKG_VERSION")).to_owned(),
        started,
        decision_rule: Some(Document::new("settings", settings.to_ron())),
        note: Some("Recordings made elsewhere, each on the clock of its recorder.".to_owned()),
        ..About::default()
    };
    store(out, &about, &parts, files)?;
    Ok(())
}

fn store(
    out: &Path,
    about: &About,
    parts: &[Part],
    originals: Vec<(String, Vec<u8>)>,
) -> Result<()> {
    let sources: Vec<SourceInfo> = parts.iter().map(|part| part.source.clone()).collect();
    let mut recorder = Recorder::create(out, about, &sources)?;
    for (part, (name, bytes)) in parts.iter().zip(originals) {
        recorder.append_event(&EventRow {
            at: Timestamp::ZERO,
            kind: IMPORTED.to_owned(),
            body: json!({
                "source": part.source.id.0,
                "file": name,
                "sha256": session::sha256_of(&bytes),
                "format": part.recording.format.name(),
                "columns": part.recording.columns.as_ref().map(ToString::to_string),
                "given_word": part.given_word.to_json(),
            }),
        })?;
        recorder.append_file(Timestamp::ZERO, &name, bytes)?;
    }
    // The last moment of the session is that of the reference, so that its length is known.
    recorder.append_event(&EventRow {
        at: Timestamp::ZERO + parts[1].recording.length(),
        kind: "import-ended".to_owned(),
        body: serde_json::Value::Null,
    })?;
    recorder.close()?;
    Ok(())
}

fn describe(role: &str, recording: &import::Recording, told: &mut dyn FnMut(Told)) {
    told(Told::Found(format!(
        "read    {role}: {}",
        read_as(recording)
    )));
    if let Some(columns) = &recording.columns {
        told(Told::Found(format!("columns {role}: {columns}")));
    }
    for remark in &recording.remarks {
        told(Told::Imperfect(format!("note: {role}: {remark}")));
    }
}

/// What was read, in one line.
pub fn read_as(recording: &import::Recording) -> String {
    format!(
        "{} {:?}: {} records, {} with power, mean {:.1} W, {} pauses",
        recording.format.name(),
        recording.name,
        recording.records.len(),
        recording.power_w.len(),
        recording.mean_power_w(),
        recording.gaps().len(),
    )
}
