//! A session as everything behind the ride needs it, however it was made: ridden here and replayed,
//! or recorded elsewhere and imported.

use crate::importing::{self, Imported, Placed};
use crate::replaying::{Replayed, replay};
use analysis::evidence::Evidence;
use analysis::findings::Findings;
use analysis::settings::Settings;
use anyhow::Result;
use bench::model::FlagView;
use report::SessionFacts;
use session::Archive;
use std::path::Path;
use std::sync::Arc;

/// A session that was opened again.
pub struct Reopened {
    /// What it says about itself.
    pub facts: SessionFacts,
    /// What was recorded.
    pub evidence: Evidence,
    /// What it is judged by, as fixed when it was made.
    pub settings: Settings,
    /// The flags of the ride; none in an imported session.
    pub flags: Arc<Vec<FlagView>>,
    /// Where the recordings of an imported session lie; `None` for a session ridden here.
    pub imported: Option<Imported>,
}

/// Opens a session.
///
/// # Errors
/// If the file cannot be read, or holds what this version does not understand.
pub fn reopen(path: &Path) -> Result<Reopened> {
    let archive = Archive::open(path)?;
    if importing::is_import(&archive)? {
        return Ok(of_import(importing::reopen(&archive)?));
    }
    Ok(of_replay(replay(path)?))
}

/// A session that was imported; nobody raised flags while it was ridden.
fn of_import(placed: Placed) -> Reopened {
    Reopened {
        facts: placed.facts,
        evidence: placed.evidence,
        settings: placed.settings,
        flags: Arc::default(),
        imported: Some(placed.imported),
    }
}

/// A session that was replayed.
fn of_replay(replayed: Replayed) -> Reopened {
    Reopened {
        facts: replayed.facts(),
        evidence: replayed.bench.evidence(replayed.end),
        settings: replayed.bench.plan().settings.clone(),
        flags: replayed.bench.model().flags,
        imported: None,
    }
}

impl Reopened {
    /// The findings, judged by `settings`: those of the session, or others given after the ride.
    pub fn findings(&self, settings: &Settings) -> Findings {
        match &self.imported {
            None => analysis::assess::assess(&self.evidence, settings),
            Some(imported) => imported.findings(&self.evidence, settings),
        }
    }

    /// The findings by what was fixed when the session was made.
    pub fn own_findings(&self) -> Findings {
        self.findings(&self.settings)
    }
}
