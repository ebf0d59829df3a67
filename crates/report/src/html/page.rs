//! What every part of the page of one session is written from.

use crate::facts::SessionFacts;
use crate::imprint::Imprint;
use analysis::findings::Findings;

/// What every part of the page is written from.
pub(super) struct Page<'a> {
    pub(super) facts: &'a SessionFacts,
    pub(super) findings: &'a Findings,
    pub(super) imprint: &'a Imprint,
    pub(super) id: String,
}

impl Page<'_> {
    /// The computed name of the report, and the tester's own number if there is one.
    pub(super) fn names(&self) -> String {
        match &self.imprint.number {
            Some(number) => format!("{} · {number}", self.id),
            None => self.id.clone(),
        }
    }
}
