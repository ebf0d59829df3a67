//! What is around every place: the rail with the places, the strip with the controls of the
//! session, and messages.

use crate::desk::{Desk, Ending, Open, command_for};
use crate::inputs::{Inputs, Progress, told};
use crate::keys::Deed;
use crate::parts::{self, Glyph, Voice, control, words};
use crate::place::Place;
use crate::replay;
use crate::request::Request;
use crate::theme::{self, tokens};
use bench::model::Phase;
use bench::{Command, Model};
use egui::{
    Align2, CursorIcon, Frame, Layout, Margin, Panel, Rect, Role, Sense, Stroke, Ui, WidgetInfo,
    vec2,
};

/// The rail at the left: five words, the open one marked with a bar.
pub(crate) fn rail(ui: &mut Ui, desk: &mut Desk, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
    let t = theme::tokens(ui);
    let frame = Frame::new()
        .fill(t.rail)
        .inner_margin(Margin::symmetric(0, 16));
    let wide = tokens::RAIL.min(0.2 * ui.available_width().max(480.0));
    Panel::left("rail")
        .exact_size(wide)
        .resizable(false)
        .show_separator_line(false)
        .frame(frame)
        .show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            // In a low window the places stand closer, so that nothing lies over the words below.
            let words = RAIL_WORDS * tokens::CONTROL + tokens::GRID;
            let room = (ui.available_height() - words) / Place::ALL.len() as f32;
            let height = room.clamp(3.0 * tokens::GRID, 6.0 * tokens::GRID);
            for place in Place::ALL {
                if rail_entry(ui, desk, place, inputs, height) {
                    desk.go(place);
                }
            }
            ui.with_layout(Layout::bottom_up(egui::Align::Min), |ui| {
                let look = if ui.visuals().dark_mode {
                    "Light"
                } else {
                    "Dark"
                };
                if rail_word(ui, look, "L") {
                    desk.turn_theme(ui.ctx(), out);
                }
                if rail_word(ui, "Keys", "?") {
                    desk.open = Open::KeyMap;
                }
                if rail_word(ui, "Settings", "Ctrl ,") {
                    desk.open = Open::Settings;
                }
            });
        });
}

/// As many words as stand at the bottom of the rail.
const RAIL_WORDS: f32 = 3.0;

fn rail_entry(ui: &mut Ui, desk: &Desk, place: Place, inputs: &Inputs<'_>, height: f32) -> bool {
    let t = theme::tokens(ui);
    let chosen = desk.place() == place;
    let size = vec2(ui.available_width(), height);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, chosen, place.word()));
    let painter = ui.painter();
    if chosen {
        painter.rect_filled(rect, 0.0, t.paper);
        let bar = Rect::from_min_size(rect.min, vec2(4.0, rect.height()));
        painter.rect_filled(bar, 0.0, t.text);
    } else if response.hovered() {
        painter.rect_filled(rect, 0.0, t.tint);
    }
    let font = if chosen {
        theme::bold(tokens::BODY)
    } else {
        theme::regular(tokens::BODY)
    };
    let left = rect.left_center() + vec2(2.0 * tokens::GRID, 0.0);
    painter.text(left, Align2::LEFT_CENTER, place.word(), font, t.text);
    let right = rect.right_center() - vec2(2.0 * tokens::GRID, 0.0);
    let plain = theme::regular(tokens::BODY);
    painter.text(right, Align2::RIGHT_CENTER, place.digit(), plain, t.quiet);
    if place == Place::Run
        && inputs
            .model
            .is_some_and(|model| model.phase == Phase::Riding)
    {
        Glyph::Disc.paint(painter, right - vec2(2.0 * tokens::GRID, 0.0), 3.0, t.text);
    }
    control::focus_ring(ui, &response, rect.shrink(3.0));
    response.on_hover_cursor(CursorIcon::PointingHand).clicked()
}

fn rail_word(ui: &mut Ui, word: &str, key: &str) -> bool {
    let t = theme::tokens(ui);
    let size = vec2(ui.available_width(), tokens::CONTROL);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, word));
    let ink = if response.hovered() { t.text } else { t.quiet };
    let font = theme::regular(tokens::BODY);
    let left = rect.left_center() + vec2(2.0 * tokens::GRID, 0.0);
    let painter = ui.painter();
    let after = painter
        .text(left, Align2::LEFT_CENTER, word, font.clone(), ink)
        .right();
    let right = rect.right_center() - vec2(2.0 * tokens::GRID, 0.0);
    // A key that does not fit beside its word stands in the list of keys.
    if right.x - control::text_width(ui, key, font.clone()) > after + 4.0 {
        painter.text(right, Align2::RIGHT_CENTER, key, font, t.quiet);
    }
    control::focus_ring(ui, &response, rect.shrink(3.0));
    response.on_hover_cursor(CursorIcon::PointingHand).clicked()
}

