//! What becomes of the desk's wishes.

use super::super::dialogs::{self, Chosen, Dialog};
use super::super::live::{Live, Terms};
use super::super::{importing, jobs::Job, library, opened};
use super::App;
use crate::importing::Moved;
use crate::{bench_file, choice};
use anyhow::{Context as _, Result};
use desk::{Pace, Request, RigCard};
use std::path::{Path, PathBuf};

impl App {
    pub(super) fn obey(&mut self, request: Request, screen: &egui::Context) {
        match request {
            Request::Bench(command) => {
                // In a replay there is no session behind the window, and nothing to command.
                if let Some(live) = &self.live {
                    live.command(command);
                }
            }
            Request::StartSession { script, rig, pace } => self.start(&script, &rig, pace, screen),
            Request::CloseSession => self.let_go(screen),
            Request::OpenSession => self.ask(screen, dialogs::open),
            Request::OpenShelved(key) => self.open(PathBuf::from(key), screen),
            Request::SaveReport => {
                let name = self
                    .opened
                    .as_ref()
                    .map(|opened| format!("{}.html", opened.label))
                    .unwrap_or_default();
                self.ask(screen, move || dialogs::save_report(name));
            }
            Request::SavePictures => self.ask(screen, dialogs::pictures),
            Request::SavePack => {
                let opened = self.opened.as_ref();
                let name = opened.map(|opened| format!("{}.zip", opened.label));
                self.ask(screen, move || dialogs::save_pack(name.unwrap_or_default()));
            }
            Request::KeepReport => {
                if let Some(place) = self.opened.as_ref().map(|o| o.path.with_extension("html")) {
                    self.save_report(place, screen);
                }
            }
            Request::MoveRecording { source, later_s } => {
                self.move_recording(source, later_s, screen);
            }
            Request::Shelf(wish) => self.obey_shelf(wish, screen),
            Request::Import(wish) => self.obey_import(wish, screen),
            Request::Replay(wish) => self.obey_replay(wish),
            Request::Radio(wish) => self.obey_radio(wish, screen),
            Request::Script(wish) => self.obey_script(wish, screen),
            Request::Prefer(preferences) => {
                self.memory.preferences = preferences;
                self.remember();
                self.read_rule();
            }
            Request::ChooseDataFolder => self.ask(screen, dialogs::data_folder),
            Request::CancelWork => {
                self.opening = None;
                self.working = None;
                if let Some(live) = self.live.take_if(|live| live.linking().is_some()) {
                    live.give_up();
                }
            }
            Request::DismissFailure => self.failure = None,
            Request::DismissNotice => self.notice = None,
            Request::RememberTheme(theme) => {
                self.memory.look.theme = theme;
                self.remember();
            }
            Request::RememberTextSize(text_pct) => {
                self.memory.look.text_pct = text_pct;
                self.remember();
            }
        }
    }

    fn start(&mut self, script: &str, rig: &str, pace: Pace, screen: &egui::Context) {
        self.let_go(screen);
        self.replaying = None;
        self.shown = None;
        self.failure = None;
        self.notice = None;
        let live = self.begin(script, rig, pace, screen);
        self.live = self.keep(live);
    }

    fn begin(
        &mut self,
        script: &str,
        rig: &str,
        pace: Pace,
        screen: &egui::Context,
    ) -> Result<Live> {
        let rule = self
            .rule
            .as_ref()
            .context("the rule cannot be read; put it right under Script first")?;
        let terms = Terms {
            script: library::script(script)?,
            settings: rule.settings.clone(),
            sheet: rule.sheet.clone(),
            ceiling_w: self.memory.preferences.ceiling_w,
        };
        let is_real = |card: &RigCard| card.name == rig && !card.simulated;
        if self.rigs.iter().any(is_real) {
            let bench = bench_file::read(Path::new(rig))?;
            let scanner = self.scanner.take();
            self.seen = Default::default();
            self.bench = bench.name.clone();
            let logbook = self.logbook.clone();
            return Live::on_bench(terms, bench, (scanner, logbook), screen.clone());
        }
        Live::on_rig(terms, rig, choice::rig(rig)?, pace, screen.clone())
    }

    /// Ends the running session and leaves its file on the shelf.
    pub(super) fn let_go(&mut self, screen: &egui::Context) {
        if let Some(mut live) = self.live.take() {
            if live.linking().is_some() {
                live.give_up();
            } else {
                let outcome = live.end();
                self.keep(outcome);
                self.look_at_shelf(screen);
            }
        }
        self.model = None;
    }

    /// Opens whatever a file is: a session, a script, or a recording.
    pub(super) fn open(&mut self, path: PathBuf, screen: &egui::Context) {
        let kind = path
            .extension()
            .map(|extension| extension.to_string_lossy().to_lowercase())
            .unwrap_or_default();
        match kind.as_str() {
            "ron" => self.take_script(&path),
            _ if importing::is_recording(&path) => self.read(vec![path], screen),
            _ => self.open_session(path, screen),
        }
    }

    pub(super) fn open_session(&mut self, path: PathBuf, screen: &egui::Context) {
        self.serial += 1;
        let id = self.serial;
        let words = format!("Computing the findings of {}", opened::label_of(&path));
        let job = Job::start(words, screen, move |_| opened::open(&path, id));
        self.opening = self.keep(job);
    }

    /// Moves a recording of the open session, and judges the session again.
    fn move_recording(&mut self, source: String, later_s: f64, screen: &egui::Context) {
        let Some(path) = self.opened.as_ref().map(|opened| opened.path.clone()) else {
            return;
        };
        // A press while the last move is still being judged would be lost or moved twice.
        if self.opening.is_some() {
            return;
        }
        self.serial += 1;
        let id = self.serial;
        let words = format!("Moving {source} and judging again");
        let job = Job::start(words, screen, move |_| {
            crate::importing::nudge(&path, Moved::Named(&source), later_s)?;
            opened::open(&path, id)
        });
        self.opening = self.keep(job);
    }

    pub(super) fn ask(
        &mut self,
        screen: &egui::Context,
        dialog: impl FnOnce() -> Chosen + Send + 'static,
    ) {
        let dialog = Dialog::open(screen, dialog);
        self.dialog = self.keep(dialog);
    }
}
