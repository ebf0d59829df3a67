//! The window's own state, and how one frame is drawn from it.

mod intake;
mod obey;
mod radio;
mod recordings;
mod saving;
mod scripts;
mod shelf;
mod working;

use super::dialogs::Dialog;
use super::jobs::Job;
use super::live::Live;
use super::logbook::Logbook;
use super::memory::{self, Memory};
use super::opened::OpenedSession;
use super::replay::{Replaying, Shown};
use super::scanner::{Scanner, Seen};
use super::{cards, importing, library, shelf as rows, sureness};
use crate::clock::wall_now;
use crate::comparing::Compilation;
use crate::places;
use anyhow::Result;
use bench::Model;
use desk::{
    AuditView, CompareView, Desk, DraftCheck, Inputs, Interrupted, Opened, Order, Progress,
    RadioView, ReplayView, RigCard, RuleCard, ScriptCard, Searching, SheetCard, ShelfRow,
};
use session::shelf::ShelfItem;
use std::path::PathBuf;
use std::sync::Arc;

/// The licences of everything in the program.
const LICENCES: &str = include_str!("../../../../../assets/licences.txt");

/// The window.
pub struct App {
    desk: Desk,
    memory: Memory,
    scripts: Vec<ScriptCard>,
    rigs: Vec<RigCard>,
    sheets: Vec<SheetCard>,
    rule: Option<library::Rule>,
    rule_card: RuleCard,
    draft: Option<DraftCheck>,
    shelf: Vec<ShelfRow>,
    /// What is known of each session of the shelf.
    items: Vec<ShelfItem>,
    /// What is searched for, and the order.
    search: (String, Order),
    /// The places of the sessions that fit, in order.
    found: Vec<usize>,
    interrupted: Vec<Interrupted>,
    /// Recordings that are about to become a session.
    draft_import: Option<importing::Draft>,
    compared: Option<Compared>,
    live: Option<Live>,
    replaying: Option<Replaying>,
    shown: Option<Shown>,
    model: Option<Model>,
    opened: Option<OpenedSession>,
    scanner: Option<Scanner>,
    logbook: Logbook,
    seen: Seen,
    bench: String,
    audit: Option<AuditView>,
    opening: Option<Job<OpenedSession>>,
    looking: Option<rows::Looking>,
    working: Option<Job<Done>>,
    dialog: Option<Dialog>,
    data_folder: String,
    failure: Option<String>,
    notice: Option<String>,
    serial: u64,
    title: String,
    self_test: Option<desk::SelfTest>,
}

/// Sessions side by side, with what a report of them is written from.
struct Compared {
    compiled: Arc<Compilation>,
    view: CompareView,
}

/// What came of a piece of long work.
enum Done {
    /// Something to be said, and the shelf to be looked at again.
    Said(String),
    /// An audit.
    Audited(AuditView),
    /// Sessions side by side.
    Compared(Box<Compared>),
    /// Recordings that were read.
    Read(Vec<importing::Taken>),
    /// A recording that was read again, by its serial number.
    ReadAgain(u64, Box<importing::Taken>),
    /// Recordings are a session now; what is to be said of it.
    Imported(PathBuf, String),
}

impl App {
    /// A window at the beginning of the work.
    pub fn new(creation: &eframe::CreationContext<'_>, memory: Memory) -> Self {
        let mut app = Self {
            desk: Desk::new(&creation.egui_ctx, memory.look),
            memory,
            scripts: Vec::new(),
            rigs: Vec::new(),
            sheets: Vec::new(),
            rule: None,
            rule_card: RuleCard::default(),
            draft: None,
            shelf: Vec::new(),
            items: Vec::new(),
            search: <(String, Order)>::default(),
            found: Vec::new(),
            interrupted: Vec::new(),
            draft_import: None,
            compared: None,
            live: None,
            replaying: None,
            shown: None,
            model: None,
            opened: None,
            scanner: None,
            logbook: Logbook::default(),
            seen: Seen::default(),
            bench: String::new(),
            audit: None,
            opening: None,
            looking: None,
            working: None,
            dialog: None,
            data_folder: String::new(),
            failure: None,
            notice: None,
            serial: 0,
            title: "Prony".to_owned(),
            self_test: sureness::recall(),
        };
        app.read_folders(&creation.egui_ctx);
        app
    }

    /// Everything that lies in the data folder, anew.
    fn read_folders(&mut self, screen: &egui::Context) {
        self.data_folder = self
            .keep(places::data())
            .map(|folder| folder.display().to_string())
            .unwrap_or_default();
        self.scripts = library::scripts();
        self.rigs = cards::rigs();
        self.read_rule();
        self.look_at_shelf(screen);
    }

