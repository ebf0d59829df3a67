//! Where the program keeps things of its own: the shelf of sessions.

use crate::clock::wall_now;
use anyhow::{Context, Result};
use std::path::PathBuf;

/// The folder of saved sessions, made if it is not there.
///
/// # Errors
/// If there is no home for it, or it cannot be made.
pub fn shelf() -> Result<PathBuf> {
    let dirs = directories::ProjectDirs::from("", "", "Prony")
        .context("no home directory to keep sessions in; name a file with --out")?;
    let folder = dirs.data_dir().join("sessions");
    std::fs::create_dir_all(&folder).with_context(|| {
        format!(
            "cannot make the folder {}; name a file with --out",
            folder.display()
        )
    })?;
    Ok(folder)
}

/// A new file on the shelf, named by the moment, the script and the instruments.
///
/// # Errors
/// As [`shelf`].
pub fn new_session_file(script: &str, bench: &str) -> Result<PathBuf> {
    let moment = wall_now().format("%Y-%m-%d-%H%M%S");
    let plain = |name: &str| -> String {
        name.chars()
            .map(|c| {
                if c.is_alphanumeric() || c == '-' {
                    c
                } else {
                    '-'
                }
            })
            .collect()
    };
    let name = format!(
        "{moment}-{}-{}.{}",
        plain(script),
        plain(bench),
        session::EXTENSION
    );
    Ok(shelf()?.join(name))
}
