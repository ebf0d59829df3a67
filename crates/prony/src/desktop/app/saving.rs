//! The report and the pictures of the opened session as files, made off the window's thread.

use super::super::jobs::Job;
use super::{App, Done};
use crate::cli::write_file;
use crate::picturing::{self, Ground};
use crate::{places, reporting};
use anyhow::Result;
use std::path::PathBuf;
use std::sync::Arc;

impl App {
    /// Saves the report, with the imprint that belongs to the session if there is one.
    pub(super) fn save_report(&mut self, to: PathBuf, screen: &egui::Context) {
        let Some(opened) = &self.opened else { return };
        let (session, facts) = (opened.path.clone(), opened.facts.clone());
        let findings = Arc::clone(&opened.findings);
        let words = format!("Writing the report of {}", opened.label);
        self.begin_work(words, screen, move || {
            let found = reporting::imprint_of(&session, &places::data()?)?;
            let (by, imprint) = found.map_or_else(Default::default, |(path, imprint)| {
                (format!(", with the imprint {}", path.display()), imprint)
            });
            write_file(
                &to,
                reporting::report(&session, &facts, &findings, &imprint)?,
            )?;
            Ok(format!("The report is saved as {}{by}.", to.display()))
        });
    }

    /// Saves every plot into a folder.
    pub(super) fn save_pictures(&mut self, folder: PathBuf, screen: &egui::Context) {
        let Some(opened) = &self.opened else { return };
        let facts = opened.facts.clone();
        let findings = Arc::clone(&opened.findings);
        let words = format!("Drawing the pictures of {}", opened.label);
        let begun = self.is_free().and_then(|()| {
            Job::start(words, screen, move |reins| {
                let files =
                    picturing::save(&facts, &findings, &folder, Ground::Plain, &|done, of| {
                        reins.done(done, of);
                        !reins.is_given_up()
                    })?;
                let folder = folder.display();
                Ok(Done::Said(format!("{files} files are saved in {folder}.")))
            })
        });
        if let Some(job) = self.keep(begun) {
            self.working = Some(job);
        }
    }

    fn begin_work(
        &mut self,
        words: String,
        screen: &egui::Context,
        work: impl FnOnce() -> Result<String> + Send + 'static,
    ) {
        let begun = self
            .is_free()
            .and_then(|()| Job::start(words, screen, move |_| work().map(Done::Said)));
        if let Some(job) = self.keep(begun) {
            self.working = Some(job);
        }
    }
}