/// The strip at the bottom while anything is connected: what can be done, and at its right end,
/// always, the control that takes the load off.
pub(crate) fn footer(ui: &mut Ui, desk: &mut Desk, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
    let Some(model) = inputs.model else { return };
    if let Some(replay) = inputs.replay {
        return replay::replay_ui(ui, replay, out);
    }
    let t = theme::tokens(ui);
    let frame = Frame::new()
        .fill(t.rail)
        .inner_margin(Margin::symmetric(16, 12));
    Panel::bottom("controls")
        .exact_size(tokens::FOOTER)
        .resizable(false)
        .show_separator_line(false)
        .frame(frame)
        .show(ui, |ui| {
            let whole = ui.max_rect();
            let release = control::button_width(ui, RELEASE, "Esc", Voice::Release);
            let right = whole.with_min_x(whole.right() - release);
            let left = whole.with_max_x(right.left() - tokens::GAP);
            ui.scope_builder(egui::UiBuilder::new().max_rect(left), |ui| {
                ui.horizontal_centered(|ui| match desk.ending {
                    Ending::Asked => confirm_end(ui, desk, out),
                    Ending::No => controls(ui, desk, model, inputs, out),
                });
            });
            ui.scope_builder(egui::UiBuilder::new().max_rect(right), |ui| {
                if parts::button(ui, RELEASE, "Esc", Voice::Release).clicked() {
                    out.push(Request::Bench(Command::Release));
                }
            });
        });
}

const RELEASE: &str = "Release brake";

fn confirm_end(ui: &mut Ui, desk: &mut Desk, out: &mut Vec<Request>) {
    let controls = control::button_width(ui, "End it", "Enter", Voice::Primary)
        + control::button_width(ui, "Go on", "", Voice::Plain)
        + 2.0 * tokens::GRID;
    let room = ui.available_width() - controls;
    let font = theme::regular(tokens::BODY);
    // Where there is little room the question is as short as it can be.
    let question = [
        "End this session? It cannot be continued afterwards.",
        "End?",
    ]
    .into_iter()
    .find(|words| control::text_width(ui, words, font.clone()) <= room);
    if let Some(question) = question {
        ui.label(question);
    }
    if control::big_button(ui, "End it", "Enter", Voice::Primary).clicked() {
        desk.ending = Ending::No;
        out.push(Request::Bench(Command::Stop));
    }
    if control::big_button(ui, "Go on", "", Voice::Plain).clicked() {
        desk.ending = Ending::No;
    }
}

fn controls(
    ui: &mut Ui,
    desk: &mut Desk,
    model: &Model,
    inputs: &Inputs<'_>,
    out: &mut Vec<Request>,
) {
    let first = match model.phase {
        Phase::Ready => "Start",
        Phase::Paused { .. } => "Resume",
        _ => "Pause",
    };
    // Under Run the same control stands large above the charts.
    let voice = match model.phase {
        Phase::Ready | Phase::Paused { .. } if desk.place() != Place::Run => Voice::Primary,
        _ => Voice::Plain,
    };
    let mut wanted = vec![(first, "Space", Deed::PauseOrResume, voice)];
    wanted.extend([
        ("Skip", "S", Deed::Skip, Voice::Plain),
        ("Mark", "M", Deed::Mark, Voice::Plain),
        ("Repeat", "R", Deed::Repeat, Voice::Plain),
        ("+ 1 min", "E", Deed::Extend, Voice::Plain),
    ]);
    if matches!(model.phase, Phase::Ended { .. }) {
        if inputs.opened.is_some()
            && desk.place() != Place::Run
            && desk.place() != Place::Findings
            && control::big_button(ui, "See the findings", "Enter", Voice::Primary).clicked()
        {
            desk.go(Place::Findings);
        }
        if control::big_button(ui, "Let the bench go", "X", Voice::Plain).clicked() {
            out.push(Request::CloseSession);
        }
        return;
    }
    let end = control::button_width(ui, END, "X", Voice::Plain);
    for (words, key, deed, voice) in wanted {
        let Some(command) = command_for(model, deed) else {
            continue;
        };
        // What does not fit stays reachable by its key.
        let width = control::button_width(ui, words, key, voice) + tokens::GRID;
        if width + end > ui.available_width() {
            continue;
        }
        if control::big_button(ui, words, key, voice).clicked() {
            out.push(Request::Bench(command));
        }
    }
    if end <= ui.available_width() && control::big_button(ui, END, "X", Voice::Plain).clicked() {
        desk.ending = Ending::Asked;
    }
    if desk.place() != Place::Run && ui.available_width() > 20.0 * tokens::GRID {
        status(ui, model);
    }
}

const END: &str = "End session …";

