//! On which bench a script is ridden, and how fast simulated time goes.

use super::State;
use super::limits::limits_ui;
use crate::inputs::{Inputs, told};
use crate::parts::{self, Chosen, Voice, control, words};
use crate::request::{Pace, Request};
use crate::theme::{self, tokens};
use bench::model::Phase;
use egui::Ui;

/// Draws the choice of a bench.
pub(super) fn bench_ui(ui: &mut Ui, inputs: &Inputs<'_>, state: &mut State) {
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
            let second = match card.simulated {
                true => format!("simulated bench · {}", card.name),
                false => format!("real instruments · {} of them", card.instruments.len()),
            };
            let chosen: Chosen = (card.name == rig.name).into();
            if control::choice_row(ui, chosen, &card.title, &second).clicked() {
                choice = Some(card.name.clone());
            }
        }
    });
    ui.add_space(tokens::GRID);
    parts::quiet(ui, &told(ui, &rig.about));
    for instrument in &rig.instruments {
        parts::line(ui, instrument);
    }
    if choice.is_some() {
        state.rig = choice;
    }
}

/// Draws the control that begins, and how fast simulated time goes.
pub(super) fn start_ui(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    state: &mut State,
    out: &mut Vec<Request>,
) {
    let Some(rig) = state.rig(inputs.rigs) else {
        return;
    };
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
    if inputs.replay.is_some() {
        parts::quiet(
            ui,
            "A session is played again. Close the replay, below, to ride.",
        );
    } else if let Some(model) = inputs.model {
        if matches!(model.phase, Phase::Ended { .. }) {
            parts::quiet(
                ui,
                "The last session is over. Let the bench go, below, to ride again.",
            );
        } else {
            limits_ui(ui, model, out);
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
}
