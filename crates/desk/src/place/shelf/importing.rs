//! Recordings made elsewhere, before they become a session: what was read, what each is for, how
//! its columns are meant, and what has to be taken on somebody's word.

use crate::inputs::{ColumnChoice, ImportView, RecordingCard};
use crate::parts::roles::{PLACES, ROLES, role_words};
use crate::parts::{self, Glyph, Voice, control, pick};
use crate::request::{ImportWish, Request};
use crate::sheet::key_map::Stays;
use crate::theme::{self, tokens};
use egui::{Frame, Margin, Stroke, Ui};

/// Width of a list of columns, points.
const LIST: f32 = 20.0 * tokens::GRID;
/// Width of what stands before a row of words, points.
const TITLE: f32 = 14.0 * tokens::GRID;

/// Draws the place. It does not stay once it is laid aside.
pub(super) fn import_ui(ui: &mut Ui, view: &ImportView, out: &mut Vec<Request>) -> Stays {
    let mut stays = Stays::Yes;
    let mut wish = |wish| out.push(Request::Import(wish));
    parts::page(ui, "import", |ui| {
        let controls = [("Add a recording …", ""), ("Back to the shelf", "Esc")];
        let title = |ui: &mut Ui| parts::heading(ui, "Import");
        parts::title_with(ui, title, &controls, |index| match index {
            0 => wish(ImportWish::Choose),
            _ => stays = Stays::No,
        });
        ui.add_space(tokens::GRID);
        parts::paragraph(
            ui,
            "One ride, recorded by each instrument on a clock of its own. The recordings are placed \
             on the clock of the reference by the course of their power, and kept whole in the \
             session. Where they are not plainly of one ride, nothing is stored.",
        );
        ui.add_space(tokens::GRID);
        for (index, card) in view.recordings.iter().enumerate() {
            recording_ui(ui, index, card, &mut wish);
            ui.add_space(tokens::GRID);
        }
        ui.add_space(tokens::GRID);
        word_ui(ui, view, &mut wish);
        ui.add_space(tokens::GAP);
        match view.missing() {
            Some(missing) => parts::paragraph(ui, missing),
            None => {
                let words = "Place them on one clock";
                if control::big_button(ui, words, "Enter", Voice::Primary).clicked() {
                    wish(ImportWish::BringIn);
                }
            }
        }
    });
    stays
}

/// A recording in words that no other one has: two files may have one name.
fn of(index: usize, card: &RecordingCard) -> String {
    format!("recording {}, {}", index + 1, card.file)
}

/// Words of which one is chosen, each named with what it is about.
fn row_of(ui: &mut Ui, words: &[&str], about: &str, chosen: Option<usize>) -> Option<usize> {
    let names: Vec<String> = words
        .iter()
        .map(|word| format!("{word}: {about}"))
        .collect();
    let words = words.iter().copied();
    let named: Vec<(&str, &str)> = words.zip(names.iter().map(String::as_str)).collect();
    control::named_words_row(ui, &named, chosen)
}

