//! Script: what is ridden, on which bench, and how fast simulated time goes.

use crate::desk::start_request;
use crate::inputs::{Inputs, RigCard, ScriptCard};
use crate::parts::table::{self, Width};
use crate::parts::{self, Chosen, Voice, control, words};
use crate::request::{Pace, Request};
use crate::theme::{self, tokens};
use bench::model::{Phase, PlannedStepView};
use egui::{Frame, Margin, Panel, ScrollArea, Sense, Ui};

/// What is chosen. Without a choice the first of each list counts.
#[derive(Debug, Default)]
pub(crate) struct State {
    script: Option<String>,
    rig: Option<String>,
    pace: Pace,
}

impl State {
    fn script<'a>(&self, scripts: &'a [ScriptCard]) -> Option<&'a ScriptCard> {
        let chosen = self.script.as_deref();
        scripts
            .iter()
            .find(|card| Some(card.view.name.as_str()) == chosen)
            .or(scripts.first())
    }

    fn rig<'a>(&self, rigs: &'a [RigCard]) -> Option<&'a RigCard> {
        let chosen = self.rig.as_deref();
        rigs.iter()
            .find(|card| Some(card.name.as_str()) == chosen)
            .or(rigs.first())
    }

    fn pace(&self, rig: &RigCard) -> Pace {
        if rig.simulated {
            self.pace
        } else {
            Pace::RealTime
        }
    }

    /// Asks for a session with what is chosen, if it can be ridden.
    pub(crate) fn start(&self, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
        let (Some(script), Some(rig)) = (self.script(inputs.scripts), self.rig(inputs.rigs)) else {
            return;
        };
        if script.problem.is_none() && inputs.model.is_none() && inputs.busy.is_none() {
            out.push(start_request(&script.view.name, &rig.name, self.pace(rig)));
        }
    }
}

/// Draws the place.
pub(crate) fn script_ui(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    state: &mut State,
    out: &mut Vec<Request>,
) {
    if inputs.scripts.is_empty() {
        parts::page(ui, "no scripts", |ui| {
            parts::empty(
                ui,
                "No scripts",
                "The built-in scripts could not be read. Reinstall the program, or put a script \
                 file into the data folder.",
            );
        });
        return;
    }
    let list = (0.3 * ui.available_width()).clamp(22.0 * tokens::GRID, 38.0 * tokens::GRID);
    let frame = Frame::new().inner_margin(Margin {
        left: 24,
        right: 0,
        top: 24,
        bottom: 0,
    });
    Panel::left("scripts")
        .exact_size(list)
        .resizable(false)
        .show_separator_line(false)
        .frame(frame)
        .show(ui, |ui| list_ui(ui, inputs, state));
    let Some(script) = state.script(inputs.scripts) else {
        return;
    };
    parts::page(ui, "script", |ui| {
        let wide = ui.available_width() > 84.0 * tokens::GRID;
        if wide {
            let side = 38.0 * tokens::GRID;
            let steps = ui.available_width() - side - 2.0 * tokens::GAP;
            ui.horizontal_top(|ui| {
                ui.spacing_mut().item_spacing.x = 2.0 * tokens::GAP;
                ui.vertical(|ui| {
                    ui.set_width(steps);
                    about_ui(ui, script);
                    steps_ui(ui, script);
                });
                ui.vertical(|ui| {
                    ui.set_width(side);
                    start_ui(ui, inputs, state, out);
                });
            });
        } else {
            about_ui(ui, script);
            start_ui(ui, inputs, state, out);
            ui.add_space(tokens::GAP);
            steps_ui(ui, script);
        }
    });
}

fn list_ui(ui: &mut Ui, inputs: &Inputs<'_>, state: &mut State) {
    parts::heading(ui, "Scripts");
    ui.add_space(tokens::GRID);
    ScrollArea::vertical()
        .id_salt("script list")
        .auto_shrink([false, false])
        .show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 2.0;
            let chosen = state
                .script(inputs.scripts)
                .map(|card| card.view.name.clone());
            for card in inputs.scripts {
                let is_chosen = chosen.as_deref() == Some(card.view.name.as_str());
                let second = match &card.problem {
                    Some(_) => "cannot be ridden".to_owned(),
                    None => format!("{} · {}", words::length(card.view.total), card.view.name),
                };
                if control::choice_row(ui, is_chosen.into(), &card.view.title, &second).clicked() {
                    state.script = Some(card.view.name.clone());
                }
            }
        });
}

