//! The tables of a session as files, for other people's tools.

use crate::cli::write_file;
use crate::reopening::reopen;
use anyhow::{Context, Result, bail};
use session::Archive;
use std::path::{Path, PathBuf};

/// Tables that were written.
pub struct Exported {
    /// Where they lie.
    pub folder: PathBuf,
    /// How many there are.
    pub tables: usize,
}

/// Writes every table of a session into a folder within `into` that is named after it. Before each
/// table `goes_on` is told how many are written, of how many, and may give the export up.
///
/// # Errors
/// If the session cannot be read and judged, the export is given up, or a file cannot be written;
/// the message names it.
pub fn export(
    session: &Path,
    into: &Path,
    mut goes_on: impl FnMut(usize, usize) -> bool,
) -> Result<Exported> {
    let reopened = reopen(session)?;
    let findings = reopened.own_findings();
    let events = Archive::open(session)?.events()?;
    let folder = into.join(session.file_stem().unwrap_or_default());
    std::fs::create_dir_all(&folder)
        .with_context(|| format!("cannot make the folder {}", folder.display()))?;
    let tables = [
        ("seconds", report::csv::seconds_csv(&findings)),
        ("windows", report::csv::windows_csv(&findings)),
        ("cells", report::csv::cells_csv(&findings)),
        ("budget", report::csv::budget_csv(&findings)),
        ("exclusions", report::csv::exclusions_csv(&findings)),
        ("dropouts", report::csv::dropouts_csv(&findings)),
        ("alignment", report::csv::alignment_csv(&findings)),
        ("raw", report::csv::raw_csv(&reopened.evidence)),
        ("events", report::csv::events_csv(&events)),
    ];
    let count = tables.len();
    for (written, (name, text)) in tables.into_iter().enumerate() {
        if !goes_on(written, count) {
            bail!("the export was given up after {written} tables");
        }
        write_file(&folder.join(format!("{name}.csv")), text)?;
    }
    Ok(Exported {
        folder,
        tables: count,
    })
}
