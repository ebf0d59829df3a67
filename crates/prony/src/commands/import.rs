//! `prony import`: recordings made elsewhere become a session, `prony nudge`: one is moved by hand.

use super::Failure;
use crate::choice;
use crate::cli::{ImportArguments, NudgeArguments, say, tell};
use crate::importing::{self, GivenWord, IMPORTED, Moved, NotMovable, Part};
use crate::{places, reopening, setup};
use analysis::settings::Settings;
use anyhow::{Context, Result, anyhow};
use chrono::{DateTime, FixedOffset};
use serde_json::json;
use session::import::{self, Began, Columns};
use session::{About, Document, EventRow, Recorder, SourceInfo};
use std::path::{Path, PathBuf};
use units::{SourceId, Span, Timestamp};

/// One recording to be brought in.
pub struct Original {
    /// Role, in the words of the session file.
    pub role: &'static str,
    /// The recording.
    pub path: PathBuf,
    /// Where the instrument measures.
    pub place: String,
    /// Columns of a CSV file, where the guess is wrong.
    pub columns: Option<String>,
}

/// What is told while recordings are brought in.
pub enum Told {
    /// What was read or placed.
    Found(String),
    /// What is imperfect about an original.
    Imperfect(String),
}

/// Roles of recordings in their order: the device under test, then the references.
pub fn role_of(index: usize) -> &'static str {
    match index {
        0 => "under-test",
        1 => "reference",
        _ => "second-reference",
    }
}

/// Brings in what the command line names.
pub fn import(arguments: &ImportArguments) -> Result<(), Failure> {
    let settings = choice::settings(arguments.settings.as_deref()).map_err(Failure::unusable)?;
    let mut originals = vec![Original {
        role: role_of(0),
        path: arguments.under_test.clone(),
        place: arguments.under_test_place.clone(),
        columns: arguments.under_test_columns.clone(),
    }];
    for (index, path) in arguments.reference.iter().enumerate() {
        originals.push(Original {
            role: role_of(index + 1),
            path: path.clone(),
            place: arguments.reference_place.clone(),
            columns: arguments.reference_columns.clone(),
        });
    }
    let word = GivenWord {
        same_ride: arguments.same_ride,
        clocks_may_be_wrong: arguments.clocks_may_be_wrong,
    };
    bring_in(
        &originals,
        word,
        &settings,
        &arguments.out,
        &mut |told| match told {
            Told::Found(words) => say(format_args!("{words}")),
            Told::Imperfect(words) => tell(format_args!("{words}")),
        },
    )?;
    say(format_args!("{}: imported", arguments.out.display()));
    Ok(())
}

/// Reads, tells, places and stores; nothing is written unless the recordings are of one ride. The
/// first is the device under test, the second the reference.
pub fn bring_in(
    wanted: &[Original],
    word: GivenWord,
    settings: &Settings,
    out: &Path,
    told: &mut dyn FnMut(Told),
) -> Result<(), Failure> {
    let mut parts = Vec::new();
    let mut originals = Vec::new();
    for (index, original) in wanted.iter().enumerate() {
        let (role, path) = (original.role, &original.path);
        let bytes = std::fs::read(path)
            .with_context(|| format!("cannot read {}; is it there?", path.display()))
            .map_err(Failure::unusable)?;
        let file = places::file_name(path);
        let columns = original.columns.as_deref().map(Columns::parse).transpose();
        let columns = columns.map_err(Failure::unusable)?;
        let recording = import::read(&bytes, &file, columns.as_ref()).map_err(Failure::unusable)?;
        describe(role, &recording, told);
        parts.push(Part {
            source: SourceInfo {
                id: SourceId(index as u16 + 1),
                name: format!("{role}: {file}"),
                role: role.to_owned(),
                place: original.place.clone(),
                identity: recording.identity.clone(),
                calibration: serde_json::Value::Null,
                simulated: false,
            },
            recording,
            nudge: Span::ZERO,
            given_word: word,
        });
        originals.push((format!("{role}-{}/{file}", index + 1), bytes));
    }
    let [_, reference, ..] = parts.as_slice() else {
        return Err(Failure::unusable(anyhow!(
            "a comparison needs the recording of the device under test and that of a reference"
        )));
    };
    let started: Option<DateTime<FixedOffset>> = match reference.recording.began {
        Began::Utc(moment) => Some(moment.fixed_offset()),
        Began::Local(_) | Began::Unknown => None,
    };
    let (_, imported) = importing::join(&parts, settings)?;
    for line in imported.check() {
        told(Told::Found(format!("placed  {line}")));
    }
    for remark in &imported.remarks {
        told(Told::Imperfect(format!("note: {remark}")));
    }
    let about = About {
        session: setup::new_session_id(),
        program: concat!("prony ", env!("CARGO_PKG_VERSION")).to_owned(),
        started,
        decision_rule: Some(Document::new("settings", settings.to_ron())),
        note: Some("Recordings made elsewhere, each on the clock of its recorder.".to_owned()),
        ..About::default()
    };
    store(out, &about, &parts, originals)?;
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

/// Moves one recording of an imported session by hand; the shift is an event of its own.
pub fn nudge(arguments: &NudgeArguments) -> Result<(), Failure> {
    let path = &arguments.session;
    importing::nudge(path, Moved::WithRole(&arguments.role), arguments.later).map_err(|error| {
        match error.is::<NotMovable>() {
            true => Failure::unusable(error),
            false => Failure::from(error),
        }
    })?;
    if let Some(imported) = reopening::reopen(path)?.imported {
        for line in imported.check() {
            say(format_args!("placed  {line}"));
        }
    }
    Ok(())
}

fn describe(role: &str, recording: &import::Recording, told: &mut dyn FnMut(Told)) {
    told(Told::Found(format!(
        "read    {role}: {} {:?}: {} records, {} with power, mean {:.1} W, {} pauses",
        recording.format.name(),
        recording.name,
        recording.records.len(),
        recording.power_w.len(),
        recording.mean_power_w(),
        recording.gaps().len(),
    )));
    if let Some(columns) = &recording.columns {
        told(Told::Found(format!("columns {role}: {columns}")));
    }
    for remark in &recording.remarks {
        told(Told::Imperfect(format!("note: {role}: {remark}")));
    }
}
