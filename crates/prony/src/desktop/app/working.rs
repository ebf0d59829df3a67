//! Long work off the window's thread, one piece at a time.

use super::super::jobs::{Job, Reins};
use super::{App, Done};
use anyhow::{Result, bail};

impl App {
    /// What is going on already forbids other long work.
    pub(super) fn is_free(&self) -> Result<()> {
        if self.working.is_some() {
            bail!("other work is not finished yet; wait for it or cancel it");
        }
        Ok(())
    }

    /// Begins long work.
    ///
    /// # Errors
    /// If other work is going on, or no thread can be started.
    pub(super) fn begin_job(
        &mut self,
        words: String,
        screen: &egui::Context,
        work: impl FnOnce(&Reins) -> Result<Done> + Send + 'static,
    ) -> Result<()> {
        self.is_free()?;
        self.working = Some(Job::start(words, screen, work)?);
        Ok(())
    }

    /// Begins long work of which words come; if it cannot begin, that is shown.
    pub(super) fn begin_work(
        &mut self,
        words: String,
        screen: &egui::Context,
        work: impl FnOnce(&Reins) -> Result<String> + Send + 'static,
    ) {
        let begun = self.begin_job(words, screen, move |reins| work(reins).map(Done::Said));
        self.keep(begun);
    }
}
