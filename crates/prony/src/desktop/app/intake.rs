//! What the threads have finished, what dialogs brought, and what was dropped onto the window.

use super::super::dialogs::Chosen;
use super::super::importing;
use super::super::live::Live;
use super::super::scanner::Seen;
use super::{App, Done};
use crate::places;
use std::path::PathBuf;

impl App {
    /// Takes everything in. Never waits.
    pub(super) fn take_in(&mut self, screen: &egui::Context) {
        self.take_live(screen);
        self.take_replay();
        self.take_radio();
        if let Some(outcome) = self.opening.as_ref().and_then(|job| job.outcome()) {
            self.opening = None;
            if let Some(opened) = self.keep(outcome) {
                self.opened = Some(opened);
            }
        }
        if let Some(look) = self.looking.as_ref().and_then(|looking| looking.newest())
            && let Some(look) = self.keep(look)
        {
            self.take_look(look);
        }
        if let Some(outcome) = self.working.as_ref().and_then(|job| job.outcome()) {
            self.working = None;
            if let Some(done) = self.keep(outcome) {
                self.take_done(done, screen);
            }
        }
        if let Some(chosen) = self.dialog.as_ref().and_then(|dialog| dialog.chosen()) {
            self.dialog = None;
            self.take_chosen(chosen, screen);
        }
        self.take_dropped(screen);
    }

    fn take_live(&mut self, screen: &egui::Context) {
        let Some(live) = &self.live else { return };
        self.model = live.snapshot().or(self.model.take());
        if let Some(outcome) = live.outcome() {
            self.live = None;
            let ended = self.keep(outcome);
            self.look_at_shelf(screen);
            match ended.flatten() {
                Some(path) => self.open_session(path, screen),
                // Nothing was ridden: there is nothing to look at.
                None => self.model = None,
            }
        }
    }

    fn take_replay(&mut self) {
        let Some(replaying) = &self.replaying else {
            return;
        };
        if let Some(shown) = replaying.shown() {
            self.shown = Some(shown);
        }
        if let Some(error) = replaying.failure() {
            self.replaying = None;
            self.shown = None;
            self.failure = Some(format!("{error:#}"));
        }
    }

    fn take_radio(&mut self) {
        let Some(scanner) = &self.scanner else { return };
        let is_over = scanner.is_over();
        self.seen = scanner.seen();
        if is_over {
            self.scanner = None;
            self.seen = Seen {
                words: self.seen.words.take(),
                ..Seen::default()
            };
        }
    }

    fn take_done(&mut self, done: Done, screen: &egui::Context) {
        match done {
            Done::Said(words) => {
                self.notice = Some(words);
                self.look_at_shelf(screen);
            }
            Done::Audited(view) => self.audit = Some(view),
            Done::Compared(compared) => self.compared = Some(*compared),
            Done::Read(recordings) => self.draft(recordings),
            Done::ReadAgain(serial, taken) => {
                if let Some(draft) = &mut self.draft_import {
                    draft.replace(serial, *taken);
                }
            }
            Done::Imported(session, words) => {
                self.draft_import = None;
                self.notice = Some(words);
                self.look_at_shelf(screen);
                self.open_session(session, screen);
            }
        }
    }

    fn take_chosen(&mut self, chosen: Chosen, screen: &egui::Context) {
        let said = match chosen {
            Chosen::Open(Some(path)) => return self.open(path, screen),
            Chosen::SaveReport(Some(path)) => return self.save_report(path, screen),
            Chosen::SavePictures(Some(folder)) => return self.save_pictures(folder, screen),
            Chosen::SaveComparison(Some(path)) => return self.save_comparison(path, screen),
            Chosen::Script(Some(path)) => return self.take_script(&path),
            Chosen::Recordings(paths) if !paths.is_empty() => return self.read(paths, screen),
            Chosen::Export {
                session,
                into: Some(into),
            } => return self.export(session, into, screen),
            Chosen::SavePack(Some(place)) => return self.save_pack(place, screen),
            Chosen::DataFolder(Some(folder)) => return self.take_folder(&folder, screen),
            Chosen::Open(None) | Chosen::Script(None) | Chosen::Recordings(_) => {
                "No file was chosen. Files can also be dropped onto the window."
            }
            Chosen::SaveReport(None) => {
                "No place was chosen; the report was not saved. The key K keeps it beside the \
                 session."
            }
            Chosen::SaveComparison(None) => {
                "No place was chosen; the report was not saved. The key K keeps it beside the \
                 first of the sessions."
            }
            Chosen::SavePictures(None) => "No folder was chosen; the pictures were not saved.",
            Chosen::SavePack(None) => {
                "No place was chosen; nothing was packed. `prony pack` does the same from the \
                 command line."
            }
            Chosen::Export { into: None, .. } => {
                "No folder was chosen; nothing was exported. `prony export` does the same from the \
                 command line."
            }
            Chosen::DataFolder(None) => "No folder was chosen; everything stays where it is.",
        };
        self.notice = Some(said.to_owned());
    }

    fn take_folder(&mut self, folder: &std::path::Path, screen: &egui::Context) {
        let chosen = places::choose_data(folder);
        if self.keep(chosen).is_some() {
            self.notice = Some(format!(
                "Sessions, scripts and benches are kept in {} from now on. What is in the old \
                 folder stays there.",
                folder.display()
            ));
            self.read_folders(screen);
        }
    }

    fn take_dropped(&mut self, screen: &egui::Context) {
        let dropped: Vec<PathBuf> = screen.input(|input| {
            let files = &input.raw.dropped_files;
            files.iter().map(|file| file.path().to_path_buf()).collect()
        });
        let is_recording = |path: &PathBuf| importing::is_recording(path);
        let (recordings, others): (Vec<_>, Vec<_>) = dropped.into_iter().partition(is_recording);
        if !recordings.is_empty() {
            self.read(recordings, screen);
        }
        for path in others {
            self.open(path, screen);
        }
    }

    /// Whether a session rides behind the window.
    pub(super) fn rides(&self) -> bool {
        self.live
            .as_ref()
            .is_some_and(|live| live.linking().is_none())
            || self.live.as_ref().and_then(Live::linking).is_some()
    }
}
