//! Shelf: the saved sessions – found, opened, played again, put side by side, given away.

mod compare;
mod rows;

use super::script::beside;
use crate::inputs::{Inputs, ShelfRow};
use crate::keys::Deed;
use crate::parts::{self, Voice, field};
use crate::request::{Request, ShelfWish};
use crate::theme::tokens;
use egui::{Frame, Margin, Panel, ScrollArea, Ui};
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
        if inputs.compared.is_some() {
            return;
        }
        let found = rows::found(inputs.shelf, self);
        let at = found
            .iter()
            .position(|row| Some(&row.key) == self.chosen.as_ref());
        let at = beside(at, found.len(), deed == Deed::Farther);
        if let Some(row) = at.map(|at| found[at].clone()) {
            self.choose(&row);
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
        let chosen = self.chosen.clone().filter(|_| inputs.compared.is_none());
        if let Some(key) = chosen
            && !self.marked.remove(&key)
        {
            self.marked.insert(key);
        }
    }

    /// Opens the chosen session, or puts the marked ones side by side.
    pub(crate) fn open(&self, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
        if inputs.compared.is_some() {
            return;
        }
        if (COMPARED[0]..=COMPARED[1]).contains(&self.marked.len()) {
            let keys = oldest_first(inputs.shelf, &self.marked);
            out.push(Request::Shelf(ShelfWish::Compare(keys)));
        } else if let Some(key) = &self.chosen {
            out.push(Request::OpenShelved(key.clone()));
        }
    }

    /// Plays the chosen session again.
    pub(crate) fn play(&self, out: &mut Vec<Request>) {
        if let Some(key) = &self.chosen {
            out.push(Request::Shelf(ShelfWish::Replay(key.clone())));
        }
    }
}

/// By what the list is ordered: a column, and whether the largest stands on top.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Order {
    by: By,
    falling: bool,
}

/// A column that the list can be ordered by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum By {
    Title,
    Started,
    Length,
    Verdict,
}

impl Default for Order {
    fn default() -> Self {
        Self {
            by: By::Started,
            falling: true,
        }
    }
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
    if let Some(compared) = inputs.compared {
        compare::compare_ui(ui, compared, out);
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
        rows::rows_ui(ui, inputs.shelf, state, out);
    });
}

fn head(ui: &mut Ui, inputs: &Inputs<'_>, state: &mut State, out: &mut Vec<Request>) {
    ui.horizontal(|ui| {
        parts::heading(ui, "Shelf");
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            if parts::button(ui, "Open a file …", "Ctrl O", Voice::Plain).clicked() {
                out.push(Request::OpenSession);
            }
            if parts::button(ui, "Import …", "", Voice::Plain).clicked() {
                out.push(Request::Shelf(ShelfWish::Import));
            }
        });
    });
    ui.add_space(tokens::GRID);
    if inputs.shelf.is_empty() {
        return;
    }
    ui.horizontal(|ui| {
        let width = (0.4 * ui.available_width()).clamp(120.0, 320.0);
        field::line(ui, "Search the shelf", "Search", &mut state.search, width);
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
        ui.horizontal(|ui| {
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

/// One session: what can be done with it, its tags and its notes.
fn particulars(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    state: &mut State,
    row: &ShelfRow,
    out: &mut Vec<Request>,
) {
    ScrollArea::vertical()
        .id_salt("particulars")
        .auto_shrink([false, false])
        .show(ui, |ui| {
            ui.add(
                egui::Label::new(
                    egui::RichText::new(&row.title).font(crate::theme::bold(tokens::HEADING)),
                )
                .wrap(),
            );
            parts::quiet(
                ui,
                &format!("{} · {} · {}", row.started, row.length, row.state),
            );
            match row.verdict.as_deref().and_then(parts::words::verdict_in) {
                Some(verdict) => parts::verdict(ui, verdict),
                None => parts::quiet(ui, "not judged yet"),
            }
            ui.add_space(0.5 * tokens::GRID);
            ui.horizontal_wrapped(|ui| {
                if parts::button(ui, "Open", "", Voice::Plain).clicked() {
                    out.push(Request::OpenShelved(row.key.clone()));
                }
                if inputs.model.is_none()
                    && parts::button(ui, "Play again", "", Voice::Plain).clicked()
                {
                    out.push(Request::Shelf(ShelfWish::Replay(row.key.clone())));
                }
                if parts::button(ui, "Export tables …", "", Voice::Plain).clicked() {
                    out.push(Request::Shelf(ShelfWish::Export(row.key.clone())));
                }
                if parts::button(ui, "Close", "", Voice::Plain).clicked() {
                    state.chosen = None;
                }
            });
            rows::thumbnail(ui, &row.thumbnail, 8.0 * tokens::GRID);
            ui.add_space(tokens::GRID);
            remarks(ui, state, row, out);
        });
}

fn remarks(ui: &mut Ui, state: &mut State, row: &ShelfRow, out: &mut Vec<Request>) {
    let width = ui.available_width();
    parts::caption(ui, "Tags, parted by commas");
    field::line(ui, "Tags", "firmware 3, cold room", &mut state.tags, width);
    parts::caption(ui, "A further note");
    field::line(
        ui,
        "Note",
        "what to know about it later",
        &mut state.note,
        width,
    );
    let tags = tags_in(&state.tags);
    let changed = tags != row.tags || !state.note.trim().is_empty();
    if changed && parts::button(ui, "Keep tags and note", "", Voice::Plain).clicked() {
        out.push(Request::Shelf(ShelfWish::Note {
            key: row.key.clone(),
            tags,
            note: std::mem::take(&mut state.note),
        }));
    }
    if !row.note.is_empty() {
        ui.add_space(tokens::GRID);
        parts::caption(ui, "Notes");
        parts::paragraph(ui, &row.note);
    }
}

fn tags_in(text: &str) -> Vec<String> {
    let mut tags: Vec<String> = Vec::new();
    for tag in text.split(',').map(str::trim).filter(|tag| !tag.is_empty()) {
        if tags.iter().all(|had| had != tag) {
            tags.push(tag.to_owned());
        }
    }
    tags
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tags_are_parted_by_commas() {
        assert_eq!(
            tags_in(" cold room,, firmware 3 ,cold room"),
            ["cold room", "firmware 3"]
        );
        assert!(tags_in(" , ").is_empty());
    }

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
