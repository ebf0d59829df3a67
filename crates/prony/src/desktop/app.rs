//! The window's own state, and what becomes of the desk's wishes.

use super::live::Live;
use super::opened::{OpenedSession, Opening};
use super::shelf::Looking;
use super::{cards, memory};
use anyhow::Result;
use bench::Model;
use crossbeam_channel::{Receiver, bounded};
use desk::{Desk, Inputs, Opened, Progress, Remembered, Request, RigCard, ScriptCard, ShelfRow};
use std::path::PathBuf;

/// What the window says about radios until real instruments can be linked from it.
const RADIO: &str = "Real instruments cannot be linked from the desktop yet; the simulated bench \
                     works without a radio.";

/// The window.
pub struct App {
    desk: Desk,
    look: Remembered,
    scripts: Vec<ScriptCard>,
    rigs: Vec<RigCard>,
    shelf: Vec<ShelfRow>,
    live: Option<Live>,
    model: Option<Model>,
    opened: Option<OpenedSession>,
    opening: Option<Opening>,
    looking: Option<Looking>,
    dialog: Option<Receiver<Chosen>>,
    failure: Option<String>,
    notice: Option<String>,
    opened_so_far: u64,
    self_test: Option<desk::SelfTest>,
}

/// What came of a file dialog.
enum Chosen {
    Open(Option<PathBuf>),
    SaveReport(Option<PathBuf>),
    SavePictures(Option<PathBuf>),
}

impl App {
    /// A window at the beginning of the work.
    pub fn new(creation: &eframe::CreationContext<'_>) -> Self {
        let look = memory::recall();
        let mut app = Self {
            desk: Desk::new(&creation.egui_ctx, look),
            look,
            scripts: cards::scripts(),
            rigs: cards::rigs(),
            shelf: Vec::new(),
            live: None,
            model: None,
            opened: None,
            opening: None,
            looking: None,
            dialog: None,
            failure: None,
            notice: None,
            opened_so_far: 0,
            self_test: super::sureness::recall(),
        };
        app.look_at_shelf(&creation.egui_ctx);
        app
    }

    fn look_at_shelf(&mut self, screen: &egui::Context) {
        self.looking = self.keep(Looking::start(screen.clone()));
    }

    /// The value, or `None` with the failure shown.
    fn keep<T>(&mut self, outcome: Result<T>) -> Option<T> {
        outcome
            .map_err(|error| self.failure = Some(format!("{error:#}")))
            .ok()
    }

    fn obey(&mut self, request: Request, screen: &egui::Context) {
        match request {
            Request::Bench(command) => {
                if let Some(live) = &self.live {
                    live.command(command);
                }
            }
            Request::StartSession { script, rig, pace } => {
                self.let_go(screen);
                self.model = None;
                self.live = self.keep(Live::start(&script, &rig, pace, screen.clone()));
            }
            Request::CloseSession => self.let_go(screen),
            Request::OpenSession => self.ask(screen, || {
                Chosen::Open(
                    rfd::FileDialog::new()
                        .set_title("Open a session")
                        .add_filter("Prony session", &[session::EXTENSION])
                        .pick_file(),
                )
            }),
            Request::OpenShelved(key) => self.open(PathBuf::from(key), screen),
            Request::SaveReport => {
                let name = self
                    .opened
                    .as_ref()
                    .map(|opened| format!("{}.html", opened.label));
                self.ask(screen, move || {
                    Chosen::SaveReport(
                        rfd::FileDialog::new()
                            .set_title("Save the report")
                            .set_file_name(name.unwrap_or_default())
                            .add_filter("Report", &["html"])
                            .save_file(),
                    )
                });
            }
            Request::SavePictures => self.ask(screen, || {
                Chosen::SavePictures(
                    rfd::FileDialog::new()
                        .set_title("A folder for the pictures")
                        .pick_folder(),
                )
            }),
            Request::CancelWork => self.opening = None,
            Request::DismissFailure => self.failure = None,
            Request::DismissNotice => self.notice = None,
            Request::RememberTheme(theme) => {
                self.look.theme = theme;
                memory::remember(&self.look);
            }
            Request::RememberTextSize(text_pct) => {
                self.look.text_pct = text_pct;
                memory::remember(&self.look);
            }
        }
    }

    /// Ends the running session and leaves its file on the shelf.
    fn let_go(&mut self, screen: &egui::Context) {
        if let Some(mut live) = self.live.take() {
            let outcome = live.end();
            self.keep(outcome);
            self.look_at_shelf(screen);
        }
        self.model = None;
    }

    fn open(&mut self, path: PathBuf, screen: &egui::Context) {
        self.opened_so_far += 1;
        self.opening = self.keep(Opening::start(path, self.opened_so_far, screen.clone()));
    }

