//! A text and a form of it side by side: the form changes the text in place, the text is what is
//! kept. One history for both.

mod change;
mod draft;
mod form;
mod quotes;
mod text;

use crate::inputs::DraftProblem;
use crate::theme::tokens;
pub(super) use draft::{Editor, Grammar};
use egui::{Id, ScrollArea, Ui};
use form::form_ui;
use text::{problems_ui, text_ui};

/// Draws form and text; side by side where there is room.
pub(super) fn editor_ui(
    ui: &mut Ui,
    grammar: Grammar,
    editor: &mut Editor,
    problems: &[DraftProblem],
) {
    let before = editor.text.clone();
    let height =
        (ui.clip_rect().bottom() - ui.cursor().top() - 2.0 * tokens::GAP).max(40.0 * tokens::GRID);
    let wide = ui.available_width() > 96.0 * tokens::GRID;
    if wide {
        let side = 0.5 * (ui.available_width() - tokens::GAP);
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = tokens::GAP;
            ui.vertical(|ui| {
                ui.set_width(side);
                ui.spacing_mut().item_spacing.x = tokens::GRID;
                scrolled(ui, "form", height, |ui| form_ui(ui, grammar, editor));
            });
            ui.vertical(|ui| {
                ui.set_width(side);
                ui.spacing_mut().item_spacing.x = tokens::GRID;
                problems_ui(ui, editor, problems);
                scrolled(ui, "text", height, |ui| text_ui(ui, editor, problems));
            });
        });
    } else {
        problems_ui(ui, editor, problems);
        scrolled(ui, "text", 0.5 * height, |ui| text_ui(ui, editor, problems));
        ui.add_space(tokens::GRID);
        form_ui(ui, grammar, editor);
    }
    editor.note(ui, &before);
}

fn scrolled(ui: &mut Ui, id: &str, height: f32, content: impl FnOnce(&mut Ui)) {
    ScrollArea::vertical()
        .id_salt(id)
        .max_height(height)
        .auto_shrink([false, true])
        .show(ui, content);
}

/// The field for the name, which has a history of its own.
pub(super) fn name_id() -> Id {
    Id::unique("name of what is edited")
}
