//! `prony verify`: is the file what was recorded?

use super::Failure;
use crate::cli::{say, tell};
use anyhow::anyhow;
use session::SealState;
use std::path::Path;

/// Verifies a session file and says what was found.
pub fn verify(path: &Path) -> Result<(), Failure> {
    let report = session::verify(path).map_err(anyhow::Error::from)?;
    for note in &report.notes {
        tell(format_args!("note: {note}"));
    }
    for fault in &report.faults {
        tell(format_args!("fault: {fault}"));
    }
    say(format_args!(
        "{}: {}; {} blocks, {} packets, {} events{}",
        path.display(),
        report.state,
        report.blocks,
        report.packets,
        report.events,
        report
            .head_sha256
            .as_ref()
            .map(|digest| format!("; seal {digest}"))
            .unwrap_or_default(),
    ));
    match report.state {
        SealState::Broken => Err(anyhow!(
            "{}: not what was recorded; go back to a copy that verifies",
            path.display()
        )
        .into()),
        SealState::Sealed | SealState::UnsealedTail { .. } => Ok(()),
    }
}