fn recording_ui(
    ui: &mut Ui,
    index: usize,
    card: &RecordingCard,
    wish: &mut impl FnMut(ImportWish),
) {
    let frame = Frame::new()
        .stroke(Stroke::new(tokens::HAIR, theme::tokens(ui).edge))
        .corner_radius(tokens::CORNER)
        .inner_margin(Margin::same(16));
    frame.show(ui, |ui| {
        ui.set_width(ui.available_width());
        let about = of(index, card);
        let take_out = ("Take it out", format!("Take it out: {about}"));
        let width = control::text_width(ui, take_out.0, theme::regular(tokens::BODY));
        ui.horizontal_top(|ui| {
            ui.vertical(|ui| {
                ui.set_width(ui.available_width() - width - 3.0 * tokens::GRID);
                parts::caption(ui, &card.file);
            });
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Min), |ui| {
                if control::quiet_button(ui, take_out.0, &take_out.1).clicked() {
                    wish(ImportWish::TakeOut(index));
                }
            });
        });
        match &card.read {
            Ok(words) => parts::quiet(ui, words),
            Err(words) => {
                let ink = theme::tokens(ui).text;
                parts::marked_lines(ui, Glyph::OpenTriangle, ink, words);
            }
        }
        for remark in &card.remarks {
            parts::quiet(ui, remark);
        }
        ui.add_space(tokens::GRID);
        ui.push_id(index, |ui| {
            choices(ui, "It is", |ui| {
                let chosen = ROLES.iter().position(|role| *role == card.role);
                let picked = row_of(ui, &ROLES.map(role_words), &about, chosen);
                if let Some(role) = picked.map(|at| ROLES[at])
                    && role != card.role
                {
                    wish(ImportWish::GiveRole {
                        recording: index,
                        role,
                    });
                }
            });
            choices(ui, "Measures at", |ui| {
                let chosen = PLACES.iter().position(|(place, _)| *place == card.place);
                let picked = row_of(ui, &PLACES.map(|(_, word)| word), &about, chosen);
                if let Some(place) = picked.map(|at| PLACES[at].0) {
                    wish(ImportWish::GivePlace {
                        recording: index,
                        place,
                    });
                }
            });
            if !card.columns.is_empty() {
                ui.add_space(tokens::GRID);
                columns(ui, index, card, wish);
            }
        });
    });
}

/// A row of words with a title before it, or above it where there is no room beside it.
fn choices(ui: &mut Ui, title: &str, row: impl FnOnce(&mut Ui)) {
    if ui.available_width() < 80.0 * tokens::GRID {
        parts::quiet_line(ui, title);
        row(ui);
        return;
    }
    ui.horizontal_top(|ui| {
        ui.vertical(|ui| {
            ui.set_width(TITLE);
            let line = ui.text_style_height(&egui::TextStyle::Body);
            ui.add_space(0.5 * (tokens::CONTROL - line));
            parts::quiet_line(ui, title);
        });
        ui.vertical(row);
    });
}

/// What each column is taken for, as many beside each other as there is room for.
fn columns(ui: &mut Ui, recording: usize, card: &RecordingCard, wish: &mut impl FnMut(ImportWish)) {
    let gap = 2.0 * tokens::GRID;
    let beside = ((ui.available_width() + gap) / (LIST + gap))
        .floor()
        .max(1.0) as usize;
    let indexed: Vec<(usize, &ColumnChoice)> = card.columns.iter().enumerate().collect();
    for line in indexed.chunks(beside) {
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = gap;
            for (column, choice) in line {
                ui.vertical(|ui| {
                    ui.set_width(LIST);
                    parts::quiet_line(ui, &choice.title);
                    let name = format!("{} of {}", choice.title, of(recording, card));
                    let picked = pick::pick(
                        ui,
                        &name,
                        &choice.choices,
                        choice.chosen,
                        choice.none.as_deref(),
                        LIST,
                    );
                    if let Some(picked) = picked {
                        wish(ImportWish::GiveColumn {
                            recording,
                            column: *column,
                            choice: picked,
                        });
                    }
                });
            }
        });
    }
}

/// What the recordings do not show and somebody vouches for.
fn word_ui(ui: &mut Ui, view: &ImportView, wish: &mut impl FnMut(ImportWish)) {
    choices(ui, "One ride", |ui| {
        let words = ["as the recordings show", "on my word"];
        if let Some(given) = yes_or_no(ui, &words, view.same_ride) {
            wish(ImportWish::SameRide(given));
        }
    });
    choices(ui, "Calendars", |ui| {
        let words = ["agree within 15 minutes", "may be wrong, on my word"];
        if let Some(given) = yes_or_no(ui, &words, view.clocks_may_be_wrong) {
            wish(ImportWish::ClocksMayBeWrong(given));
        }
    });
    parts::quiet(
        ui,
        "A word that is given is kept in the session, and every finding repeats it.",
    );
}

/// Two words of which the second means yes. Gives what was chosen anew.
fn yes_or_no(ui: &mut Ui, words: &[&str; 2], given: bool) -> Option<bool> {
    let picked = control::words_row(ui, words, Some(usize::from(given)))?;
    Some(picked == 1).filter(|now| *now != given)
}
