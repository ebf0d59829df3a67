//! The text being edited, with its history.

use crate::place::script::templates::Template;
use egui::Ui;
use egui::util::undoer::Undoer;
use std::ops::Range;

/// What a form knows of the kind of text it edits.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Grammar {
    /// Name of the list.
    pub list: &'static str,
    /// What an entry is called.
    pub entry: &'static str,
    /// What can be added.
    pub templates: &'static [Template],
}

/// A text being edited.
pub(crate) struct Editor {
    /// The name it will be kept under.
    pub name: String,
    /// The text.
    pub text: String,
    /// As it was when it was opened or kept.
    pub kept: String,
    /// Counts the texts.
    pub serial: u64,
    history: Undoer<String>,
}

impl std::fmt::Debug for Editor {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Editor").field("name", &self.name).finish()
    }
}

impl Editor {
    /// Opens a text.
    pub(crate) fn open(name: String, text: &str, serial: u64) -> Self {
        Self {
            name,
            text: text.to_owned(),
            kept: text.to_owned(),
            serial,
            history: Undoer::default(),
        }
    }

    /// Whether it differs from what is kept.
    pub(crate) fn is_changed(&self) -> bool {
        self.text != self.kept
    }

    /// Takes back the last change.
    pub(crate) fn undo(&mut self) {
        if let Some(before) = self.history.undo(&self.text) {
            self.text = before.clone();
            self.serial += 1;
        }
    }

    /// Remembers the text for taking back; says whether it is another one than at the last call.
    pub(super) fn note(&mut self, ui: &Ui, before: &str) {
        if self.text != before {
            self.serial += 1;
        }
        let now_s = ui.input(|input| input.time);
        self.history.feed_state(now_s, &self.text);
    }

    pub(super) fn replace(&mut self, range: Range<usize>, with: &str) {
        if self.text.get(range.clone()).is_some() {
            self.text.replace_range(range, with);
        }
    }
}
