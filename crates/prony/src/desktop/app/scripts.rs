//! Scripts, claim sheets and the rule.

use super::super::{dialogs, library};
use super::App;
use anyhow::Result;
use desk::ScriptWish;
use std::path::Path;

impl App {
    pub(super) fn obey_script(&mut self, wish: ScriptWish, screen: &egui::Context) {
        match wish {
            ScriptWish::Check { serial, text } => self.draft = Some(library::check(serial, &text)),
            ScriptWish::Save { name, text } => {
                let saved = library::save_script(&name, &text);
                self.after(saved.map(|name| format!("The script is kept as {name}.")));
            }
            ScriptWish::Delete(name) => {
                let deleted = library::delete_script(&name);
                self.after(deleted.map(|()| format!("The script {name} is deleted.")));
            }
            ScriptWish::Import => self.ask(screen, dialogs::script),
            ScriptWish::ChooseSheet(name) => {
                self.memory.sheet = name;
                self.remember();
                self.read_rule();
            }
            ScriptWish::SaveSheet { name, text } => {
                let saved = library::save_sheet(&name, &text);
                if let Ok(name) = &saved {
                    self.memory.sheet = Some(name.clone());
                    self.remember();
                }
                self.after(saved.map(|name| format!("The claim sheet is kept as {name}.")));
            }
            ScriptWish::DeleteSheet(name) => {
                let deleted = library::delete_sheet(&name);
                if deleted.is_ok() && self.memory.sheet.as_deref() == Some(&name) {
                    self.memory.sheet = None;
                    self.remember();
                }
                self.after(deleted.map(|()| format!("The claim sheet {name} is deleted.")));
            }
            ScriptWish::SaveRule(text) => {
                let saved = library::save_rule(&text);
                self.after(
                    saved.map(|()| {
                        "The rule is kept and applies from the next session on.".to_owned()
                    }),
                );
            }
        }
    }

    /// Keeps a copy of a script file.
    pub(super) fn take_script(&mut self, path: &Path) {
        let kept = library::import_script(path);
        self.after(kept.map(|name| format!("The script is kept as {name}, see Script.")));
    }

    fn after(&mut self, outcome: Result<String>) {
        if let Some(words) = self.keep(outcome) {
            self.failure = None;
            self.notice = Some(words);
            self.scripts = library::scripts();
            self.read_rule();
        }
    }
}
