//! `prony export`: the tables of sessions as files, for other people's tools.

use super::Failure;
use crate::cli::{self, ExportArguments, say};
use crate::reopening::reopen;
use crate::shelving::session_files;
use anyhow::Context as _;

/// Writes every table of every session into a folder named after the session.
pub fn export(arguments: &ExportArguments) -> Result<(), Failure> {
    for path in session_files(&arguments.sessions).map_err(Failure::unusable)? {
        let reopened = reopen(&path)?;
        let findings = reopened.own_findings();
        let name = path.file_stem().unwrap_or_default();
        let folder = arguments.csv.join(name);
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
            ("events", report::csv::events_csv(&reopened.events)),
        ];
        for (name, text) in &tables {
            cli::write_file(&folder.join(format!("{name}.csv")), text)?;
        }
        say(format_args!(
            "{}: {} tables",
            folder.display(),
            tables.len()
        ));
    }
    Ok(())
}
