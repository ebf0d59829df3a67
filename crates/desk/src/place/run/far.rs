//! The view for across the room: six figures as large as the window allows.

use super::State;
use super::readings::{find, shown};
use super::work::{self, Soon};
use crate::inputs::told;
use crate::parts::{control, words};
use crate::theme::{self, tokens};
use bench::Model;
use bench::model::{InstrumentRole, Phase, StepView};
use egui::{Align2, CentralPanel, Color32, FontId, Frame, Rect, Role, Sense, Ui, WidgetInfo};

/// Draws the view over everything but the strip of controls.
pub(crate) fn far_ui(ui: &mut Ui, model: &Model, state: &mut State) {
    state.smoothed.refresh(model, state.window);
    let t = theme::tokens(ui);
    let margin = (4.0 * tokens::GRID).min(0.04 * ui.available_width());
    let frame = Frame::new().fill(t.paper).inner_margin(margin);
    CentralPanel::default().frame(frame).show(ui, |ui| {
        let whole = ui.available_rect_before_wrap();
        let step = model.step.as_ref();
        let power = |role| {
            shown(model, state, find(model, role)).map_or_else(
                || words::NOTHING.to_owned(),
                |(watts, _)| words::whole(watts),
            )
        };
        let nothing = || words::NOTHING.to_owned();
        let difference = model
            .comparison
            .now
            .map(|[value, _]| words::signed(value, 1));
        let figures = [
            ("Target, W", target(step), t.text),
            ("Device, W", power(InstrumentRole::UnderTest), t.device),
            (
                "Reference, W",
                power(InstrumentRole::PrimaryReference),
                t.text,
            ),
            ("Left", step.map_or_else(nothing, work::left), t.text),
            ("Difference, %", difference.unwrap_or_else(nothing), t.text),
            ("± at 95 %", expanded(model), t.text),
        ];
        let foot = (0.2 * whole.height()).max(6.0 * tokens::GRID);
        let (top, bottom) = whole.split_top_bottom_at_y(whole.bottom() - foot);
        // As large as the rows allow, and all alike: the widest figure must fit its column.
        let room = top.width() / 3.0 - 5.0 * tokens::GRID;
        let widest = figures
            .iter()
            .map(|(_, value, _)| control::text_width(ui, value, theme::bold(100.0)) / 100.0)
            .fold(WIDEST, f32::max);
        let size = (0.34 * top.height()).min(room / widest);
        for (index, (label, value, ink)) in figures.into_iter().enumerate() {
            let cell = cell(top, index);
            figure(ui, cell, label, &value, size, ink);
        }
        foot_ui(ui, bottom, model, 0.4 * size);
        ui.allocate_rect(whole, Sense::hover());
    });
}

/// Room for four digits and a sign, in units of the size, so that figures do not change their size
/// from one moment to the next.
const WIDEST: f32 = 2.8;

fn expanded(model: &Model) -> String {
    let now = model.comparison.now;
    now.map_or_else(
        || words::NOTHING.to_owned(),
        |[_, expanded]| words::decimals(expanded, 1),
    )
}

/// The target as a bare number, or in words where it is no power.
fn target(step: Option<&StepView>) -> String {
    match step {
        Some(step) if step.target_w.is_some() => {
            step.target_w.map(words::whole).unwrap_or_default()
        }
        Some(step) => work::target(step),
        None => words::NOTHING.to_owned(),
    }
}

/// The rectangle of one of six figures, three in a row.
fn cell(area: Rect, index: usize) -> Rect {
    let (column, row) = ((index % 3) as f32, (index / 3) as f32);
    let size = egui::vec2(area.width() / 3.0, area.height() / 2.0);
    Rect::from_min_size(area.min + egui::vec2(column * size.x, row * size.y), size)
}

fn figure(ui: &mut Ui, rect: Rect, label: &str, value: &str, size: f32, ink: Color32) {
    let t = theme::tokens(ui);
    let id = ui.scope_id().with(("far", label));
    let response = ui.interact(rect, id, Sense::hover());
    let name = format!("{label} {value}");
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &name));
    let small = theme::regular((0.16 * size).max(tokens::HEADING));
    let label_height = 1.4 * small.size;
    let (top, bottom) = rect.split_top_bottom_at_y(rect.top() + label_height);
    control::text_in(ui, top, label, small, t.quiet, Align2::LEFT_CENTER);
    control::text_in(ui, bottom, value, theme::bold(size), ink, Align2::LEFT_TOP);
}

/// What now and what next.
fn foot_ui(ui: &mut Ui, rect: Rect, model: &Model, size: f32) {
    let t = theme::tokens(ui);
    let (next, soon) = model.step.as_ref().map_or((None, Soon::No), work::next);
    let now = match (&model.phase, &model.prompt, &model.step) {
        (Phase::Paused { reason }, _, _) => said("Paused", reason),
        (Phase::Ended { reason }, _, _) => said("Over", reason),
        (_, Some(prompt), _) => prompt.text.clone(),
        (_, None, Some(step)) => work::title(step),
        (_, None, None) => "Ready".to_owned(),
    };
    let rides = model.phase == Phase::Riding;
    let next = next.filter(|_| rides).unwrap_or_default();
    let (now, next) = (told(ui, &now).into_owned(), told(ui, &next).into_owned());
    let id = ui.scope_id().with("far now");
    let response = ui.interact(rect, id, Sense::hover());
    let name = format!("{now} {next}");
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &name));
    let size = size.max(tokens::HEADING).min(0.45 * rect.height());
    let (font, ink) = match soon {
        Soon::Yes => (theme::bold as fn(f32) -> FontId, t.text),
        Soon::No => (theme::regular as fn(f32) -> FontId, t.quiet),
    };
    let upper = if next.is_empty() { 1.0 } else { 0.58 };
    let (top, bottom) = rect.split_top_bottom_at_fraction(upper);
    fitted(ui, top, &now, size, theme::bold, t.text);
    fitted(ui, bottom, &next, size, font, ink);
}

/// Words as large as the size says, or smaller, or in two lines, until they fit.
fn fitted(ui: &Ui, rect: Rect, words: &str, size: f32, font: fn(f32) -> FontId, ink: Color32) {
    let sizes = [1.0, 0.8, 0.64, 0.5].map(|part| (part * size).max(tokens::HEADING));
    let laid = sizes.into_iter().chain([tokens::BODY]).find_map(|size| {
        let text = words.to_owned();
        let galley = ui.painter().layout(text, font(size), ink, rect.width());
        (galley.size().y <= rect.height()).then_some(galley)
    });
    match laid {
        Some(galley) => {
            let at = Align2::LEFT_CENTER.align_size_within_rect(galley.size(), rect);
            ui.painter().galley(at.min, galley, ink);
        }
        None => {
            let font = font(tokens::BODY);
            control::text_in(ui, rect, words, font, ink, Align2::LEFT_CENTER);
        }
    }
}

fn said(state: &str, reason: &str) -> String {
    match reason {
        "" => state.to_owned(),
        reason => format!("{state}: {reason}"),
    }
}
