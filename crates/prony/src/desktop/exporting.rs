//! The tables of a session as files, for other people's tools.

use super::jobs::Reins;
use super::opened;
use crate::cli::write_file;
use anyhow::{Result, bail};
use session::Archive;
use std::path::Path;

/// Writes every table of a session into a folder of its own within `folder`, and says so.
///
/// # Errors
/// If the session cannot be judged, or a file cannot be written; the message names it.
pub fn export(session: &Path, folder: &Path, reins: &Reins) -> Result<String> {
    let opened = opened::open(session, 0)?;
    let events = Archive::open(session)?.events()?;
    let findings = &opened.findings;
    let tables = [
        ("seconds", report::csv::seconds_csv(findings)),
        ("windows", report::csv::windows_csv(findings)),
        ("cells", report::csv::cells_csv(findings)),
        ("budget", report::csv::budget_csv(findings)),
        ("exclusions", report::csv::exclusions_csv(findings)),
        ("dropouts", report::csv::dropouts_csv(findings)),
        ("alignment", report::csv::alignment_csv(findings)),
        ("events", report::csv::events_csv(&events)),
    ];
    let folder = folder.join(&opened.label);
    std::fs::create_dir_all(&folder)?;
    let count = tables.len();
    for (index, (name, text)) in tables.into_iter().enumerate() {
        if reins.is_given_up() {
            bail!("the export was given up after {index} tables");
        }
        write_file(&folder.join(format!("{name}.csv")), text)?;
        reins.done(index + 1, count);
    }
    Ok(format!("{count} tables are saved in {}.", folder.display()))
}
