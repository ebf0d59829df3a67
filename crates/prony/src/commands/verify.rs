//! `prony verify`: is a session what was recorded, and a pack what was packed?

use super::Failure;
use crate::cli::{complain, say, tell};
use crate::packing;
use anyhow::{Error, Result, ensure};
use session::{SealState, VerifyReport};
use std::path::{Path, PathBuf};

/// Verifies session files and evidence packs, each by what it is, and says what was found. All are
/// looked at, whatever is found in one.
pub fn verify(paths: &[PathBuf]) -> Result<(), Failure> {
    let one = |path: &Path| {
        if packing::is_pack(path) {
            verify_pack(path)
        } else {
            verify_session(path)
        }
    };
    let mut failed = paths.iter().filter_map(|path| one(path).err()).peekable();
    while let Some(error) = failed.next() {
        // The last one is said by the caller.
        if failed.peek().is_none() {
            return Err(error.into());
        }
        complain(&error);
    }
    Ok(())
}

fn verify_session(path: &Path) -> Result<()> {
    let report = session::verify(path).map_err(Error::from)?;
    for note in &report.notes {
        tell(format_args!("note: {note}"));
    }
    for fault in &report.faults {
        tell(format_args!("fault: {fault}"));
    }
    say(format_args!("{}: {}", path.display(), summary(&report)));
    ensure!(
        report.state != SealState::Broken,
        "{}: not what was recorded; go back to a copy that verifies",
        path.display()
    );
    Ok(())
}

fn verify_pack(path: &Path) -> Result<()> {
    let report = packing::check(path)?;
    for note in &report.notes {
        tell(format_args!("note: {note}"));
    }
    for fault in &report.faults {
        tell(format_args!("fault: {fault}"));
    }
    let session = report
        .session
        .as_ref()
        .map_or_else(|| "cannot be read".to_owned(), summary);
    say(format_args!(
        "{}: {}; {} members; session {session}",
        path.display(),
        if report.faults.is_empty() {
            "as it was packed"
        } else {
            "not as it was packed"
        },
        report.members,
    ));
    ensure!(
        report.faults.is_empty(),
        "{}: not what was packed; get it again from where it came, or pack the session anew",
        path.display()
    );
    Ok(())
}

/// What was found in a session, in one line.
fn summary(report: &VerifyReport) -> String {
    format!(
        "{}; {} blocks, {} packets, {} events{}",
        report.state,
        report.blocks,
        report.packets,
        report.events,
        report
            .head_sha256
            .as_ref()
            .map(|digest| format!("; seal {digest}"))
            .unwrap_or_default(),
    )
}
