//! The list of keys, straight from the table that is read.

use crate::keys::KEYS;
use crate::parts::{self, Voice};
use crate::theme::{self, tokens};
use egui::{Align2, Role, ScrollArea, Sense, Ui, WidgetInfo, vec2};

/// Shows the list of keys; says whether it should stay.
pub(crate) fn key_map_ui(ui: &Ui) -> Stays {
    let screen = ui.ctx().content_rect();
    super::beside(ui, "key map", 60.0 * tokens::GRID, |ui| {
        parts::heading(ui, "Keys");
        ui.add_space(tokens::GRID);
        let room = (screen.height() - 29.0 * tokens::GRID).max(96.0);
        ScrollArea::vertical().max_height(room).show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            for binding in KEYS.iter().filter(|binding| !binding.words.is_empty()) {
                let size = vec2(ui.available_width(), 3.0 * tokens::GRID);
                let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
                let name = format!("{}: {}", binding.shown, binding.words);
                response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &name));
                let t = theme::tokens(ui);
                let key = rect.with_max_x(rect.left() + 13.0 * tokens::GRID);
                let font = theme::bold(tokens::BODY);
                parts::control::text_in(ui, key, binding.shown, font, t.text, Align2::LEFT_CENTER);
                let words = rect.with_min_x(key.right() + tokens::GRID);
                let font = theme::regular(tokens::BODY);
                let align = Align2::LEFT_CENTER;
                parts::control::text_in(ui, words, binding.words, font, t.text, align);
            }
        });
        ui.add_space(tokens::GRID);
        match parts::button(ui, "Close", "?", Voice::Plain).clicked() {
            true => Stays::No,
            false => Stays::Yes,
        }
    })
}

/// Whether a sheet stays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stays {
    /// It does.
    Yes,
    /// It was closed.
    No,
}