/// Where the ride stands, for places that do not show it.
fn status(ui: &mut Ui, model: &Model) {
    let Some(step) = &model.step else { return };
    let left = step.remaining.map(words::countdown).unwrap_or_default();
    ui.add_space(tokens::GRID);
    let title = told(ui, &step.title);
    parts::quiet_line(ui, &format!("{title} · {left}"));
}

/// Failures, good news and progress, above the place.
pub(crate) fn messages(ui: &mut Ui, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
    let t = theme::tokens(ui);
    if let Some(replay) = inputs.replay {
        message(ui, "replay words", |ui| {
            parts::marked_lines(ui, Glyph::Ring, t.text, &replay::sentence(replay));
        });
    }
    if let Some(words) = inputs.failure {
        message(ui, "failure", |ui| {
            dismissible(
                ui,
                Glyph::Cross,
                t.alarm,
                words,
                || Request::DismissFailure,
                out,
            );
        });
    }
    if let Some(words) = inputs.notice {
        message(ui, "notice", |ui| {
            dismissible(
                ui,
                Glyph::Disc,
                t.text,
                words,
                || Request::DismissNotice,
                out,
            );
        });
    }
    if let Some(busy) = inputs.busy {
        message(ui, "progress", |ui| progress(ui, busy, out));
    }
}

fn message(ui: &mut Ui, id: &str, content: impl FnOnce(&mut Ui)) {
    let t = theme::tokens(ui);
    let frame = Frame::new()
        .fill(t.tint)
        .inner_margin(Margin::symmetric(24, 8));
    Panel::top(egui::Id::unique(id))
        .resizable(false)
        .show_separator_line(false)
        .frame(frame)
        .show(ui, content);
}

/// Most height of a message, points: what is longer is scrolled, and leaves the page in view.
const MESSAGE: f32 = 13.0 * tokens::GRID;

fn dismissible(
    ui: &mut Ui,
    glyph: Glyph,
    ink: egui::Color32,
    words: &str,
    request: impl FnOnce() -> Request,
    out: &mut Vec<Request>,
) {
    let close = control::button_width(ui, "Close", "", Voice::Plain);
    ui.horizontal(|ui| {
        let (rect, _) = ui.allocate_exact_size(vec2(16.0, tokens::CONTROL), Sense::hover());
        glyph.paint(ui.painter(), rect.center(), 5.0, ink);
        let width = (ui.available_width() - close - 2.0 * tokens::GRID).max(80.0);
        let font = theme::regular(tokens::BODY);
        let galley = ui.painter().layout(words.to_owned(), font, ink, width);
        if galley.size().y > MESSAGE {
            ui.vertical(|ui| {
                ui.set_width(width);
                egui::ScrollArea::vertical()
                    .id_salt("words")
                    .max_height(MESSAGE)
                    .show(ui, |ui| ui.add(egui::Label::new(words).wrap()));
            });
        } else {
            ui.allocate_ui_with_layout(
                vec2(width, tokens::CONTROL),
                Layout::left_to_right(egui::Align::Center),
                |ui| {
                    ui.set_width(width);
                    ui.add(egui::Label::new(words).wrap());
                },
            );
        }
        if parts::button(ui, "Close", "", Voice::Plain).clicked() {
            out.push(request());
        }
    });
}

fn progress(ui: &mut Ui, busy: Progress<'_>, out: &mut Vec<Request>) {
    let words = match busy.fraction {
        Some(part) => format!("{} · {:.0}\u{a0}%", busy.words, 100.0 * part),
        None => busy.words.to_owned(),
    };
    let cancel = control::button_width(ui, "Cancel", "", Voice::Plain);
    let taken = BAR + cancel + 2.0 * tokens::GRID;
    let font = theme::regular(tokens::BODY);
    let fits = control::text_width(ui, &words, font) + taken <= ui.available_width();
    if !fits {
        parts::line(ui, &words);
    }
    ui.horizontal(|ui| {
        if fits {
            ui.label(words);
        }
        if let Some(part) = busy.fraction {
            let (rect, _) = ui.allocate_exact_size(vec2(BAR, tokens::CONTROL), Sense::hover());
            let t = theme::tokens(ui);
            let line = rect.left()..=rect.right();
            let y = rect.center().y;
            ui.painter().hline(line, y, Stroke::new(2.0, t.edge));
            let done = rect.left() + rect.width() * part.clamp(0.0, 1.0);
            ui.painter()
                .hline(rect.left()..=done, y, Stroke::new(4.0, t.text));
        }
        if parts::button(ui, "Cancel", "", Voice::Plain).clicked() {
            out.push(Request::CancelWork);
        }
    });
}

/// Length of the line that shows how much is done, points.
const BAR: f32 = 20.0 * tokens::GRID;
