//! Opening a session: ridden here or imported, read again and judged.

use crate::reopening::reopen;
use analysis::evidence::Evidence;
use analysis::findings::Findings;
use anyhow::Result;
use bench::model::FlagView;
use report::SessionFacts;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A session that was opened.
pub struct OpenedSession {
    /// Changes with every session that is opened.
    pub id: u64,
    /// The file.
    pub path: PathBuf,
    /// Name for people.
    pub label: String,
    /// The recording.
    pub evidence: Evidence,
    /// The flags that were raised during the ride.
    pub flags: Arc<Vec<FlagView>>,
    /// What was computed.
    pub findings: Arc<Findings>,
    /// What the session says about itself.
    pub facts: SessionFacts,
    /// Whether its recordings were made elsewhere.
    pub imported: bool,
}

/// Opens a session: read again and judged.
///
/// # Errors
/// If the file cannot be read, replayed or placed.
pub fn open(path: &Path, id: u64) -> Result<OpenedSession> {
    let reopened = reopen(path)?;
    let findings = reopened.own_findings();
    Ok(OpenedSession {
        id,
        path: path.to_owned(),
        imported: reopened.imported.is_some(),
        label: label_of(path),
        evidence: reopened.evidence,
        flags: reopened.flags,
        findings: Arc::new(findings),
        facts: reopened.facts,
    })
}

/// The name of a session for people.
pub fn label_of(path: &Path) -> String {
    path.file_stem().map_or_else(
        || path.display().to_string(),
        |stem| stem.to_string_lossy().into_owned(),
    )
}
