//! Recordings made elsewhere: read off the window's thread, made ready, and brought in.

use super::super::dialogs;
use super::super::importing::{self, Draft, Taken};
use super::{App, Done};
use crate::places;
use anyhow::Result;
use desk::ImportWish;
use std::path::PathBuf;

impl App {
    /// Nothing changes while work goes on that was begun with what is there.
    pub(super) fn obey_import(&mut self, wish: ImportWish, screen: &egui::Context) {
        let outcome = match wish {
            ImportWish::Choose => {
                self.ask(screen, dialogs::recordings);
                Ok(())
            }
            ImportWish::Close => self.is_free().map(|()| self.draft_import = None),
            ImportWish::BringIn => self.bring_in(screen),
            ImportWish::GiveColumn { .. } => self.read_again(&wish, screen),
            ImportWish::GiveRole { .. }
            | ImportWish::GivePlace { .. }
            | ImportWish::TakeOut(_)
            | ImportWish::SameRide(_)
            | ImportWish::ClocksMayBeWrong(_) => self.is_free().map(|()| {
                if let Some(draft) = &mut self.draft_import {
                    draft.obey(&wish);
                }
            }),
        };
        self.keep(outcome);
    }

    /// Reads recordings that were chosen or dropped, beside those that are there.
    pub(super) fn read(&mut self, paths: Vec<PathBuf>, screen: &egui::Context) {
        let words = match paths.as_slice() {
            [path] => format!("Reading {}", places::file_name(path)),
            paths => format!("Reading {} recordings", paths.len()),
        };
        let begun = self.begin_job(words, screen, move |_| {
            importing::read_files(&paths).map(Done::Read)
        });
        self.keep(begun);
    }

    /// Recordings were read.
    pub(super) fn draft(&mut self, recordings: Vec<Taken>) {
        if self.draft_import.is_none() {
            self.serial += 1;
        }
        let id = self.serial;
        self.draft_import
            .get_or_insert_with(|| Draft::new(id))
            .add(recordings);
    }

    fn read_again(&mut self, wish: &ImportWish, screen: &egui::Context) -> Result<()> {
        let draft = self.draft_import.as_ref();
        let Some((serial, taken, said)) = draft.and_then(|draft| draft.to_read_again(wish)) else {
            return Ok(());
        };
        let words = "Reading the columns anew".to_owned();
        self.begin_job(words, screen, move |_| {
            let taken = Box::new(taken.read_again(said));
            Ok(Done::ReadAgain(serial, taken))
        })
    }

    /// What is made ready stays as it is until it is a session: a refusal loses nothing.
    fn bring_in(&mut self, screen: &egui::Context) -> Result<()> {
        let Some(draft) = &self.draft_import else {
            return Ok(());
        };
        let (originals, word) = (draft.originals(), draft.word());
        let words = format!("Placing {} recordings on one clock", originals.len());
        let settings = self.rule.as_ref().map(|rule| rule.settings.clone());
        self.begin_job(words, screen, move |reins| {
            let settings = settings.unwrap_or_default();
            let go_on = || !reins.is_given_up();
            let (session, words) = importing::import(originals, word, &settings, &go_on)?;
            Ok(Done::Imported(session, words))
        })
    }
}
