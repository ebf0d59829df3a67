//! What is chosen below the charts: the stretch of time, the window of means, and the present.

use super::State;
use super::window::Window;
use crate::chart::time_axis::STRETCHES;
use crate::parts::{self, Voice, control};
use crate::theme::tokens;
use egui::{Layout, Ui};

/// As many lines as the choices below the charts need.
pub(super) fn lines(ui: &Ui) -> u8 {
    let stretches = control::words_width(ui, &STRETCHES.map(|(name, _)| name));
    let windows = control::words_width(ui, &Window::ALL.map(Window::words));
    let follow = control::button_width(ui, FOLLOW, "", Voice::Plain);
    let room = ui.available_width();
    match stretches + tokens::GAP + windows {
        both if both + tokens::GRID + follow <= room => 1,
        both if both <= room => 2,
        _ => 3,
    }
}

const FOLLOW: &str = "Back to the present";

/// Chooses the stretch of time and the window of means, and leads back to the present.
pub(super) fn choose_ui(ui: &mut Ui, state: &mut State, lines: u8) {
    if lines == 3 {
        stretches(ui, state);
        windows(ui, state);
        ui.horizontal(|ui| follow(ui, state));
        return;
    }
    ui.horizontal(|ui| {
        ui.set_height(tokens::CONTROL);
        stretches(ui, state);
        ui.add_space(tokens::GAP);
        windows(ui, state);
        if lines == 1 {
            let right = Layout::right_to_left(egui::Align::Center);
            ui.with_layout(right, |ui| follow(ui, state));
        }
    });
    if lines == 2 {
        ui.horizontal(|ui| follow(ui, state));
    }
}

fn stretches(ui: &mut Ui, state: &mut State) {
    let chosen = STRETCHES
        .iter()
        .position(|(_, stretch)| *stretch == state.axis.stretch());
    let names = STRETCHES.map(|(name, _)| name);
    if let Some(index) = control::words_row(ui, &names, chosen) {
        state.axis.choose(STRETCHES[index].1);
    }
}

fn windows(ui: &mut Ui, state: &mut State) {
    let chosen = Window::ALL.iter().position(|one| *one == state.window);
    let names = Window::ALL.map(Window::words);
    if let Some(index) = control::words_row(ui, &names, chosen) {
        state.window = Window::ALL[index];
    }
}

fn follow(ui: &mut Ui, state: &mut State) {
    ui.set_height(tokens::CONTROL);
    if state.axis.follows() {
        parts::quiet_line(ui, "follows the present");
        return;
    }
    // A key that does not fit beside its words stands in the list of keys.
    let fits = control::button_width(ui, FOLLOW, "End", Voice::Plain) <= ui.available_width();
    let key = if fits { "End" } else { "" };
    if parts::button(ui, FOLLOW, key, Voice::Plain).clicked() {
        state.axis.follow();
    }
}
