//! A plain table: a quiet head, rows without lines, every row one accessible name.
//!
//! Words wrap and are never cut. Where the columns would become too narrow to be read, every row
//! becomes a card: its title on top, the other values below, each behind the name of its column.

mod cards;
mod cell;
mod grid;

pub use cell::Cell;

use super::control::{Chosen, focus_ring, text_in};
use crate::theme::{self, tokens};
use egui::{Align2, Color32, CursorIcon, Rect, Response, Role, Sense, Ui, WidgetInfo, vec2};

/// Height of a row of one line.
pub const ROW: f32 = tokens::CONTROL;

/// Narrowest column of words that can be read, points.
const LEAST: f32 = 10.0 * tokens::GRID;

/// Room between two columns, points.
const GUTTER: f32 = 2.0 * tokens::GRID;

/// One column.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    /// Head, with the unit.
    pub head: &'static str,
    /// How wide.
    pub width: Width,
    /// Numbers stand at the right, words at the left.
    pub side: Side,
    /// Whether the title of a card says it already.
    pub in_title: bool,
}

impl Column {
    /// A column that stands in the title of a card: in the one that its row was given, or else by what
    /// it holds.
    #[must_use]
    pub const fn in_title(self) -> Self {
        Self {
            in_title: true,
            ..self
        }
    }
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
        in_title: false,
    }
}

/// A column of numbers.
pub const fn numbers(head: &'static str, points: f32) -> Column {
    Column {
        head,
        width: Width::Points(points),
        side: Side::Right,
        in_title: false,
    }
}

/// How the rows of a table are laid out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lay {
    /// Columns beside each other.
    Grid,
    /// One card under the other.
    Cards,
}

impl Lay {
    /// How rows are laid out in so much room, points.
    pub fn of(columns: &[Column], width: f32) -> Self {
        let narrow = columns
            .iter()
            .zip(places(columns, width))
            .any(|(column, [_, width])| matches!(column.width, Width::Share(_)) && width < LEAST);
        let gutters = GUTTER * columns.len().saturating_sub(1) as f32;
        if narrow || fixed(columns) + gutters > width {
            Self::Cards
        } else {
            Self::Grid
        }
    }
}

fn fixed(columns: &[Column]) -> f32 {
    let points = |column: &Column| match column.width {
        Width::Points(points) => points,
        Width::Share(_) => 0.0,
    };
    columns.iter().map(points).sum()
}

/// Where each column lies in a row `width` points wide: left edge and width, gutters left out.
pub fn places(columns: &[Column], width: f32) -> Vec<[f32; 2]> {
    let share = |column: &Column| match column.width {
        Width::Points(_) => 0.0,
        Width::Share(share) => share,
    };
    let shares: f32 = columns.iter().map(share).sum();
    let gutters = GUTTER * columns.len().saturating_sub(1) as f32;
    let free = (width - fixed(columns) - gutters).max(0.0);
    let mut left = 0.0;
    columns
        .iter()
        .map(|column| {
            let width = match column.width {
                Width::Points(points) => points,
                Width::Share(share) => free * share / shares.max(f32::MIN_POSITIVE),
            };
            let place = [left, width];
            left += width + GUTTER;
            place
        })
        .collect()
}

/// The head of a table; cards need none.
pub fn head(ui: &mut Ui, columns: &[Column]) {
    let width = ui.available_width();
    if Lay::of(columns, width) == Lay::Cards {
        return;
    }
    let (rect, response) = ui.allocate_exact_size(vec2(width, 3.0 * tokens::GRID), Sense::hover());
    let heads: Vec<_> = columns.iter().map(|column| column.head).collect();
    let name = heads.join(", ");
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &name));
    let ink = theme::tokens(ui).quiet;
    for (column, place) in columns.iter().zip(places(columns, rect.width())) {
        cell(ui, rect, place, column.head, ink, column.side);
    }
}

