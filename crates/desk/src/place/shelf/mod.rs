//! Shelf: the saved sessions – brought in, found, opened, played again, put side by side, given away.

mod compare;
mod importing;
mod particulars;
mod rows;
mod session;

use self::particulars::particulars;
use super::script::beside;
use crate::inputs::{CompareView, Inputs, ShelfRow, SpeedUnit};
use crate::keys::Deed;
use crate::parts::{self, Voice, field};
use crate::request::{ImportWish, Order, Request, ShelfWish};
use crate::theme::tokens;
use egui::{Frame, Margin, Panel, Ui};
use std::borrow::Cow;
use std::collections::BTreeSet;

/// What is searched for and what is marked.
#[derive(Debug, Default)]
pub(crate) struct State {
    search: String,
    order: Order,
    /// Keys of the sessions that are marked, to be put side by side.
    marked: BTreeSet<String>,
    /// The session whose particulars are shown.
    chosen: Option<String>,
    tags: String,
    note: String,
    /// The chosen session is to be scrolled to.
    reveals: bool,
}

impl State {
    /// Chooses the session above or below.
    pub(crate) fn choose_beside(&mut self, deed: Deed, inputs: &Inputs<'_>) {
        if lies_over(inputs) {
            return;
        }
        let found = rows::found(inputs);
        let at = found
            .iter()
            .position(|row| Some(&row.key) == self.chosen.as_ref());
        if let Some(at) = beside(at, found.len(), deed == Deed::Farther) {
            self.choose(found[at]);
            self.reveals = true;
        }
    }

    fn choose(&mut self, row: &ShelfRow) {
        self.tags = row.tags.join(", ");
        self.note.clear();
        self.chosen = Some(row.key.clone());
    }

    /// Chooses no session any more.
    pub(crate) fn let_go(&mut self) {
        self.chosen = None;
    }

    /// Marks the chosen session, or unmarks it.
    pub(crate) fn turn_mark(&mut self, inputs: &Inputs<'_>) {
        let chosen = self.chosen.clone().filter(|_| !lies_over(inputs));
        if let Some(key) = chosen
            && !self.marked.remove(&key)
        {
            self.marked.insert(key);
        }
    }

    /// Brings in what was made ready, opens the chosen session, or puts the marked ones side by side.
    pub(crate) fn open(&self, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
        if inputs
            .importing
            .is_some_and(|view| view.missing().is_none())
        {
            out.push(Request::Import(ImportWish::BringIn));
        }
        if lies_over(inputs) {
            return;
        }
        if (COMPARED[0]..=COMPARED[1]).contains(&self.marked.len()) {
            let keys = oldest_first(inputs.shelf, &self.marked);
            out.push(Request::Shelf(ShelfWish::Compare(keys)));
        } else if let Some(key) = &self.chosen {
            out.push(Request::OpenShelved(key.clone()));
        }
    }

    /// What is to be shown.
    fn show(&self) -> Request {
        Request::Shelf(ShelfWish::Show {
            words: self.search.clone(),
            order: self.order,
        })
    }

    /// Plays the chosen session again.
    pub(crate) fn play(&self, out: &mut Vec<Request>) {
        if let Some(key) = &self.chosen {
            out.push(Request::Shelf(ShelfWish::Replay(key.clone())));
        }
    }
}

/// Whether something else is shown in place of the list.
const fn lies_over(inputs: &Inputs<'_>) -> bool {
    inputs.importing.is_some() || inputs.compared.is_some()
}

/// Fewest and most sessions side by side.
const COMPARED: [usize; 2] = [2, 12];

/// Draws the place.
pub(crate) fn shelf_ui(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    state: &mut State,
    out: &mut Vec<Request>,
) {
    if let Some(view) = inputs.importing {
        importing::import_ui(ui, view, out);
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

/// The marked sessions in the order they were ridden: the oldest is what the others are compared
/// with.
fn oldest_first(shelf: &[ShelfRow], marked: &BTreeSet<String>) -> Vec<String> {
    let mut rows: Vec<&ShelfRow> = shelf.iter().filter(|r| marked.contains(&r.key)).collect();
    rows.sort_by_key(|row| (row.started_s, row.key.clone()));
    rows.into_iter().map(|row| row.key.clone()).collect()
}

/// Sessions that were not closed, with the offer to close them.
fn interrupted(ui: &mut Ui, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
    if inputs.interrupted.is_empty() {
        return;
    }
    let t = crate::theme::tokens(ui);
    let frame = Frame::new()
        .fill(t.tint)
        .corner_radius(tokens::CORNER)
        .inner_margin(Margin::same(16));
    frame.show(ui, |ui| {
        ui.set_width(ui.available_width());
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
    ui.add_space(tokens::GRID);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_oldest_session_is_compared_with() {
        let row = |key: &str, started_s| ShelfRow {
            key: key.to_owned(),
            started_s,
            ..ShelfRow::default()
        };
        let shelf = [row("new", 30), row("old", 10), row("between", 20)];
        let marked = ["new", "old"].map(str::to_owned).into();
        assert_eq!(oldest_first(&shelf, &marked), ["old", "new"]);
    }
}