    /// Asks for a file on a thread of its own where the system allows that; a dialog may stand
    /// open for minutes, and a session may be running behind it.
    fn ask(&mut self, screen: &egui::Context, dialog: impl FnOnce() -> Chosen + Send + 'static) {
        let (tell, chosen) = bounded(1);
        if cfg!(target_os = "macos") {
            // A system rule: dialogs belong to the main thread there.
            let _ = tell.send(dialog());
        } else {
            let screen = screen.clone();
            let started = std::thread::Builder::new()
                .name("dialog".to_owned())
                .spawn(move || {
                    let _ = tell.send(dialog());
                    screen.request_repaint();
                });
            self.keep(started.map_err(Into::into));
        }
        self.dialog = Some(chosen);
    }

    /// Takes in what the threads have finished.
    fn take_in(&mut self, screen: &egui::Context) {
        if let Some(live) = &self.live {
            self.model = live.snapshot().or(self.model.take());
            if let Some(outcome) = live.outcome() {
                self.live = None;
                if let Some(path) = self.keep(outcome) {
                    self.look_at_shelf(screen);
                    self.open(path, screen);
                }
            }
        }
        if let Some(outcome) = self.opening.as_ref().and_then(Opening::outcome) {
            self.opening = None;
            if let Some(opened) = self.keep(outcome) {
                self.opened = Some(opened);
            }
        }
        if let Some(rows) = self.looking.as_ref().and_then(Looking::rows) {
            self.looking = None;
            self.shelf = rows;
        }
        if let Some(chosen) = self
            .dialog
            .as_ref()
            .and_then(|dialog| dialog.try_recv().ok())
        {
            self.dialog = None;
            match chosen {
                Chosen::Open(Some(path)) => self.open(path, screen),
                Chosen::SaveReport(Some(path)) => self.save_report(&path),
                Chosen::SavePictures(Some(folder)) => self.save_pictures(&folder),
                Chosen::SavePictures(None) => {
                    self.notice =
                        Some("No folder was chosen; the pictures were not saved.".to_owned());
                }
                Chosen::Open(None) => {
                    self.notice = Some(
                        "No file was chosen. A session file can also be dropped onto the window."
                            .to_owned(),
                    );
                }
                Chosen::SaveReport(None) => {
                    self.notice = Some("No place was chosen; the report was not saved.".to_owned());
                }
            }
        }
        let dropped = screen.input(|input| {
            input
                .raw
                .dropped_files
                .iter()
                .map(|file| file.path().to_path_buf())
                .next_back()
        });
        if let Some(path) = dropped {
            self.open(path, screen);
        }
    }

    fn save_pictures(&mut self, folder: &std::path::Path) {
        let Some(opened) = &self.opened else { return };
        let saved = super::pictures::save(&opened.facts, &opened.findings, folder);
        if let Some(count) = self.keep(saved) {
            self.notice = Some(format!(
                "{count} pictures are saved in {}.",
                folder.display()
            ));
        }
    }

    fn save_report(&mut self, path: &std::path::Path) {
        let Some(opened) = &self.opened else { return };
        let text = report::html(&opened.facts, &opened.findings);
        let saved = crate::cli::write_file(path, text);
        if self.keep(saved).is_some() {
            self.notice = Some(format!("The report is saved as {}.", path.display()));
        }
    }
}

impl eframe::App for App {
    fn logic(&mut self, screen: &egui::Context, _frame: &mut eframe::Frame) {
        self.take_in(screen);
    }

    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        let mut requests = Vec::new();
        let inputs = Inputs {
            model: self.model.as_ref(),
            opened: self.opened.as_ref().map(|opened| Opened {
                id: opened.id,
                label: &opened.label,
                findings: &opened.findings,
                evidence: Some(&opened.evidence),
            }),
            scripts: &self.scripts,
            rigs: &self.rigs,
            shelf: &self.shelf,
            radio: Some(RADIO),
            self_test: self.self_test.as_ref(),
            busy: self.opening.as_ref().map(|opening| Progress {
                words: &opening.words,
                fraction: None,
            }),
            failure: self.failure.as_deref(),
            notice: self.notice.as_deref(),
            ..Inputs::default()
        };
        self.desk.ui(ui, &inputs, &mut requests);
        for request in requests {
            let screen = ui.ctx().clone();
            self.obey(request, &screen);
        }
    }

    fn on_exit(&mut self, _gl: Option<&eframe::glow::Context>) {
        // A closed window must not leave the brake loaded or the file open.
        if let Some(mut live) = self.live.take() {
            let _ = live.end();
        }
    }
}
