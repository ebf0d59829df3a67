//! Shows the desk over invented data, so that it can be looked at without the rest of the program.
//!
//! `cargo run -p desk --example look -- PLACE [light|dark] [TEXT %] [WIDTH HEIGHT]` with a place of:
//! bench, script, cautions, ready, run, prompt, paused, ended, crowded, far, keys, findings,
//! examinations, recording, lens, shelf, no-bench, no-run, no-findings, no-shelf, failure, busy.

#[path = "../tests/sample/mod.rs"]
mod sample;

use analysis::evidence::Evidence;
use analysis::findings::Findings;
use bench::Model;
use bench::model::Phase;
use desk::{
    Desk, Inputs, Opened, Place, Progress, Remembered, RigCard, ScriptCard, ShelfRow, ThemeChoice,
};
use eframe::egui;

struct Look {
    desk: Desk,
    model: Option<Model>,
    opened: Option<(Findings, Evidence)>,
    scripts: Vec<ScriptCard>,
    rigs: Vec<RigCard>,
    shelf: Vec<ShelfRow>,
    scene: String,
    script: Vec<egui::Key>,
    frames: u32,
}

impl Look {
    fn new(ctx: &egui::Context, scene: &str, theme: ThemeChoice, text_pct: u16) -> Self {
        let model = match scene {
            "cautions" => Some(sample::in_phase(Phase::Cautions)),
            "ready" => Some(sample::in_phase(Phase::Ready)),
            "run" | "far" | "keys" | "bench" | "follow" => Some(sample::riding(1480)),
            "prompt" => Some(sample::prompted()),
            "paused" => Some(sample::in_phase(Phase::Paused {
                reason: "you asked for it".into(),
            })),
            "ended" => Some(sample::in_phase(Phase::Ended {
                reason: "the script is done".into(),
            })),
            "crowded" => Some(sample::crowded()),
            _ => None,
        };
        let opened = match scene {
            "findings" | "examinations" | "recording" | "lens" => {
                let evidence = sample::findings::evidence(1.035);
                Some((sample::findings::findings(&evidence), evidence))
            }
            _ => None,
        };
        let mut desk = Desk::new(ctx, Remembered { theme, text_pct });
        desk.go(match scene {
            "bench" | "no-bench" => Place::Bench,
            "no-run" => Place::Run,
            "no-findings" => Place::Findings,
            "shelf" | "no-shelf" => Place::Shelf,
            _ => Place::Script,
        });
        let script = match scene {
            "far" => vec![egui::Key::F],
            "keys" => vec![egui::Key::F1],
            "bench" => vec![egui::Key::Num1],
            _ => Vec::new(),
        };
        Self {
            desk,
            model,
            opened,
            scripts: sample::scripts(),
            rigs: sample::rigs(),
            shelf: if scene == "shelf" {
                sample::shelf(1000)
            } else {
                Vec::new()
            },
            scene: scene.to_owned(),
            script,
            frames: 0,
        }
    }
}

impl eframe::App for Look {
    fn raw_input_hook(&mut self, _ctx: &egui::Context, input: &mut egui::RawInput) {
        if self.frames == 2 {
            for key in self.script.drain(..) {
                input.events.push(egui::Event::Key {
                    key,
                    physical_key: None,
                    pressed: true,
                    repeat: false,
                    modifiers: egui::Modifiers::NONE,
                });
            }
        }
    }

    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        self.frames += 1;
        if self.frames < 4 {
            ui.ctx().request_repaint();
        }
        let inputs = Inputs {
            model: self.model.as_ref(),
            opened: self.opened.as_ref().map(|(findings, evidence)| Opened {
                id: 1,
                label: "Trainer 7, level sweep, run 4",
                findings,
                evidence: Some(evidence),
                flags: &[],
                imported: false,
            }),
            scripts: &self.scripts,
            rigs: &self.rigs,
            shelf: &self.shelf,
            radio: Some("No Bluetooth adapter was found. The simulated bench works without one."),
            failure: (self.scene == "failure")
                .then_some("The session file could not be opened: it is not a Prony session."),
            busy: (self.scene == "busy").then_some(Progress {
                words: "Computing the findings",
                fraction: Some(0.4),
            }),
            ..Inputs::default()
        };
        let mut wishes = Vec::new();
        self.desk.ui(ui, &inputs, &mut wishes);
    }
}

fn main() -> eframe::Result {
    let mut arguments = std::env::args().skip(1);
    let scene = arguments.next().unwrap_or_else(|| "run".into());
    let theme = match arguments.next().as_deref() {
        Some("dark") => ThemeChoice::Dark,
        _ => ThemeChoice::Light,
    };
    let text_pct = arguments
        .next()
        .and_then(|text| text.parse().ok())
        .unwrap_or(100);
    let width = arguments
        .next()
        .and_then(|text| text.parse().ok())
        .unwrap_or(1280.0);
    let height = arguments
        .next()
        .and_then(|text| text.parse().ok())
        .unwrap_or(800.0);
    let options = eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_inner_size([width, height])
            .with_position([0.0, 0.0])
            .with_decorations(false),
        ..eframe::NativeOptions::default()
    };
    eframe::run_native(
        "Prony",
        options,
        Box::new(move |context| {
            Ok(Box::new(Look::new(
                &context.egui_ctx,
                &scene,
                theme,
                text_pct,
            )))
        }),
    )
}
