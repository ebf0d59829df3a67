//! One session of the list: beside each other in columns, or as a card where there is little room.

use super::state::State;
use crate::inputs::ShelfRow;
use crate::parts::table::{self, Column, Lay};
use crate::parts::{Glyph, control, glyph, words};
use crate::request::Request;
use crate::theme::{self, tokens};
use egui::text::LayoutJob;
use egui::{Align2, CursorIcon, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

/// Height of a session in columns.
pub(super) const ROW: f32 = 5.0 * tokens::GRID;

/// Height of a session as a card: two lines of title, when and how long, and the verdict.
pub(super) const CARD: f32 = 10.0 * tokens::GRID;

/// Draws a session of the list.
pub(super) fn row_ui(
    ui: &mut Ui,
    columns: &[Column],
    lay: Lay,
    row: &ShelfRow,
    state: &mut State,
    out: &mut Vec<Request>,
) {
    let height = match lay {
        Lay::Grid => ROW,
        Lay::Cards => CARD,
    };
    let size = vec2(ui.available_width(), height);
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    mark_ui(ui, rect, row, state);
    let verdict = row.verdict.as_deref().unwrap_or("not judged");
    let title = match row.tags.is_empty() {
        true => row.title.clone(),
        false => format!("{}  ·  {}", row.title, row.tags.join(", ")),
    };
    let name = format!(
        "{title}, {}, {}, {}, {verdict}",
        row.details, row.started, row.length
    );
    let body = rect.with_min_x(rect.left() + 16.0 + 2.0 * tokens::GRID);
    let id = ui.scope_id().with(("session", &row.key));
    let response = ui.interact(body, id, Sense::click());
    let is_chosen = state.chosen.as_ref() == Some(&row.key);
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, is_chosen, &name));
    let t = theme::tokens(ui);
    if response.hovered() || is_chosen {
        ui.painter().rect_filled(
            body.expand2(vec2(tokens::GRID, 0.0)),
            tokens::CORNER,
            t.tint,
        );
    }
    let elided = match lay {
        Lay::Grid => beside(ui, rect, columns, row, &title),
        Lay::Cards => card(ui, rect, body, row, &title),
    };
    control::focus_ring(ui, &response, body);
    if response.double_clicked() {
        out.push(Request::OpenShelved(row.key.clone()));
    } else if response.clicked() {
        state.choose(row);
    }
    let response = response.on_hover_cursor(CursorIcon::PointingHand);
    if elided {
        response.on_hover_text(format!(
            "{title}\n{}\n{}\n{}",
            row.details, row.started, row.state
        ));
    }
}

/// The values of a session beside each other. Says whether one was elided.
fn beside(ui: &Ui, rect: Rect, columns: &[Column], row: &ShelfRow, title: &str) -> bool {
    let t = theme::tokens(ui);
    let places = table::places(columns, rect.width());
    let left = table::Side::Left;
    let mut elided = {
        let [from, width] = places[1];
        let at = Rect::from_min_size(rect.min + vec2(from, 0.0), vec2(width, rect.height()));
        titled(ui, at, title, &row.details)
    };
    elided |= table::cell(ui, rect, places[2], &row.started, t.quiet, left);
    elided |= table::cell(ui, rect, places[3], &row.length, t.text, table::Side::Right);
    let [from, width] = places[4];
    let at = Rect::from_min_size(rect.min + vec2(from, 0.0), vec2(width, rect.height()));
    elided |= verdict(ui, at, row);
    if let Some(ride) = places.get(5) {
        let at = Rect::from_min_size(
            rect.min + vec2(ride[0], 6.0),
            vec2(ride[1], rect.height() - 12.0),
        );
        picture(ui, at, &row.thumbnail);
    }
    if let Some(file) = places.get(6) {
        elided |= table::cell(ui, rect, *file, &row.state, t.quiet, left);
    }
    elided
}

/// The values of a session under each other. Says whether one was elided.
fn card(ui: &Ui, rect: Rect, body: Rect, row: &ShelfRow, title: &str) -> bool {
    let t = theme::tokens(ui);
    let line = 2.0 * tokens::GRID;
    let inner = body.shrink2(vec2(0.0, tokens::GRID));
    let (top, rest) = inner.split_top_bottom_at_y(inner.top() + 2.0 * line);
    let (when, last) = rest.split_top_bottom_at_y(rest.top() + line);
    let mut elided = titled(ui, top, title, &row.details);
    let words = format!("{} · {} · {}", row.started, row.length, row.state);
    let font = theme::regular(tokens::BODY);
    elided |= control::text_in(ui, when, &words, font, t.quiet, Align2::LEFT_CENTER);
    elided |= verdict(ui, last, row);
    let hair = Stroke::new(tokens::HAIR, t.rule);
    ui.painter().hline(rect.x_range(), rect.bottom(), hair);
    elided
}

