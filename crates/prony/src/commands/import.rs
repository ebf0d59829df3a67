//! `prony import`: recordings made elsewhere become a session, `prony nudge`: one is moved by hand.

use super::Failure;
use crate::choice;
use crate::cli::{ImportArguments, NudgeArguments, say, tell};
use crate::importing::{self, IMPORTED, NUDGED, Part};
use crate::{reopening, setup};
use anyhow::{Context, Result, anyhow};
use chrono::{DateTime, FixedOffset};
use serde_json::json;
use session::import::{self, Began, Columns};
use session::{About, Archive, Document, EventRow, Recorder, SourceInfo};
use std::path::{Path, PathBuf};
use units::{SourceId, Span, Timestamp};

/// Reads, shows, places and stores; nothing is written unless the recordings are of one ride.
pub fn import(arguments: &ImportArguments) -> Result<(), Failure> {
    let settings = choice::settings(arguments.settings.as_deref()).map_err(Failure::unusable)?;
    let mut wanted: Vec<(&str, &PathBuf, &str, &Option<String>)> = vec![(
        "under-test",
        &arguments.under_test,
        &arguments.under_test_place,
        &arguments.under_test_columns,
    )];
    for (index, path) in arguments.reference.iter().enumerate() {
        let role = if index == 0 {
            "reference"
        } else {
            "second-reference"
        };
        let columns = &arguments.reference_columns;
        wanted.push((role, path, &arguments.reference_place, columns));
    }
    let mut parts = Vec::new();
    let mut originals = Vec::new();
    for (index, (role, path, place, columns)) in wanted.into_iter().enumerate() {
        let bytes = std::fs::read(path)
            .with_context(|| format!("cannot read {}; is it there?", path.display()))
            .map_err(Failure::unusable)?;
        let file = file_name(path);
        let columns = columns.as_deref().map(Columns::parse).transpose();
        let columns = columns.map_err(Failure::unusable)?;
        let recording = import::read(&bytes, &file, columns.as_ref()).map_err(Failure::unusable)?;
        show(role, &recording);
        parts.push(Part {
            source: SourceInfo {
                id: SourceId(index as u16 + 1),
                name: format!("{role}: {file}"),
                role: role.to_owned(),
                place: place.to_owned(),
                identity: recording.identity.clone(),
                calibration: serde_json::Value::Null,
                simulated: false,
            },
            recording,
            nudge: Span::ZERO,
        });
        originals.push((format!("{role}-{}/{file}", index + 1), bytes));
    }
    let (_, imported) = importing::join(&parts, &settings)?;
    for line in imported.check() {
        say(format_args!("placed  {line}"));
    }
    let started: Option<DateTime<FixedOffset>> = match parts[1].recording.began {
        Began::Utc(moment) => Some(moment.fixed_offset()),
        Began::Local(_) | Began::Unknown => None,
    };
    let about = About {
        session: setup::new_session_id(),
        program: concat!("prony ", env!("CARGO_PKG_VERSION")).to_owned(),
        started,
        decision_rule: Some(Document::new("settings", settings.to_ron())),
        note: Some("Recordings made elsewhere, each on the clock of its recorder.".to_owned()),
        ..About::default()
    };
    store(&arguments.out, &about, &parts, originals)?;
    say(format_args!("{}: imported", arguments.out.display()));
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
    let archive = Archive::open(path).map_err(anyhow::Error::from)?;
    let events = archive.events().map_err(anyhow::Error::from)?;
    if !importing::is_import(&events) {
        return Err(Failure::unusable(anyhow!(
            "{} was not imported; only imported recordings are moved by hand",
            path.display()
        )));
    }
    let sources = archive.sources().map_err(anyhow::Error::from)?;
    let source = sources
        .iter()
        .find(|source| source.role == arguments.role)
        .ok_or_else(|| anyhow!("no recording has the role {:?}", arguments.role))
        .map_err(Failure::unusable)?;
    let range = archive.time_range().map_err(anyhow::Error::from)?;
    drop(archive);
    let event = EventRow {
        at: range.map_or(Timestamp::ZERO, |(_, to)| to),
        kind: NUDGED.to_owned(),
        body: json!({ "source": source.id.0, "later_s": arguments.later }),
    };
    session::annotate(path, &event).map_err(anyhow::Error::from)?;
    if let Some(imported) = reopening::reopen(path)?.imported {
        for line in imported.check() {
            say(format_args!("placed  {line}"));
        }
    }
    Ok(())
}

fn show(role: &str, recording: &import::Recording) {
    say(format_args!(
        "read    {role}: {} {:?}: {} records, {} with power, mean {:.1} W, {} pauses",
        recording.format.name(),
        recording.name,
        recording.records.len(),
        recording.power_w.len(),
        recording.mean_power_w(),
        recording.gaps().len(),
    ));
    if let Some(columns) = &recording.columns {
        say(format_args!("columns {role}: {columns}"));
    }
    for remark in &recording.remarks {
        tell(format_args!("note: {role}: {remark}"));
    }
}

fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(
        || path.display().to_string(),
        |name| name.to_string_lossy().into_owned(),
    )
}
