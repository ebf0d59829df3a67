//! `prony export`: the tables of sessions as files, for other people's tools.

use super::Failure;
use crate::cli::{ExportArguments, say};
use crate::exporting::{self, Destinations};
use crate::shelving::session_files;

/// Writes every table of every session.
pub fn export(arguments: &ExportArguments) -> Result<(), Failure> {
    let into = Destinations {
        csv: arguments.csv.clone(),
        parquet: arguments.parquet.clone(),
    };
    for path in session_files(&arguments.sessions).map_err(Failure::unusable)? {
        for exported in exporting::export(&path, &into, |_, _| true)? {
            let (folder, tables) = (exported.folder.display(), exported.tables);
            say(format_args!(
                "{}: {tables} tables in {folder}",
                path.display()
            ));
        }
    }
    Ok(())
}
