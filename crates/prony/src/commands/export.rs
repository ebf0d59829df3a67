//! `prony export`: the tables of sessions as files, for other people's tools.

use super::Failure;
use crate::cli::{ExportArguments, say};
use crate::exporting;
use crate::shelving::session_files;

/// Writes every table of every session into a folder named after the session.
pub fn export(arguments: &ExportArguments) -> Result<(), Failure> {
    for path in session_files(&arguments.sessions).map_err(Failure::unusable)? {
        let exported = exporting::export(&path, &arguments.csv, |_, _| true)?;
        let (folder, tables) = (exported.folder.display(), exported.tables);
        say(format_args!("{folder}: {tables} tables"));
    }
    Ok(())
}
