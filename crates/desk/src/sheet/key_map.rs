//! The list of keys, straight from the table that is read.

use crate::keys::{Binding, KEYS};
use crate::parts::{self, Voice, control};
use crate::theme::{self, tokens};
use egui::{Align2, Role, ScrollArea, Sense, Ui, WidgetInfo, vec2};

/// Shows the list of keys; says whether it should stay.
pub(crate) fn key_map_ui(ui: &Ui) -> Stays {
    let screen = ui.ctx().content_rect();
    // One list where there is little room, two beside each other where they fit.
    let columns = if screen.width() >= 2.0 * COLUMN + 12.0 * tokens::GRID {
        2
    } else {
        1
    };
    super::beside(ui, "key map", columns as f32 * COLUMN, |ui| {
        parts::heading(ui, "Keys");
        ui.add_space(tokens::GRID);
        let room = (screen.height() - 29.0 * tokens::GRID).max(96.0);
        let said: Vec<_> = KEYS.iter().filter(|one| !one.words.is_empty()).collect();
        ScrollArea::vertical().max_height(room).show(ui, |ui| {
            ui.columns(columns, |areas| {
                let parts = said.chunks(said.len().div_ceil(columns).max(1));
                for (area, part) in areas.iter_mut().zip(parts) {
                    area.spacing_mut().item_spacing.y = 0.0;
                    part.iter().for_each(|binding| line(area, binding));
                }
            });
        });
        ui.add_space(tokens::GRID);
        match parts::button(ui, "Close", "?", Voice::Plain).clicked() {
            true => Stays::No,
            false => Stays::Yes,
        }
    })
}

/// Width of one list, points.
const COLUMN: f32 = 54.0 * tokens::GRID;

/// One key. The tabulator leads through them, so that a long list can be read without a mouse.
fn line(ui: &mut Ui, binding: &Binding) {
    let t = theme::tokens(ui);
    let indent = 10.0 * tokens::GRID;
    let width = (ui.available_width() - indent - tokens::GRID).max(8.0 * tokens::GRID);
    let font = theme::regular(tokens::BODY);
    let words = binding.words.to_owned();
    let words = ui.painter().layout(words, font, t.text, width);
    let size = vec2(ui.available_width(), words.size().y + tokens::GRID);
    let (rect, response) = ui.allocate_exact_size(size, Sense::focusable_noninteractive());
    let name = format!("{}: {}", binding.shown, binding.words);
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &name));
    if response.gained_focus() {
        response.scroll_to_me(None);
    }
    control::focus_ring(ui, &response, rect.shrink(2.0));
    let key = rect
        .with_max_x(rect.left() + indent - tokens::GRID)
        .with_max_y(rect.top() + 3.0 * tokens::GRID);
    let font = theme::bold(tokens::BODY);
    control::text_in(ui, key, binding.shown, font, t.text, Align2::LEFT_CENTER);
    let at = rect.left_top() + vec2(indent, 0.5 * tokens::GRID);
    ui.painter().galley(at, words, t.text);
}

/// Whether a sheet stays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stays {
    /// It does.
    Yes,
    /// It was closed.
    No,
}
