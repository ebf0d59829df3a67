//! Flags in words, the brake, and what else the operator should know.

use super::State;
use crate::inputs::told;
use crate::parts::{self, Chosen, Glyph, control, glyph, words};
use crate::theme::{self, tokens};
use bench::Model;
use bench::model::FlagView;
use egui::{Align2, CursorIcon, Role, Sense, Ui, WidgetInfo, vec2};

/// Where the words of a flag begin, beside its shape.
const INDENT: f32 = 20.0;

/// As many notices as are shown.
const NOTICES: usize = 6;

/// Draws the flags, newest first. A click shows the place on the charts.
pub(super) fn flags_ui(ui: &mut Ui, model: &Model, state: &mut State) {
    let title = match model.flags.len() {
        0 => "Flags".to_owned(),
        count => format!("Flags · {count}"),
    };
    parts::caption(ui, &title);
    if model.flags.is_empty() {
        parts::quiet(
            ui,
            "None. A flag is a window of 30 s and more, never a single second.",
        );
        return;
    }
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        for (index, flag) in model.flags.iter().enumerate().rev() {
            if flag_ui(ui, flag, (state.flag == Some(index)).into()) {
                state.show_flag(index, model);
            }
        }
    });
}

fn flag_ui(ui: &mut Ui, flag: &FlagView, chosen: Chosen) -> bool {
    let said = told(ui, &flag.words).into_owned();
    let t = theme::tokens(ui);
    let font = theme::regular(tokens::BODY);
    let width = ui.available_width() - INDENT;
    let words = ui
        .painter()
        .layout(said.clone(), font.clone(), t.text, width.max(40.0));
    let height = words.size().y + 3.0 * tokens::GRID;
    let size = vec2(ui.available_width(), height);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &said));
    if ui.is_rect_visible(rect) {
        if response.hovered() || chosen == Chosen::Yes {
            ui.painter().rect_filled(rect, tokens::CORNER, t.tint);
        }
        let ink = glyph::severity_ink(flag.severity, t);
        let center = rect.left_top() + vec2(8.0, 12.0);
        Glyph::of_severity(flag.severity).paint(ui.painter(), center, 5.0, ink);
        let when = format!("{}–{}", words::moment(flag.from), words::moment(flag.to));
        let first = rect.left_top() + vec2(INDENT, 12.0);
        ui.painter()
            .text(first, Align2::LEFT_CENTER, when, font, t.quiet);
        ui.painter()
            .galley(rect.left_top() + vec2(INDENT, 20.0), words, t.text);
        control::focus_ring(ui, &response, rect);
    }
    response.on_hover_cursor(CursorIcon::PointingHand).clicked()
}

/// Draws what the brake was told and what it answered, and the last notices.
pub(super) fn brake_ui(ui: &mut Ui, model: &Model) {
    let t = theme::tokens(ui);
    parts::caption(ui, "Brake");
    let (glyph, words) = match (model.brake.released, model.brake.confirmed) {
        (true, true) => (Glyph::Ring, "released, confirmed"),
        (true, false) => (Glyph::Dash, "released, not confirmed yet"),
        (false, true) => (Glyph::Disc, "loaded, confirmed"),
        (false, false) => (Glyph::Dash, "told, not confirmed yet"),
    };
    parts::marked_lines(ui, glyph, t.text, words);
    let asked = told(ui, or_nothing(&model.brake.told));
    let answer = told(ui, or_nothing(&model.brake.answer));
    parts::quiet(ui, &format!("told: {asked}"));
    parts::quiet(ui, &format!("answered: {answer}"));
    if model.notices.is_empty() {
        return;
    }
    ui.add_space(tokens::GAP);
    parts::caption(ui, "Notices");
    for notice in model.notices.iter().rev().take(NOTICES) {
        parts::quiet(
            ui,
            &format!("{}  {}", words::moment(notice.at), told(ui, &notice.words)),
        );
    }
}

fn or_nothing(words: &str) -> &str {
    if words.is_empty() {
        words::NOTHING
    } else {
        words
    }
}
