//! Shelf: the saved sessions – brought in, found, opened, played again, put side by side, given away.

mod compare;
mod importing;
mod particulars;
mod rows;
mod session;
mod state;

use self::particulars::particulars;
use crate::inputs::{CompareView, Inputs, SpeedUnit};
use crate::parts::{self, Voice, field};
use crate::request::{ImportWish, Request, ShelfWish};
use crate::sheet::key_map::Stays;
use crate::theme::tokens;
use egui::{Frame, Margin, Panel, Ui};
pub(crate) use state::State;
use state::{COMPARED, oldest_first};
use std::borrow::Cow;

/// Draws the place.
pub(crate) fn shelf_ui(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    state: &mut State,
    out: &mut Vec<Request>,
) {
    if let Some(view) = state.import(inputs) {
        if importing::import_ui(ui, view, out) == Stays::No {
            state.lay_import_aside(inputs);
        }
        return;
    }
    if let Some(compared) = inputs.compared {
        let compared = told_compare(SpeedUnit::current(ui.ctx()), compared);
        compare::compare_ui(ui, &compared, out);
        return;
    }
    let chosen = state
        .chosen
        .as_ref()
        .and_then(|key| inputs.shelf.iter().find(|row| row.key == *key));
    if let Some(row) = chosen {
        let row = row.clone();
        let wide = ui.available_width() > 124.0 * tokens::GRID;
        let frame = Frame::new().inner_margin(Margin::same(24));
        if wide {
            Panel::right("particulars")
                .exact_size(42.0 * tokens::GRID)
                .resizable(false)
                .show_separator_line(false)
                .frame(frame)
                .show(ui, |ui| particulars(ui, inputs, state, &row, out));
        } else {
            Panel::bottom("particulars")
                .exact_size((0.42 * ui.available_height()).min(36.0 * tokens::GRID))
                .resizable(false)
                .show_separator_line(true)
                .frame(frame)
                .show(ui, |ui| particulars(ui, inputs, state, &row, out));
        }
    }
    parts::page(ui, "shelf", |ui| {
        head(ui, inputs, state, out);
        laid_aside(ui, inputs, state, out);
        interrupted(ui, inputs, out);
        if inputs.shelf.is_empty() {
            parts::empty(
                ui,
                "Nothing on the shelf yet",
                "Every session you ride is kept here, sealed against changes. Ride one under \
                 Script, or open a session file you were given; it can also be dropped onto the \
                 window.",
            );
            return;
        }
        rows::rows_ui(ui, inputs, state, out);
    });
}

/// Conditions and sentences with their speeds in the unit in use; plots see to it themselves.
fn told_compare(unit: SpeedUnit, compared: &CompareView) -> Cow<'_, CompareView> {
    if unit == SpeedUnit::KmH {
        return Cow::Borrowed(compared);
    }
    let mut told = compared.clone();
    let conditions = told.rows.iter_mut().map(|row| &mut row.condition);
    for words in told.sentences.iter_mut().chain(conditions) {
        *words = unit.told(words).into_owned();
    }
    Cow::Owned(told)
}

fn head(ui: &mut Ui, inputs: &Inputs<'_>, state: &mut State, out: &mut Vec<Request>) {
    let controls = [("Import …", ""), ("Open a file …", "Ctrl O")];
    let title = |ui: &mut Ui| parts::heading(ui, "Shelf");
    parts::title_with(ui, title, &controls, |index| {
        out.push(match index {
            0 => Request::Import(ImportWish::Choose),
            _ => Request::OpenSession,
        });
    });
    ui.add_space(tokens::GRID);
    if inputs.shelf.is_empty() {
        return;
    }
    ui.horizontal_wrapped(|ui| {
        let width = (0.4 * ui.available_width()).clamp(120.0, 320.0);
        let hint = match width > 38.0 * tokens::GRID {
            true => "Search, as firmware:2.4 after:2026-01-31",
            false => "Search",
        };
        let changed = field::line(ui, "Search the shelf", hint, &mut state.search, width);
        if changed == field::Changed::Yes {
            out.push(state.show());
        }
        state
            .marked
            .retain(|key| inputs.shelf.iter().any(|row| row.key == *key));
        let count = state.marked.len();
        if (COMPARED[0]..=COMPARED[1]).contains(&count) {
            let words = format!("Put {count} side by side");
            if parts::button(ui, &words, "", Voice::Plain).clicked() {
                let keys = oldest_first(inputs.shelf, &state.marked);
                out.push(Request::Shelf(ShelfWish::Compare(keys)));
            }
        } else if count > COMPARED[1] {
            parts::quiet_line(ui, "at most 12 sessions can be put side by side");
        } else if count > 0 {
            parts::quiet_line(ui, "mark one more to put them side by side");
        }
        if count > 0 && parts::button(ui, "Unmark", "", Voice::Plain).clicked() {
            state.marked.clear();
        }
    });
    ui.add_space(tokens::GRID);
}

/// An import that waits, with the way back to it.
fn laid_aside(ui: &mut Ui, inputs: &Inputs<'_>, state: &mut State, out: &mut Vec<Request>) {
    let Some(view) = inputs.importing else { return };
    offer(ui, |ui| {
        parts::caption(ui, "An import is not finished");
        for card in &view.recordings {
            parts::line(ui, &card.file);
        }
        ui.horizontal_wrapped(|ui| {
            if parts::button(ui, "Go on with it", "", Voice::Plain).clicked() {
                state.take_import_up();
            }
            if parts::button(ui, "Give it up", "", Voice::Plain).clicked() {
                out.push(Request::Import(ImportWish::Close));
            }
        });
    });
}

/// Something that waits to be decided, above the list.
fn offer(ui: &mut Ui, content: impl FnOnce(&mut Ui)) {
    let frame = Frame::new()
        .fill(crate::theme::tokens(ui).tint)
        .corner_radius(tokens::CORNER)
        .inner_margin(Margin::same(16));
    frame.show(ui, |ui| {
        ui.set_width(ui.available_width());
        content(ui);
    });
    ui.add_space(tokens::GRID);
}

/// Sessions that were not closed, with the offer to close them.
fn interrupted(ui: &mut Ui, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
    if inputs.interrupted.is_empty() {
        return;
    }
    offer(ui, |ui| {
        parts::caption(ui, "A recording was interrupted");
        for one in inputs.interrupted {
            parts::line(ui, &one.title);
        }
        parts::quiet(
            ui,
            "Everything committed is in the file. Recovering seals what is there and says in the \
             file that it was interrupted; nothing is altered.",
        );
        ui.horizontal_wrapped(|ui| {
            if parts::button(ui, "Recover", "", Voice::Plain).clicked() {
                let keys = inputs.interrupted.iter().map(|one| one.key.clone());
                out.push(Request::Shelf(ShelfWish::Recover(keys.collect())));
            }
            if parts::button(ui, "Leave as it is", "", Voice::Plain).clicked() {
                out.push(Request::Shelf(ShelfWish::LeaveInterrupted));
            }
        });
    });
}
