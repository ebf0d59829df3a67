//! The script language: a RON document that is runnable if it loads.
//!
//! Reading happens once, in [`Script::from_ron`]; nothing downstream asks again whether a number is
//! sane. The reader keeps the place of every value, so a mistake is reported where it stands.

mod burst;
mod draft;
mod fields;
mod ladders;
mod limits;
mod place;
mod problem;
mod raw;
mod slopes;
mod special;
mod steady;
mod syntax;
mod unfold;

pub use place::Place;
pub(crate) use problem::nearest;
pub use problem::{Problem, ScriptErrors};

use crate::plan::Plan;
use crate::runner::EarlyEnd;
use units::Watts;

/// A script that can be run.
#[derive(Clone, Debug, PartialEq)]
pub struct Script {
    name: String,
    text: String,
    title: String,
    decides: String,
    needs: Vec<String>,
    ceiling: Option<Watts>,
    decided_holds: Option<EarlyEnd>,
    plan: Plan,
}

impl Script {
    /// Reads a script. `name` stands for it in messages and in the record.
    ///
    /// # Errors
    /// Every mistake that could be found, each with line, column, limit and remedy. A mistake in
    /// the punctuation hides what comes after it.
    pub fn from_ron(name: &str, text: &str) -> Result<Self, ScriptErrors> {
        unfold::read(name, text)
    }

    /// The name in messages and in the record.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The text exactly as it was read, for the record and its checksum.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The title a person reads.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// What riding it decides.
    pub fn decides(&self) -> &str {
        &self.decides
    }

    /// What is needed to ride it.
    pub fn needs(&self) -> &[String] {
        &self.needs
    }

    /// The highest power the script promises to ask for, if it promises one.
    pub fn ceiling(&self) -> Option<Watts> {
        self.ceiling
    }

    /// Whether a hold may end once its question is decided, if the script says so itself.
    pub fn decided_holds(&self) -> Option<EarlyEnd> {
        self.decided_holds
    }

    /// The steps.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }
}
