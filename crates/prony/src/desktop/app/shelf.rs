//! The saved sessions: looking, recovering, comparing, exporting, playing again.

use super::super::replay::Replaying;
use super::super::shelf::{self as rows, Look};
use super::super::{comparing, dialogs, opened};
use super::{App, Compared, Done};
use crate::exporting::{self, Destinations};
use anyhow::{Result, bail};
use desk::{ReplayWish, ShelfWish};
use std::path::{Path, PathBuf};
use std::sync::Arc;

impl App {
    pub(super) fn look_at_shelf(&mut self, screen: &egui::Context) {
        let left = self.memory.left.clone();
        match &self.looking {
            Some(looking) => looking.again(left),
            None => {
                let looking = rows::Looking::start(left, screen.clone());
                self.looking = self.keep(looking);
            }
        }
    }

    pub(super) fn take_look(&mut self, look: Look) {
        // What is being recorded right now is not interrupted.
        if self.live.is_none() {
            self.interrupted = look.interrupted;
        }
        self.shelf = look.rows;
        self.items = look.items;
        self.find();
    }

    /// What fits the search, anew.
    fn find(&mut self) {
        let (words, order) = &self.search;
        self.found = rows::found(&self.items, words, *order);
    }

    pub(super) fn obey_shelf(&mut self, wish: ShelfWish, screen: &egui::Context) {
        let outcome = match wish {
            ShelfWish::Recover(keys) => self.recover(keys, screen),
            ShelfWish::LeaveInterrupted => {
                let keys = self.interrupted.drain(..).map(|one| one.key);
                self.memory.left.extend(keys);
                self.remember();
                Ok(())
            }
            ShelfWish::Note { key, tags, note } => self.note(&key, &tags, &note, screen),
            ShelfWish::Show { words, order } => {
                self.search = (words, order);
                self.find();
                Ok(())
            }
            ShelfWish::Compare(keys) => {
                let paths = keys.into_iter().map(PathBuf::from).collect();
                self.compare(paths, None, screen)
            }
            ShelfWish::CompareAs(kind) => self.compare_as(kind, screen),
            ShelfWish::CloseCompare => {
                self.compared = None;
                Ok(())
            }
            ShelfWish::SaveComparison => {
                self.ask(screen, || {
                    dialogs::save_comparison("comparison.html".to_owned())
                });
                Ok(())
            }
            ShelfWish::KeepComparison => {
                self.keep_comparison(screen);
                Ok(())
            }
            ShelfWish::Export(key) => {
                self.ask(screen, move || dialogs::export(PathBuf::from(key)));
                Ok(())
            }
            ShelfWish::AddToDataset(key) => {
                self.ask(screen, move || dialogs::dataset(PathBuf::from(key)));
                Ok(())
            }
            ShelfWish::Replay(key) => self.replay(Path::new(&key), screen),
        };
        self.keep(outcome);
    }

    fn recover(&mut self, keys: Vec<String>, screen: &egui::Context) -> Result<()> {
        self.is_free()?;
        self.interrupted.clear();
        let words = "Recovering interrupted sessions".to_owned();
        self.begin_work(words, screen, move |reins| rows::recover(&keys, reins));
        Ok(())
    }

    fn replay(&mut self, path: &Path, screen: &egui::Context) -> Result<()> {
        if self.live.is_some() {
            bail!("a session is open; end it under Run before another one is played again");
        }
        // A session that is over and still shown makes room.
        self.model = None;
        self.shown = None;
        let label = opened::label_of(path);
        self.replaying = Some(Replaying::start(path.to_owned(), label, screen.clone())?);
        Ok(())
    }

    pub(super) fn obey_replay(&mut self, wish: ReplayWish) {
        if wish == ReplayWish::Close {
            self.replaying = None;
            self.shown = None;
        } else if let Some(replaying) = &self.replaying {
            replaying.wish(wish);
        }
    }

    fn note(
        &mut self,
        key: &str,
        tags: &[String],
        note: &str,
        screen: &egui::Context,
    ) -> Result<()> {
        let row = self.shelf.iter().find(|row| row.key == key);
        let before = row.map(|row| row.tags.clone()).unwrap_or_default();
        rows::remark(key, &before, tags, note)?;
        self.look_at_shelf(screen);
        Ok(())
    }

    fn compare(
        &mut self,
        paths: Vec<PathBuf>,
        asked: Option<usize>,
        screen: &egui::Context,
    ) -> Result<()> {
        self.serial += 1;
        let id = self.serial;
        let words = format!("Putting {} sessions side by side", paths.len());
        self.begin_job(words, screen, move |reins| {
            let compiled = comparing::compare(&paths, asked, reins)?;
            let view = comparing::view(&compiled, asked, id);
            let compiled = Arc::new(compiled);
            Ok(Done::Compared(Box::new(Compared { compiled, view })))
        })
    }

    /// The same sessions as something else than what they tell.
    fn compare_as(&mut self, asked: Option<usize>, screen: &egui::Context) -> Result<()> {
        let Some(compared) = &self.compared else {
            return Ok(());
        };
        let members = compared.compiled.members.iter();
        let paths = members.map(|member| member.path.clone()).collect();
        self.compare(paths, asked, screen)
    }

    pub(super) fn export(&mut self, session: PathBuf, into: Destinations, screen: &egui::Context) {
        let words = format!("Exporting {}", opened::label_of(&session));
        self.begin_work(words, screen, move |reins| {
            let exported = exporting::export(&session, &into, |written, of| {
                reins.done(written, of);
                !reins.is_given_up()
            })?;
            let said = exported.iter().map(|exported| {
                let folder = exported.folder.display();
                format!("{} tables are saved in {folder}.", exported.tables)
            });
            Ok(said.collect::<Vec<_>>().join(" "))
        });
    }
}