/// The verdict as shape and words. Says whether it was elided.
fn verdict(ui: &Ui, rect: Rect, row: &ShelfRow) -> bool {
    let t = theme::tokens(ui);
    let said = row.verdict.as_deref().unwrap_or("not judged");
    let known = words::verdict_in(said);
    let ink = known.map_or(t.quiet, |verdict| glyph::verdict_ink(verdict, t));
    if let Some(verdict) = known {
        let center = rect.left_center() + vec2(6.0, 0.0);
        Glyph::of_verdict(verdict).paint(ui.painter(), center, 5.0, ink);
    }
    let indent = if known.is_some() { 20.0 } else { 0.0 };
    let text = rect.with_min_x(rect.left() + indent);
    let font = theme::regular(tokens::BODY);
    control::text_in(ui, text, said, font, ink, Align2::LEFT_CENTER)
}

/// A title, and what else tells a session from others in a quiet line below it; without that, the
/// title takes both lines. Says whether something was elided.
fn titled(ui: &Ui, rect: Rect, title: &str, details: &str) -> bool {
    let t = theme::tokens(ui);
    let lay = |words: &str, ink, most| {
        let font = theme::regular(tokens::BODY);
        let mut job = LayoutJob::simple(words.to_owned(), font, ink, rect.width().max(1.0));
        job.wrap.max_rows = most;
        ui.painter().layout_job(job)
    };
    let lines = if details.is_empty() { 2 } else { 1 };
    let above = lay(title, t.text, lines);
    let below = (!details.is_empty()).then(|| lay(details, t.quiet, 1));
    let height = above.size().y + below.as_ref().map_or(0.0, |below| below.size().y);
    let at = pos2(rect.left(), rect.center().y - 0.5 * height);
    let mut elided = above.elided;
    let next = at + vec2(0.0, above.size().y);
    ui.painter().galley(at, above, t.text);
    if let Some(below) = below {
        elided |= below.elided;
        ui.painter().galley(next, below, t.quiet);
    }
    elided
}

/// The small square that marks a session to be put side by side with others.
fn mark_ui(ui: &mut Ui, rect: Rect, row: &ShelfRow, state: &mut State) {
    let at = Rect::from_center_size(
        pos2(rect.left() + 8.0, rect.top() + 0.5 * ROW.min(rect.height())),
        vec2(16.0, tokens::CONTROL),
    );
    let id = ui.scope_id().with(("mark", &row.key));
    let response = ui.interact(at.expand(4.0), id, Sense::click());
    let marked = state.marked.contains(&row.key);
    let name = format!("Mark {} of {}", row.title, row.started);
    response.widget_info(|| WidgetInfo::selected(Role::CheckBox, true, marked, &name));
    let t = theme::tokens(ui);
    let square = Rect::from_center_size(at.center(), vec2(14.0, 14.0));
    let ink = if response.hovered() { t.text } else { t.edge };
    ui.painter().rect_stroke(
        square,
        tokens::CORNER,
        Stroke::new(1.0, ink),
        egui::StrokeKind::Inside,
    );
    if marked {
        ui.painter()
            .rect_filled(square.shrink(3.0), tokens::CORNER, t.text);
    }
    control::focus_ring(ui, &response, square);
    if response.on_hover_cursor(CursorIcon::PointingHand).clicked()
        && !state.marked.remove(&row.key)
    {
        state.marked.insert(row.key.clone());
    }
}

/// The ride at a glance, as wide as the page.
pub(super) fn thumbnail(ui: &mut Ui, points: &[f32], height: f32) {
    if points.is_empty() {
        return;
    }
    let size = vec2(ui.available_width(), height);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(points)));
    picture(ui, rect, points);
}

/// The ride at a glance in words: the mean of each tenth of it.
fn spoken(points: &[f32]) -> String {
    let tenths = points.chunks(points.len().div_ceil(10).max(1)).map(|part| {
        let mean = part.iter().sum::<f32>() / part.len() as f32;
        format!("{:.0}", 100.0 * mean)
    });
    format!(
        "Power over the whole ride, in parts of equal length, percent of the highest: {}",
        tenths.collect::<Vec<_>>().join(", ")
    )
}

fn picture(ui: &Ui, rect: Rect, points: &[f32]) {
    if points.is_empty() {
        let t = theme::tokens(ui);
        let at = rect.left_center();
        let font = theme::regular(tokens::BODY);
        ui.painter()
            .text(at, Align2::LEFT_CENTER, words::NOTHING, font, t.quiet);
        return;
    }
    let t = theme::tokens(ui);
    let step = rect.width() / points.len() as f32;
    let painter = ui.painter();
    for (index, part) in points.iter().enumerate() {
        let x = rect.left() + (index as f32 + 0.5) * step;
        let top = rect.bottom() - part.clamp(0.0, 1.0) * rect.height();
        painter.vline(x, top..=rect.bottom(), Stroke::new(step.max(1.0), t.edge));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ride_is_told_in_tenths() {
        let rising: Vec<f32> = (0..60).map(|part| (part / 6) as f32 / 10.0).collect();
        let words = spoken(&rising);
        assert!(
            words.ends_with(": 0, 10, 20, 30, 40, 50, 60, 70, 80, 90"),
            "{words}"
        );
        assert!(spoken(&[1.0, 0.5]).ends_with(": 100, 50"));
    }
}
