//! A plain table: a quiet head, rows without lines, every row one accessible name.

use super::control::{focus_ring, text_in};
use crate::theme::{self, tokens};
use egui::{Align2, Color32, CursorIcon, Rect, Response, Role, Sense, Ui, WidgetInfo, vec2};

/// Height of a row.
pub const ROW: f32 = tokens::CONTROL;

/// One column.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    /// Head, with the unit.
    pub head: &'static str,
    /// How wide.
    pub width: Width,
    /// Numbers stand at the right, words at the left.
    pub side: Side,
}

/// How wide a column is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Width {
    /// So many points.
    Points(f32),
    /// This share of what the others leave.
    Share(f32),
}

/// Where the text of a column stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// A column of words.
pub const fn words(head: &'static str, width: Width) -> Column {
    Column {
        head,
        width,
        side: Side::Left,
    }
}

/// A column of numbers.
pub const fn numbers(head: &'static str, points: f32) -> Column {
    Column {
        head,
        width: Width::Points(points),
        side: Side::Right,
    }
}

/// Where each column lies in a row `width` points wide: left edge and width, gutters left out.
pub fn places(columns: &[Column], width: f32) -> Vec<[f32; 2]> {
    let gutter = 2.0 * tokens::GRID;
    let fixed: f32 = columns
        .iter()
        .map(|column| {
            if let Width::Points(points) = column.width {
                points
            } else {
                0.0
            }
        })
        .sum();
    let shares: f32 = columns
        .iter()
        .map(|column| {
            if let Width::Share(share) = column.width {
                share
            } else {
                0.0
            }
        })
        .sum();
    let free = (width - fixed - gutter * columns.len().saturating_sub(1) as f32).max(0.0);
    let mut left = 0.0;
    columns
        .iter()
        .map(|column| {
            let width = match column.width {
                Width::Points(points) => points,
                Width::Share(share) => free * share / shares.max(f32::MIN_POSITIVE),
            };
            let place = [left, width];
            left += width + gutter;
            place
        })
        .collect()
}

/// The head of a table.
pub fn head(ui: &mut Ui, columns: &[Column]) {
    let (rect, _) = ui.allocate_exact_size(
        vec2(ui.available_width(), 3.0 * tokens::GRID),
        Sense::hover(),
    );
    let ink = theme::tokens(ui).quiet;
    for (column, place) in columns.iter().zip(places(columns, rect.width())) {
        cell(ui, rect, place, column.head, ink, column.side);
    }
}

/// A row; `name` is what a screen reader says. Cells are drawn by `draw`.
pub fn row(
    ui: &mut Ui,
    columns: &[Column],
    name: &str,
    sense: Sense,
    draw: impl FnOnce(&mut Ui, Rect, &[[f32; 2]]),
) -> Response {
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), ROW), sense);
    let kind = if sense.senses_click() {
        Role::Button
    } else {
        Role::Label
    };
    response.widget_info(|| WidgetInfo::labeled(kind, true, name));
    if ui.is_rect_visible(rect) {
        if sense.senses_click() && response.hovered() {
            let tint = theme::tokens(ui).tint;
            ui.painter()
                .rect_filled(rect.expand2(vec2(tokens::GRID, 0.0)), tokens::CORNER, tint);
        }
        draw(ui, rect, &places(columns, rect.width()));
        focus_ring(ui, &response, rect);
    }
    if sense.senses_click() {
        response.on_hover_cursor(CursorIcon::PointingHand)
    } else {
        response
    }
}

/// A row of texts.
pub fn text_row(ui: &mut Ui, columns: &[Column], texts: &[String], sense: Sense) -> Response {
    let mut elided = false;
    let name = texts.join(", ");
    let response = row(ui, columns, &name, sense, |ui, rect, places| {
        let ink = theme::tokens(ui).text;
        for ((column, place), text) in columns.iter().zip(places).zip(texts) {
            elided |= cell(ui, rect, *place, text, ink, column.side);
        }
    });
    if elided {
        response.on_hover_text(texts.join("\n"))
    } else {
        response
    }
}

/// The text of one cell. Says whether it was elided.
pub fn cell(
    ui: &Ui,
    row: Rect,
    [left, width]: [f32; 2],
    text: &str,
    ink: Color32,
    side: Side,
) -> bool {
    let rect = Rect::from_min_size(row.min + vec2(left, 0.0), vec2(width, row.height()));
    let align = match side {
        Side::Left => Align2::LEFT_CENTER,
        Side::Right => Align2::RIGHT_CENTER,
    };
    text_in(ui, rect, text, theme::regular(tokens::BODY), ink, align)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_share_what_the_fixed_ones_leave() {
        let columns = [
            words("a", Width::Share(1.0)),
            numbers("b", 100.0),
            words("c", Width::Share(3.0)),
        ];
        assert_eq!(
            places(&columns, 532.0),
            vec![[0.0, 100.0], [116.0, 100.0], [232.0, 300.0]]
        );
    }
}