    /// The claim sheets and the rule, anew.
    fn read_rule(&mut self) {
        let tolerance_pct = self.memory.preferences.tolerance_pct;
        let chosen = self.memory.sheet.clone();
        self.sheets = library::sheets(chosen.as_deref(), tolerance_pct);
        let rule = self.keep(library::rule(chosen.as_deref(), tolerance_pct));
        if let Some(rule) = rule {
            self.serial += 1;
            self.rule_card = library::rule_card(&rule, self.serial);
            self.rule = Some(rule);
        }
    }

    /// The value, or `None` with the failure shown.
    fn keep<T>(&mut self, outcome: Result<T>) -> Option<T> {
        outcome
            .map_err(|error| self.failure = Some(format!("{error:#}")))
            .ok()
    }

    fn remember(&self) {
        memory::remember(&self.memory);
    }

    /// What is going on, in words, and how much of it is done.
    fn progress(&self) -> Option<(String, Option<f32>)> {
        let linking = self.live.as_ref().and_then(Live::linking);
        let opening = || Some((self.opening.as_ref()?.words.clone(), None));
        let working = || {
            let job = self.working.as_ref()?;
            Some((job.words.clone(), job.fraction()))
        };
        linking
            .map(|words| (words, None))
            .or_else(opening)
            .or_else(working)
    }

    /// The size of the window, to be as large at the next start.
    fn note_window(&mut self, screen: &egui::Context) {
        let (size, is_maximized) = screen.input(|input| {
            let view = input.viewport();
            (
                view.inner_rect.map(|rect| [rect.width(), rect.height()]),
                view.maximized.unwrap_or(false),
            )
        });
        self.memory.is_maximized = is_maximized;
        if !is_maximized && size.is_some() {
            // Sizes are kept in points of a text size of 100 %.
            let zoom = screen.zoom_factor();
            self.memory.window = size.map(|size| size.map(|side| (side * zoom).round()));
        }
    }
}

impl eframe::App for App {
    fn logic(&mut self, screen: &egui::Context, _frame: &mut eframe::Frame) {
        self.take_in(screen);
        self.note_window(screen);
    }

    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        let mut requests = Vec::new();
        let progress = self.progress();
        let replay = self.replaying.as_ref().zip(self.shown.as_ref());
        let searching = match &self.scanner {
            Some(_) => self.seen.searching,
            None => Searching::No,
        };
        let inputs = Inputs {
            model: replay.map_or(self.model.as_ref(), |(_, shown)| Some(&shown.model)),
            opened: self.opened.as_ref().map(|opened| Opened {
                id: opened.id,
                label: &opened.label,
                findings: &opened.findings,
                evidence: Some(&opened.evidence),
                flags: &opened.flags,
                imported: opened.imported,
            }),
            scripts: &self.scripts,
            rigs: &self.rigs,
            shelf: &self.shelf,
            found: Some(&self.found),
            interrupted: &self.interrupted,
            importing: self.draft_import.as_ref().map(importing::Draft::view),
            compared: self.compared.as_ref().map(|compared| &compared.view),
            replay: replay.map(|(replaying, shown)| ReplayView {
                label: &replaying.label,
                at: shown.at,
                length: shown.length,
                pace: shown.pace,
                motion: shown.motion,
            }),
            recording: self.live.as_ref().and_then(Live::recording),
            self_test: self.self_test.as_ref(),
            radio: self.seen.words.as_deref(),
            devices: RadioView {
                searching,
                cards: &self.seen.cards,
                bench: &self.bench,
            },
            audit: self.audit.as_ref(),
            draft: self.draft.as_ref(),
            sheets: &self.sheets,
            rule: self.rule.is_some().then_some(&self.rule_card),
            preferences: self.memory.preferences,
            data_folder: &self.data_folder,
            today: today(),
            version: env!("CARGO_PKG_VERSION"),
            licences: LICENCES,
            busy: progress.as_ref().map(|(words, fraction)| Progress {
                words,
                fraction: *fraction,
            }),
            failure: self.failure.as_deref(),
            notice: self.notice.as_deref(),
            ..Inputs::default()
        };
        self.desk.ui(ui, &inputs, &mut requests);
        let title = self.desk.title(&inputs);
        if title != self.title {
            let send = egui::ViewportCommand::Title(title.clone());
            ui.ctx().send_viewport_cmd(send);
            self.title = title;
        }
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
        self.remember();
    }
}

/// Today, days since 1970-01-01.
fn today() -> i64 {
    wall_now().date_naive().to_epoch_days().into()
}

#[cfg(test)]
mod tests;