/// What a row says.
#[derive(Clone, Copy, Debug)]
pub struct Row<'a> {
    /// What a screen reader says.
    pub name: &'a str,
    /// What stands on top of a card, if it is neither what columns marked for it hold nor the first
    /// cell of words.
    pub title: Option<&'a str>,
    /// One for each column.
    pub cells: &'a [Cell],
    /// What the pointer can do.
    pub sense: Sense,
    /// Whether it is chosen.
    pub chosen: Chosen,
}

impl<'a> Row<'a> {
    /// A row that is looked at only.
    pub const fn new(name: &'a str, cells: &'a [Cell]) -> Self {
        Self {
            name,
            title: None,
            cells,
            sense: Sense::HOVER,
            chosen: Chosen::No,
        }
    }
}

/// A row that was drawn.
pub struct Done {
    /// What the pointer did on it.
    pub response: Response,
    /// Where each cell is: pictures are painted there by whoever knows them.
    pub places: Vec<Rect>,
}

/// Draws a row.
pub fn row(ui: &mut Ui, columns: &[Column], row: Row<'_>) -> Done {
    let width = ui.available_width();
    let laid = match Lay::of(columns, width) {
        Lay::Grid => grid::lay(ui, columns, row.cells, width),
        Lay::Cards => cards::lay(ui, columns, row, width),
    };
    let (rect, response) = ui.allocate_exact_size(vec2(width, laid.height), row.sense);
    let clicks = row.sense.senses_click();
    let kind = if clicks { Role::Button } else { Role::Label };
    let chosen = row.chosen == Chosen::Yes;
    response.widget_info(|| match clicks {
        true => WidgetInfo::selected(kind, true, chosen, row.name),
        false => WidgetInfo::labeled(kind, true, row.name),
    });
    let places: Vec<Rect> = laid.places(rect.min);
    if ui.is_rect_visible(rect) {
        if chosen || clicks && response.hovered() {
            let tint = theme::tokens(ui).tint;
            let wide = rect.expand2(vec2(tokens::GRID, 0.0));
            ui.painter().rect_filled(wide, tokens::CORNER, tint);
        }
        laid.paint(ui, rect.min);
        if Lay::of(columns, width) == Lay::Cards {
            let hair = egui::Stroke::new(tokens::HAIR, theme::tokens(ui).rule);
            ui.painter().hline(rect.x_range(), rect.bottom(), hair);
        }
        focus_ring(ui, &response, rect);
    }
    let response = match clicks {
        true => response.on_hover_cursor(CursorIcon::PointingHand),
        false => response,
    };
    Done { response, places }
}

/// A row of texts.
pub fn text_row(ui: &mut Ui, columns: &[Column], texts: &[String], sense: Sense) -> Response {
    let said = texts.iter().map(String::as_str);
    let name = said.filter(|text| !text.is_empty()).collect::<Vec<_>>();
    let name = name.join(", ");
    let cells: Vec<Cell> = texts.iter().map(|text| Cell::text(text.as_str())).collect();
    let of = Row {
        sense,
        ..Row::new(&name, &cells)
    };
    row(ui, columns, of).response
}

/// One line of text in the place of a cell. Says whether it was elided.
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

    const COLUMNS: [Column; 3] = [
        words("a", Width::Share(1.0)),
        numbers("b", 100.0),
        words("c", Width::Share(3.0)),
    ];

    #[test]
    fn columns_share_what_the_fixed_ones_leave() {
        assert_eq!(
            places(&COLUMNS, 532.0),
            vec![[0.0, 100.0], [116.0, 100.0], [232.0, 300.0]]
        );
    }

    #[test]
    fn rows_become_cards_where_a_column_of_words_is_too_narrow() {
        assert_eq!(Lay::of(&COLUMNS, 532.0), Lay::Grid);
        assert_eq!(Lay::of(&COLUMNS, 450.0), Lay::Cards);
        let numbers = [numbers("a", 100.0), numbers("b", 100.0)];
        assert_eq!(Lay::of(&numbers, 216.0), Lay::Grid);
        assert_eq!(Lay::of(&numbers, 215.0), Lay::Cards);
    }
}
