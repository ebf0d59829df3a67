//! A desk on a stage: inputs that a test can change, wishes that it can read, hands that click.
#![allow(dead_code, reason = "each test uses a part of it")]

use analysis::evidence::Evidence;
use analysis::findings::Findings;
use bench::Model;
use bench::model::FlagView;
use desk::{
    AuditView, CompareView, Desk, DeviceCard, DraftCheck, ImportView, Inputs, Interrupted, Motion,
    Opened, Place, Preferences, Progress, RadioView, RecordingView, Remembered, ReplayView,
    Request, RigCard, RuleCard, ScriptCard, Searching, SelfTest, SheetCard, ShelfRow,
};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use units::{Span, Timestamp};

/// What the desk is shown and what it wished for.
#[derive(Default)]
pub struct Stage {
    pub desk: Option<Desk>,
    pub model: Option<Model>,
    pub opened: Option<(u64, Findings, Evidence)>,
    pub scripts: Vec<ScriptCard>,
    pub rigs: Vec<RigCard>,
    pub shelf: Vec<ShelfRow>,
    /// The sessions that fit the search, in order; all of them if nothing is searched for.
    pub found: Option<Vec<usize>>,
    pub failure: Option<String>,
    pub busy: Option<String>,
    pub wishes: Vec<Request>,
    pub frames: usize,
    pub remembered: Remembered,
    pub flags: Vec<FlagView>,
    pub waiting_rows: usize,
    pub recording_failure: Option<String>,
    pub self_test: Option<SelfTest>,
    pub interrupted: Vec<Interrupted>,
    pub importing: Option<ImportView>,
    pub compared: Option<CompareView>,
    /// The model is a recording that is played again, under this name.
    pub replay: Option<String>,
    pub devices: Vec<DeviceCard>,
    pub searching: Searching,
    pub radio: Option<String>,
    pub audit: Option<AuditView>,
    pub draft: Option<DraftCheck>,
    pub sheets: Vec<SheetCard>,
    pub rule: Option<RuleCard>,
    pub preferences: Preferences,
    pub notice: Option<String>,
    /// Name of the session that is opened; a usual one where it is empty.
    pub label: String,
    /// Whether the session that is opened is one of recordings made elsewhere.
    pub imported: bool,
}

/// What a session is called that was given no name.
const LABEL: &str = "Trainer 7, level sweep";

impl Stage {
    pub fn draw(&mut self, ui: &mut egui::Ui) {
        let desk = self
            .desk
            .get_or_insert_with(|| Desk::new(ui.ctx(), self.remembered));
        let inputs = Inputs {
            model: self.model.as_ref(),
            opened: self.opened.as_ref().map(|(id, findings, evidence)| Opened {
                id: *id,
                label: match self.label.as_str() {
                    "" => LABEL,
                    label => label,
                },
                findings,
                evidence: Some(evidence),
                flags: &self.flags,
                imported: self.imported,
            }),
            scripts: &self.scripts,
            rigs: &self.rigs,
            shelf: &self.shelf,
            found: self.found.as_deref(),
            recording: self.model.as_ref().map(|_| RecordingView {
                file: "2025-03-28-level-sweep.prony",
                waiting: self.waiting_rows,
                failure: self.recording_failure.as_deref(),
            }),
            self_test: self.self_test.as_ref(),
            interrupted: &self.interrupted,
            importing: self.importing.as_ref(),
            compared: self.compared.as_ref(),
            replay: self.replay.as_ref().map(|label| ReplayView {
                label,
                at: Timestamp::from_secs(1480),
                length: Span::from_secs(2040),
                pace: 5,
                motion: Motion::Playing,
            }),
            radio: self.radio.as_deref(),
            devices: RadioView {
                searching: self.searching,
                cards: &self.devices,
                bench: "",
            },
            audit: self.audit.as_ref(),
            draft: self.draft.as_ref(),
            sheets: &self.sheets,
            rule: self.rule.as_ref(),
            preferences: self.preferences,
            notice: self.notice.as_deref(),
            data_folder: "/home/somebody/Documents/workshop/prony",
            today: 20_540,
            version: "0.1.0",
            licences: include_str!("../../../../assets/licences.txt"),
            failure: self.failure.as_deref(),
            busy: self.busy.as_deref().map(|words| Progress {
                words,
                fraction: Some(0.5),
            }),
            ..Inputs::default()
        };
        // The whole window, as in the program; the harness leaves a margin around.
        let whole = ui.ctx().content_rect();
        let mut window = ui.new_child(egui::UiBuilder::new().max_rect(whole));
        window.set_clip_rect(whole);
        desk.ui(&mut window, &inputs, &mut self.wishes);
        self.frames += 1;
    }
}

pub type Play = Harness<'static, Stage>;

/// Opens the desk at a size.
pub fn open(stage: Stage, size: [f32; 2]) -> Play {
    Harness::builder()
        .with_size(size)
        .with_step_dt(0.02)
        .with_context_setup(desk::theme::install)
        .build_ui_state(|ui, stage: &mut Stage| stage.draw(ui), stage)
}

/// Opens the desk with a look, in a window of so many pixels.
pub fn open_with(stage: Stage, size: [f32; 2], remembered: Remembered) -> Play {
    let stage = Stage {
        remembered,
        ..stage
    };
    open(stage, size)
}

/// Opens the desk at its usual size.
pub fn usual(stage: Stage) -> Play {
    open(stage, [1280.0, 800.0])
}

/// Clicks what has this name and gives the wishes since the last look.
pub fn click(play: &mut Play, name: &str) -> Vec<Request> {
    play.get_by_label(name).click();
    play.run();
    wishes(play)
}

/// Presses a key and gives the wishes since the last look.
pub fn press(play: &mut Play, key: egui::Key) -> Vec<Request> {
    play.key_press(key);
    play.run();
    wishes(play)
}

pub fn wishes(play: &mut Play) -> Vec<Request> {
    std::mem::take(&mut play.state_mut().wishes)
}

pub fn place(play: &Play) -> Place {
    play.state()
        .desk
        .as_ref()
        .expect("a frame was drawn")
        .place()
}

pub fn shows(play: &Play, words: &str) -> bool {
    play.query_all_by_label_contains(words).next().is_some()
}

/// The whole name of what begins with these words.
pub fn said(play: &Play, beginning: &str) -> String {
    use egui_kittest::kittest::NodeT;
    play.query_all_by_label_contains(beginning)
        .filter_map(|node| {
            node.accesskit_node()
                .label()
                .or(node.accesskit_node().value())
        })
        .find(|name| name.starts_with(beginning))
        .unwrap_or_else(|| panic!("nothing begins with {beginning:?}"))
}

/// Hangs seven loads on each side of a reference that reads a little high, and writes down what it
/// shows: mass times free fall times arm (a definition), and 0.6 % of it.
pub fn weights_hung(play: &mut Play) {
    press(play, egui::Key::Num1);
    click(play, "Static check with weights");
    for (index, mass) in [5, 10, 15, 20, 15, 10, 5].repeat(2).into_iter().enumerate() {
        let shown = 1.006 * f64::from(mass) * 9.8107 * 0.1725 + 0.02 * (index % 3) as f64;
        let name = format!("Torque shown {}, N·m", index + 1);
        let field = play.get_by_label(&name);
        field.focus();
        field.type_text(&format!("{shown:.2}"));
        play.run();
    }
    let source = play.get_by_label("Weights, place and tester");
    source.focus();
    source.type_text("class M1, left stand, the keeper");
    play.run();
    // Nothing is typed any more.
    press(play, egui::Key::Escape);
}
