//! What the program is, what it must not be taken for, and whose work is in it.

use super::key_map::Stays;
use crate::inputs::Inputs;
use crate::inputs::cautions::USUAL;
use crate::parts::{self, Voice};
use crate::theme::tokens;
use egui::{ScrollArea, Ui};

/// Shows the sheet; says whether it should stay.
pub(crate) fn about_ui(ui: &Ui, inputs: &Inputs<'_>) -> Stays {
    let screen = ui.ctx().content_rect();
    super::beside(ui, "about", 80.0 * tokens::GRID, |ui| {
        parts::heading(ui, "About Prony");
        parts::quiet(
            ui,
            &format!(
                "Version {}. A test bench for the person who independently tests indoor bicycle \
                 trainers and cycling power meters.",
                inputs.version
            ),
        );
        ui.add_space(tokens::GRID);
        let room = (screen.height() - 34.0 * tokens::GRID).max(96.0);
        ScrollArea::vertical().max_height(room).show(ui, |ui| {
            for caution in USUAL {
                parts::caption(ui, caution.about);
                ui.add(egui::Label::new(caution.words).wrap());
                ui.add_space(tokens::GRID);
            }
            parts::caption(ui, "What it does not do");
            ui.add(
                egui::Label::new(
                    "It is not an accredited laboratory and does not make its user one. A verdict \
                     holds for the one unit that was tested, under the conditions that were \
                     ridden. It sends nothing anywhere.",
                )
                .wrap(),
            );
            ui.add_space(2.0 * tokens::GRID);
            parts::caption(ui, "Licences");
            for line in inputs.licences.lines() {
                if line.is_empty() {
                    ui.add_space(tokens::GRID);
                } else {
                    parts::quiet(ui, line);
                }
            }
        });
        ui.add_space(tokens::GRID);
        match parts::button(ui, "Close", "Esc", Voice::Plain).clicked() {
            true => Stays::No,
            false => Stays::Yes,
        }
    })
}
