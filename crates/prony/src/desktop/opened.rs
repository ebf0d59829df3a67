//! Opening a session: replayed and judged on a thread of its own.

use crate::commands::facts;
use crate::replaying::replay;
use analysis::evidence::Evidence;
use analysis::findings::Findings;
use anyhow::Result;
use crossbeam_channel::{Receiver, bounded};
use report::SessionFacts;
use std::path::{Path, PathBuf};

/// A session that was opened.
pub struct OpenedSession {
    /// Changes with every session that is opened.
    pub id: u64,
    /// Name for people.
    pub label: String,
    /// The recording.
    pub evidence: Evidence,
    /// What was computed.
    pub findings: Findings,
    /// What the session says about itself.
    pub facts: SessionFacts,
}

/// A session being opened.
pub struct Opening {
    /// What is going on, in words.
    pub words: String,
    outcome: Receiver<Result<OpenedSession>>,
}

impl Opening {
    /// Begins to open a session file.
    ///
    /// # Errors
    /// If no thread can be started.
    pub fn start(path: PathBuf, id: u64, screen: egui::Context) -> Result<Self> {
        let words = format!("Computing the findings of {}", label_of(&path));
        let (tell, outcome) = bounded(1);
        std::thread::Builder::new()
            .name("findings".to_owned())
            .spawn(move || {
                // Nobody listens any more if the work was given up.
                let _ = tell.send(open(&path, id));
                screen.request_repaint();
            })?;
        Ok(Self { words, outcome })
    }

    /// The session, once it is open.
    pub fn outcome(&self) -> Option<Result<OpenedSession>> {
        self.outcome.try_recv().ok()
    }
}

fn open(path: &Path, id: u64) -> Result<OpenedSession> {
    let replayed = replay(path)?;
    let evidence = replayed.bench.evidence(replayed.end);
    let findings = analysis::assess::assess(&evidence, &replayed.bench.plan().settings);
    let facts = facts(&replayed);
    Ok(OpenedSession {
        id,
        label: label_of(path),
        evidence,
        findings,
        facts,
    })
}

fn label_of(path: &Path) -> String {
    path.file_stem().map_or_else(
        || path.display().to_string(),
        |stem| stem.to_string_lossy().into_owned(),
    )
}
