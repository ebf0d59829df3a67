//! The saved sessions as rows, read on a thread of its own.

use crate::places;
use anyhow::Result;
use crossbeam_channel::{Receiver, bounded};
use desk::ShelfRow;
use session::Archive;
use std::path::Path;

/// A look at the shelf.
pub struct Looking {
    rows: Receiver<Vec<ShelfRow>>,
}

impl Looking {
    /// Begins to look.
    ///
    /// # Errors
    /// If no thread can be started.
    pub fn start(screen: egui::Context) -> Result<Self> {
        let (tell, rows) = bounded(1);
        std::thread::Builder::new()
            .name("shelf".to_owned())
            .spawn(move || {
                let _ = tell.send(look());
                screen.request_repaint();
            })?;
        Ok(Self { rows })
    }

    /// The rows, once they are read.
    pub fn rows(&self) -> Option<Vec<ShelfRow>> {
        self.rows.try_recv().ok()
    }
}

/// Newest first; the name of a session begins with its moment. Files that cannot be read are
/// listed with what is wrong, never hidden.
fn look() -> Vec<ShelfRow> {
    let Ok(folder) = places::shelf() else {
        return Vec::new();
    };
    let Ok(entries) = std::fs::read_dir(folder) else {
        return Vec::new();
    };
    let mut paths: Vec<_> = entries
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| {
            path.extension()
                .is_some_and(|found| found == session::EXTENSION)
        })
        .collect();
    paths.sort();
    paths.reverse();
    paths.iter().map(|path| row(path)).collect()
}

fn row(path: &Path) -> ShelfRow {
    let name = path
        .file_stem()
        .map(|stem| stem.to_string_lossy().into_owned())
        .unwrap_or_default();
    let key = path.display().to_string();
    match describe(path) {
        Ok((title, started, length, state)) => ShelfRow {
            key,
            title,
            started,
            length,
            verdict: None,
            state,
        },
        Err(error) => ShelfRow {
            key,
            title: name,
            started: String::new(),
            length: String::new(),
            verdict: None,
            state: error.to_string(),
        },
    }
}

fn describe(path: &Path) -> Result<(String, String, String, String)> {
    let archive = Archive::open(path)?;
    let about = archive.about()?;
    let device = archive
        .sources()?
        .into_iter()
        .find(|source| source.role == "under-test");
    let script = about
        .script
        .map_or_else(|| "no script".to_owned(), |script| script.name);
    let title = match device {
        Some(device) => format!("{} · {script}", device.name),
        None => script,
    };
    let started = about
        .started
        .map(|started| started.format("%Y-%m-%d %H:%M").to_string())
        .unwrap_or_default();
    let state = if archive.is_closed()? {
        "sealed"
    } else {
        "interrupted"
    };
    Ok((
        title,
        started,
        archive.duration()?.to_string(),
        state.to_owned(),
    ))
}
