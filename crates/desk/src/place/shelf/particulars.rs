//! The chosen session: what can be done with it, its tags and its notes.

use super::session;
use super::state::State;
use crate::inputs::{Inputs, ShelfRow};
use crate::parts::{self, Voice, field};
use crate::request::{Request, ShelfWish};
use crate::theme::tokens;
use egui::{ScrollArea, Ui};

/// Draws what is known of a session and what can be done with it.
pub(super) fn particulars(
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
                if parts::button(ui, "Add to a dataset …", "", Voice::Plain).clicked() {
                    out.push(Request::Shelf(ShelfWish::AddToDataset(row.key.clone())));
                }
                if parts::button(ui, "Close", "", Voice::Plain).clicked() {
                    state.chosen = None;
                }
            });
            session::thumbnail(ui, &row.thumbnail, 8.0 * tokens::GRID);
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
}
