//! The cautions, read once before the first load: the only thing that stands in the way.

use crate::inputs::{Caution, told};
use crate::parts::{self, Voice};
use crate::request::Request;
use crate::theme::{self, tokens};
use bench::Command;
use egui::{ScrollArea, Ui};

/// Shows what must be read with one clear way on: the words of the session where it has some, the
/// usual cautions otherwise.
pub(crate) fn cautions_ui(
    ui: &Ui,
    words: Option<&str>,
    cautions: &[Caution],
    out: &mut Vec<Request>,
) {
    let screen = ui.ctx().content_rect();
    super::in_the_way(ui, "cautions", 76.0 * tokens::GRID, |ui| {
        parts::heading(ui, "Before the first load");
        ui.add_space(tokens::GRID);
        let room = screen.height() - 31.0 * tokens::GRID;
        ScrollArea::vertical()
            .max_height(room.max(96.0))
            .show(ui, |ui| match words {
                Some(words) => words_ui(ui, &told(ui, words)),
                None => list_ui(ui, cautions),
            });
        ui.add_space(tokens::GRID);
        ui.horizontal_wrapped(|ui| {
            let accept = parts::button(ui, "I have read this", "Enter", Voice::Primary);
            if accept.clicked() {
                out.push(Request::Bench(Command::AcceptCautions));
            }
            let leave = parts::control::big_button(ui, "Do not ride", "", Voice::Plain);
            if leave.clicked() {
                out.push(Request::CloseSession);
            }
        });
    });
}

fn list_ui(ui: &mut Ui, cautions: &[Caution]) {
    for caution in cautions {
        parts::caption(ui, caution.about);
        ui.add(egui::Label::new(caution.words).wrap());
        ui.add_space(tokens::GRID);
    }
}

/// Plain text with a little structure: an empty line parts, a colon at the end makes a heading, a
/// hyphen at the beginning makes an entry of a list.
fn words_ui(ui: &mut Ui, words: &str) {
    ui.spacing_mut().item_spacing.y = 0.5 * tokens::GRID;
    for line in words.lines().map(str::trim) {
        if line.is_empty() {
            ui.add_space(tokens::GRID);
        } else if let Some(entry) = line.strip_prefix("- ") {
            ui.horizontal_top(|ui| {
                ui.spacing_mut().item_spacing.x = tokens::GRID;
                ui.spacing_mut().interact_size.y = 2.0 * tokens::GRID;
                ui.label("–");
                ui.vertical(|ui| ui.add(egui::Label::new(entry).wrap()));
            });
        } else if line.ends_with(':') {
            let words = egui::RichText::new(line).font(theme::bold(tokens::BODY));
            ui.add(egui::Label::new(words).wrap());
        } else {
            ui.add(egui::Label::new(line).wrap());
        }
    }
}