fn about_ui(ui: &mut Ui, script: &ScriptCard) {
    parts::heading(ui, &script.view.title);
    ui.add_space(0.5 * tokens::GRID);
    parts::paragraph(ui, &script.about);
    ui.add_space(tokens::GRID);
    ui.horizontal_top(|ui| {
        ui.spacing_mut().item_spacing.x = 2.0 * tokens::GAP;
        let steps = script.view.steps.len();
        for (label, value) in [
            ("Length", words::length(script.view.total)),
            ("Steps", steps.to_string()),
            ("Effort", script.effort.clone()),
        ] {
            parts::fact(ui, label, &value);
        }
    });
    ui.add_space(tokens::GAP);
}

fn steps_ui(ui: &mut Ui, script: &ScriptCard) {
    if let Some(problem) = &script.problem {
        parts::caption(ui, "This script cannot be ridden");
        parts::paragraph(ui, problem);
        return;
    }
    let columns = [
        table::numbers("From", 48.0),
        table::words("Step", Width::Share(1.0)),
        table::numbers("Target", 96.0),
        table::numbers("Length", 72.0),
    ];
    ui.spacing_mut().item_spacing.y = 0.0;
    table::head(ui, &columns);
    for step in &script.view.steps {
        let texts = [
            words::clock(step.begins.as_secs_f64()),
            step.title.clone(),
            target(step).unwrap_or_else(|| words::NOTHING.to_owned()),
            step.length
                .map_or_else(|| "open end".to_owned(), words::length),
        ];
        table::text_row(ui, &columns, &texts, Sense::hover());
    }
}

/// The target of a planned step in words.
pub(crate) fn target(step: &PlannedStepView) -> Option<String> {
    let [from, to] = step.target_w?;
    Some(if (from - to).abs() < 0.5 {
        words::watts(from)
    } else {
        format!("{} → {}", words::whole(from), words::watts(to))
    })
}

fn start_ui(ui: &mut Ui, inputs: &Inputs<'_>, state: &mut State, out: &mut Vec<Request>) {
    parts::heading(ui, "Ride it on");
    ui.add_space(0.5 * tokens::GRID);
    let Some(rig) = state.rig(inputs.rigs) else {
        parts::quiet(
            ui,
            "There is no bench yet. Connect your instruments under Bench.",
        );
        return;
    };
    let mut choice = None;
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 2.0;
        for card in inputs.rigs {
            let kind = if card.simulated {
                "simulated bench"
            } else {
                "connected bench"
            };
            let second = format!("{kind} · {}", card.name);
            let chosen: Chosen = (card.name == rig.name).into();
            if control::choice_row(ui, chosen, &card.title, &second).clicked() {
                choice = Some(card.name.clone());
            }
        }
    });
    ui.add_space(tokens::GRID);
    parts::quiet(ui, &rig.about);
    for instrument in &rig.instruments {
        parts::line(ui, instrument);
    }
    ui.add_space(tokens::GAP);
    if rig.simulated {
        parts::quiet_line(ui, "Simulated time");
        let chosen = Pace::ALL.iter().position(|pace| *pace == state.pace);
        if let Some(index) = control::words_row(ui, &["As the clock", "× 10", "× 60"], chosen) {
            state.pace = Pace::ALL[index];
        }
        ui.add_space(tokens::GRID);
    }
    let words = if rig.simulated {
        "Ride on the simulated bench"
    } else {
        "Ride on this bench"
    };
    if let Some(model) = inputs.model {
        if matches!(model.phase, Phase::Ended { .. }) {
            parts::quiet(
                ui,
                "The last session is over. Let the bench go, below, to ride again.",
            );
        } else {
            parts::quiet(
                ui,
                "A session is open. End it under Run before the next one.",
            );
        }
    } else if inputs.busy.is_some() {
        parts::quiet(ui, "One moment: other work is not finished yet.");
    } else if state
        .script(inputs.scripts)
        .is_some_and(|script| script.problem.is_none())
        && parts::button(ui, words, "Enter", Voice::Primary).clicked()
    {
        state.start(inputs, out);
    }
    if rig.simulated {
        let pace = state.pace(rig).factor();
        if let Some(script) = state.script(inputs.scripts) {
            let real = script.view.total / i64::from(pace);
            ui.add_space(0.5 * tokens::GRID);
            let ink = theme::tokens(ui).quiet;
            let text = format!("Nobody has to pedal. It takes {}.", words::length(real));
            ui.label(egui::RichText::new(text).color(ink));
        }
    }
    if choice.is_some() {
        state.rig = choice;
    }
}
