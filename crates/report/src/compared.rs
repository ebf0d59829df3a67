//! What a comparison of sessions is written from.

use crate::facts::SessionFacts;
use analysis::comparing::{Along, Comparison, Side};

/// Several sessions compared, with all that is printed about them.
#[derive(Clone, Debug)]
pub struct Compared<'a> {
    /// The sessions in the order they were given; the first is what the others are compared with.
    pub sessions: Vec<ComparedSession<'a>>,
    /// What was found.
    pub comparison: &'a Comparison,
    /// How curves are laid over each other.
    pub along: Along,
    /// What all were judged by, if it was given after the rides: the name of the settings. `None`
    /// where each was judged by what was fixed before it.
    pub judged_by: Option<&'a str>,
}

/// One session of a comparison.
#[derive(Clone, Debug)]
pub struct ComparedSession<'a> {
    /// Name of its file, without folder.
    pub file: &'a str,
    /// What it says about itself.
    pub facts: &'a SessionFacts,
    /// What was compared.
    pub side: &'a Side<'a>,
    /// What its seals say.
    pub seal: &'a Seal,
}

/// What a check of a session's seals found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Seal {
    /// In words: `sealed`, `broken`, what is not covered.
    pub state: String,
    /// SHA-256 of the last block, which the session is known by.
    pub head_sha256: Option<String>,
    /// Whether something is not as it was recorded.
    pub is_broken: bool,
}

impl Compared<'_> {
    /// Whether any of the sessions is a simulation.
    pub(crate) fn is_simulated(&self) -> bool {
        self.sessions.iter().any(|one| one.facts.is_simulated())
    }
}
