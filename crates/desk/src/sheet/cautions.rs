//! The cautions, read once before the first load: the only thing that stands in the way.

use crate::inputs::Caution;
use crate::parts::{self, Voice};
use crate::request::Request;
use crate::theme::{self, tokens};
use bench::Command;
use egui::{ScrollArea, Ui};

/// The usual cautions of the trade, for a program that has none of its own.
pub const USUAL: &[Caution] = &[
    Caution {
        about: "Your body",
        words: "This is no medical device. Ride hard only if you are used to it and nothing \
                speaks against it; if in doubt, ask a doctor first. Stop at once at pain in the \
                chest, faintness, a racing heart, confusion or breath that does not come back.",
    },
    Caution {
        about: "Hard efforts",
        words: "Warm up first, never go all out alone in the room, and pedal easily for five \
                minutes afterwards. Do not stop dead after a sprint. Water and a fan within reach.",
    },
    Caution {
        about: "The bicycle",
        words: "Axle, cassette, pedals and stem tightened as their makers say, the front wheel \
                blocked, nothing loose near chain and flywheel. If the stand begins to walk, stop.",
    },
    Caution {
        about: "Turning parts",
        words: "The flywheel stores energy and goes on turning. Keep hands, hair, laces, children \
                and animals away, and touch nothing before it stands still.",
    },
    Caution {
        about: "Heat and mains",
        words: "The brake gets hot enough to burn under long load. Use the maker's supply on a \
                protected socket, out of the sweat, with the cord out of the way. At smell or \
                smoke, pull the plug.",
    },
    Caution {
        about: "The release",
        words: "Esc takes the load off at once, in every place of the desk. A lost link, a lost \
                reference or a full disk does the same, and no high load comes back by itself.",
    },
];

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
                Some(words) => words_ui(ui, words),
                None => list_ui(ui, cautions),
            });
        ui.add_space(tokens::GRID);
        ui.horizontal(|ui| {
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
