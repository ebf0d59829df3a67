//! What can be chosen under Script: scripts, benches, claim sheets and the rule.

use bench::model::ScriptView;
use std::sync::Arc;

/// A script that can be ridden.
#[derive(Clone, Debug, Default)]
pub struct ScriptCard {
    /// The steps.
    pub view: Arc<ScriptView>,
    /// What the script is for, one or two sentences.
    pub about: String,
    /// How hard it is, in words with numbers: "up to 300 W, 1.1 MJ of work".
    pub effort: String,
    /// Why it cannot be ridden, if it cannot: the error with its line and the remedy.
    pub problem: Option<String>,
    /// Its text, to edit a copy of.
    pub text: Arc<str>,
    /// Whether it is a file of the user's own, which can be saved over and deleted.
    pub is_own: bool,
    /// Levels that are held long enough to be judged, W, ascending.
    pub levels_w: Vec<f64>,
    /// Seconds that can be judged at the level that is held shortest, all repeats together.
    pub level_seconds: u32,
    /// How often that level is held.
    pub level_repeats: u32,
}

/// A bench that a session can be started on.
#[derive(Clone, Debug, Default)]
pub struct RigCard {
    /// Short name, as on the command line, or the file of a remembered bench.
    pub name: String,
    /// Title in words.
    pub title: String,
    /// What it is, one or two sentences.
    pub about: String,
    /// Its instruments with their roles, in words.
    pub instruments: Vec<String>,
    /// Whether the instruments are simulated.
    pub simulated: bool,
    /// Where the device under test measures, if it is known.
    pub under_test: Option<analysis::evidence::Place>,
    /// Where the reference measures, if it is known.
    pub reference: Option<analysis::evidence::Place>,
}

/// What came of reading a script that is being edited.
#[derive(Clone, Debug, Default)]
pub struct DraftCheck {
    /// The number of the text that was read, as the desk counts them.
    pub serial: u64,
    /// The script, if it can be ridden.
    pub card: Option<ScriptCard>,
    /// What is wrong with it, in the order of the text.
    pub problems: Vec<DraftProblem>,
}

/// One mistake in a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DraftProblem {
    /// Line, counted from 1; 0 where it belongs to no line.
    pub line: usize,
    /// Column, counted from 1.
    pub column: usize,
    /// What is wrong, with the remedy.
    pub words: String,
}

/// A claim sheet.
#[derive(Clone, Debug, Default)]
pub struct SheetCard {
    /// Its name; empty for the claim that is assumed where no sheet is chosen.
    pub name: String,
    /// Its text.
    pub text: Arc<str>,
    /// Whether it is the one that is judged by.
    pub is_chosen: bool,
}

/// The rule that verdicts follow, as the next session will be fixed to it.
#[derive(Clone, Debug, Default)]
pub struct RuleCard {
    /// The settings that every judgement depends on, claims included.
    pub settings: Arc<analysis::settings::Settings>,
    /// The same as text.
    pub text: Arc<str>,
    /// SHA-256 of the text in hexadecimal, as it is sealed before the first sample.
    pub sha256: String,
    /// Changes with the settings.
    pub serial: u64,
}
