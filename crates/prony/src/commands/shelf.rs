//! `prony shelf`: the saved sessions – listed, searched, ordered, noted, tagged, recovered.

use super::Failure;
use crate::cli::{self, ShelfArguments, say, tell};
use crate::places;
use crate::shelving::{self, Shelf};
use anyhow::{Result, anyhow};
use serde_json::{Value, json};
use session::Recovery;
use session::shelf::{Direction, Query, Remark, ShelfItem, SortBy, sort};
use std::path::{Path, PathBuf};

/// Number of the JSON document's form.
const SCHEMA: u32 = 1;

/// Does what was asked with the shelf, then lists it.
pub fn shelf(arguments: &ShelfArguments) -> Result<(), Failure> {
    if let Some(folder) = &arguments.keep_in {
        places::keep_shelf_in(folder)?;
        tell(format_args!("sessions are kept in {}", folder.display()));
    }
    let mut shelf = Shelf::open(arguments.folder.as_deref())?;
    let chosen = |name: &Option<String>| -> Result<Option<PathBuf>> {
        let found = name.as_deref().map(|name| find(&shelf, name));
        found.transpose()
    };
    let remarks = [
        arguments.note.clone().map(Remark::Note),
        arguments.tag.clone().map(Remark::Tag),
        arguments.untag.clone().map(Remark::Untag),
    ];
    let on = chosen(&arguments.session).map_err(Failure::unusable)?;
    let mut changed = false;
    for remark in remarks.into_iter().flatten() {
        let path = on
            .as_deref()
            .ok_or_else(|| anyhow!("say which session with --session NAME"))
            .map_err(Failure::unusable)?;
        shelving::remark(path, &remark)?;
        changed = true;
    }
    if arguments.recover {
        let paths: Vec<PathBuf> = match &on {
            Some(path) => vec![path.clone()],
            None => shelf
                .interrupted()
                .iter()
                .map(|item| item.path.clone())
                .collect(),
        };
        for path in &paths {
            recover(path)?;
            changed = true;
        }
        if paths.is_empty() {
            tell("no session was interrupted");
        }
    }
    if changed {
        shelf.refresh()?;
    }
    if arguments.judge {
        while let Some(item) = shelf.judge_next()? {
            let verdict = item.verdict().unwrap_or("not judged").to_owned();
            tell(format_args!("{}: {verdict}", item.name));
        }
    }
    list(&shelf, arguments)
}

fn list(shelf: &Shelf, arguments: &ShelfArguments) -> Result<(), Failure> {
    let now_ns = shelving::now_ns();
    let query = Query::parse(arguments.search.as_deref().unwrap_or_default());
    let mut items: Vec<ShelfItem> = shelf
        .items()
        .iter()
        .filter(|item| query.fits(item, now_ns))
        .cloned()
        .collect();
    let by = match arguments.sort.as_deref() {
        None => SortBy::Date,
        Some(word) => SortBy::ALL
            .into_iter()
            .find(|(known, _)| *known == word)
            .map(|(_, by)| by)
            .ok_or_else(|| {
                let words: Vec<_> = SortBy::ALL.iter().map(|(word, _)| *word).collect();
                anyhow!(
                    "cannot sort by {word:?}; sort by one of {}",
                    words.join(", ")
                )
            })
            .map_err(Failure::unusable)?,
    };
    let falling = (by == SortBy::Date) != arguments.reverse;
    let direction = if falling {
        Direction::Falling
    } else {
        Direction::Rising
    };
    sort(&mut items, by, direction);
    if let Some(to) = &arguments.json {
        cli::write_json(&document(shelf.folder(), &items, now_ns), to)?;
        return Ok(());
    }
    for item in &items {
        say(line(item, now_ns));
    }
    tell(format_args!(
        "{} of {} sessions in {}",
        items.len(),
        shelf.items().len(),
        shelf.folder().display()
    ));
    let interrupted = shelf.interrupted().len();
    if interrupted > 0 {
        tell(format_args!(
            "{interrupted} interrupted; `prony shelf --recover` closes them, nothing is lost"
        ));
    }
    Ok(())
}

fn recover(path: &Path) -> Result<()> {
    match shelving::recover(path)? {
        Recovery::AlreadyClosed => tell(format_args!("{}: was closed already", path.display())),
        Recovery::Recovered { unsealed_rows } => tell(format_args!(
            "{}: closed; {unsealed_rows} rows that no seal had covered are kept",
            path.display()
        )),
    }
    Ok(())
}

/// The session of a name, or the file itself.
fn find(shelf: &Shelf, name: &str) -> Result<PathBuf> {
    if let Some(item) = shelf.items().iter().find(|item| item.name == name) {
        return Ok(item.path.clone());
    }
    let path = PathBuf::from(name);
    if path.is_file() {
        return Ok(path);
    }
    Err(anyhow!(
        "there is no session {name:?} in {}; `prony shelf` lists the names",
        shelf.folder().display()
    ))
}

fn line(item: &ShelfItem, now_ns: i64) -> String {
    let started = item.started.map_or("–".to_owned(), |at| {
        at.format("%Y-%m-%d %H:%M").to_string()
    });
    let firmware = item
        .firmware
        .as_deref()
        .map_or(String::new(), |version| format!(" (firmware {version})"));
    let tags: String = item.tags.iter().map(|tag| format!("  #{tag}")).collect();
    format!(
        "{started}  {:>6.1} min  {:<17}  {:<11}  {}{firmware} · {}{}  [{}]{tags}",
        item.length_s / 60.0,
        item.verdict().unwrap_or("not judged"),
        item.state_words(now_ns),
        item.device.as_deref().unwrap_or("no device"),
        item.script.as_deref().unwrap_or("no script"),
        if item.simulated { " · simulated" } else { "" },
        item.name,
    )
}

fn document(folder: &Path, items: &[ShelfItem], now_ns: i64) -> Value {
    let items: Vec<Value> = items
        .iter()
        .map(|item| {
            json!({
                "name": item.name,
                "path": item.path,
                "state": item.state_words(now_ns),
                "started": item.started.map(|at| at.to_rfc3339()),
                "duration_s": item.length_s,
                "device": item.device,
                "serial": item.serial,
                "firmware": item.firmware,
                "references": item.references,
                "script": item.script,
                "rider": item.rider,
                "simulated": item.simulated,
                "imported": item.imported,
                "verdict": item.verdict(),
                "sentence": item.judgement.as_ref().map(|found| &found.sentence),
                "bias_pct": item.judgement.as_ref().and_then(|found| found.bias_pct),
                "expanded_pct": item.judgement.as_ref().and_then(|found| found.expanded_pct),
                "tags": item.tags,
                "notes": item.notes,
            })
        })
        .collect();
    json!({ "schema": SCHEMA, "folder": folder, "sessions": items })
}
