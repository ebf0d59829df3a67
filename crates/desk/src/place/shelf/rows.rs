//! The list of sessions: searched, ordered, each with a picture of its ride.

use super::session::{CARD, ROW, row_ui};
use super::state::{State, found};
use crate::inputs::Inputs;
use crate::parts::table::{self, Column, Lay, Width};
use crate::parts::{self, control};
use crate::request::{By, Order, Request};
use crate::theme::{self, tokens};
use egui::{CursorIcon, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};

fn columns(width: f32) -> Vec<Column> {
    let mut columns = vec![
        table::words("", Width::Points(16.0)),
        table::words("Session", Width::Share(3.0)),
        table::words("Ridden", Width::Points(128.0)),
        table::numbers("Length", 72.0),
        table::words("Verdict", Width::Points(144.0)),
    ];
    if width > 100.0 * tokens::GRID {
        columns.push(table::words("Ride", Width::Points(96.0)));
    }
    if width > 124.0 * tokens::GRID {
        columns.push(table::words("File", Width::Points(88.0)));
    }
    columns
}

/// What each column orders by.
const ORDERS: [Option<By>; 7] = [
    None,
    Some(By::Device),
    Some(By::Ridden),
    Some(By::Length),
    Some(By::Verdict),
    None,
    None,
];

/// How the sessions are laid out in so much room, and how high each is.
fn lay(width: f32) -> (Vec<Column>, Lay, f32) {
    let columns = columns(width);
    match Lay::of(&columns, width - 16.0 * tokens::GRID) {
        Lay::Grid => (columns, Lay::Grid, ROW),
        Lay::Cards => (columns, Lay::Cards, CARD),
    }
}

/// Draws the list.
pub(super) fn rows_ui(ui: &mut Ui, inputs: &Inputs<'_>, state: &mut State, out: &mut Vec<Request>) {
    let found = found(inputs);
    if found.is_empty() {
        parts::quiet(ui, "No session fits the search.");
        return;
    }
    ui.spacing_mut().item_spacing.y = 0.0;
    let (columns, lay, height) = lay(ui.available_width());
    let mut turned = orders(ui, state.order);
    if lay == Lay::Grid {
        turned = turned.or(head(ui, &columns, state.order));
    }
    if let Some(by) = turned {
        state.order = state.order.turned(by);
        out.push(state.show());
    }
    // Only what is visible is laid out: a shelf may hold a thousand sessions.
    let top = ui.cursor().top();
    let clip = ui.clip_rect();
    if std::mem::take(&mut state.reveals)
        && let Some(at) = found
            .iter()
            .position(|row| Some(&row.key) == state.chosen.as_ref())
    {
        let left = ui.cursor().left();
        let corner = pos2(left, top + at as f32 * height);
        ui.scroll_to_rect(Rect::from_min_size(corner, vec2(1.0, height)), None);
    }
    let first = (((clip.top() - top) / height).floor().max(0.0) as usize).min(found.len());
    let shown = (clip.height() / height).ceil() as usize + 2;
    let last = (first + shown).min(found.len());
    ui.add_space(first as f32 * height);
    for row in &found[first..last] {
        row_ui(ui, &columns, lay, row, state, out);
    }
    ui.add_space((found.len() - last) as f32 * height);
    ui.add_space(tokens::GRID);
    let count = format!("{} of {} sessions", found.len(), inputs.shelf.len());
    parts::quiet_line(ui, &count);
}

/// What the list is ordered by, as words to choose from. Gives the one that was clicked.
fn orders(ui: &mut Ui, order: Order) -> Option<By> {
    let named = By::ALL.map(|(by, word)| {
        let on_top = match (order.by == by, order.falling) {
            (false, _) => "",
            (true, true) => ", the last on top",
            (true, false) => ", the first on top",
        };
        let name = format!("Order by {}{on_top}", word.to_lowercase());
        (format!("{word}{}", arrow(order, by)), name)
    });
    let named: Vec<(&str, &str)> = named
        .iter()
        .map(|(word, name)| (&word[..], &name[..]))
        .collect();
    let chosen = By::ALL.iter().position(|(by, _)| *by == order.by);
    control::named_words_row(ui, &named, chosen).map(|index| By::ALL[index].0)
}

/// Where the largest stands, if the list is ordered by this.
fn arrow(order: Order, by: By) -> &'static str {
    match (order.by == by, order.falling) {
        (false, _) => "",
        (true, true) => " ↓",
        (true, false) => " ↑",
    }
}

/// The heads of the columns; one that the list can be ordered by can be clicked. Gives what was.
fn head(ui: &mut Ui, columns: &[Column], order: Order) -> Option<By> {
    let mut clicked = None;
    let size = vec2(ui.available_width(), tokens::CONTROL);
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    let t = theme::tokens(ui);
    for ((column, [left, width]), by) in columns
        .iter()
        .zip(table::places(columns, rect.width()))
        .zip(ORDERS)
    {
        let at = Rect::from_min_size(rect.min + vec2(left, 0.0), vec2(width, rect.height()));
        let Some(by) = by else {
            table::cell(ui, rect, [left, width], column.head, t.quiet, column.side);
            continue;
        };
        let id = ui.scope_id().with(("order", column.head));
        let response = ui.interact(at, id, Sense::click());
        let name = format!("Order by the column {}", column.head.to_lowercase());
        response.widget_info(|| WidgetInfo::selected(Role::Button, true, order.by == by, &name));
        let ink = if response.hovered() { t.text } else { t.quiet };
        let text = format!("{}{}", column.head, arrow(order, by));
        table::cell(ui, rect, [left, width], &text, ink, column.side);
        control::focus_ring(ui, &response, at);
        if response.on_hover_cursor(CursorIcon::PointingHand).clicked() {
            clicked = Some(by);
        }
    }
    clicked
}
