//! The list of sessions: searched, ordered, each with a picture of its ride.

use super::session::{CARD, ROW, row_ui};
use super::{By, Order, State};
use crate::inputs::ShelfRow;
use crate::parts::table::{self, Column, Lay, Width};
use crate::parts::{self, control, words};
use crate::request::Request;
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
        columns.push(table::words("File", Width::Points(88.0)));
    }
    columns
}

/// What each column orders by.
const ORDERS: [Option<By>; 7] = [
    None,
    Some(By::Title),
    Some(By::Started),
    Some(By::Length),
    Some(By::Verdict),
    None,
    None,
];

/// The sessions that fit the search, in the order of the list.
pub(super) fn found<'a>(shelf: &'a [ShelfRow], state: &State) -> Vec<&'a ShelfRow> {
    let search = state.search.trim().to_lowercase();
    let mut found: Vec<_> = shelf.iter().filter(|row| fits(row, &search)).collect();
    sort(&mut found, state.order);
    found
}

/// How the sessions are laid out in so much room, and how high each is.
fn lay(width: f32) -> (Vec<Column>, Lay, f32) {
    let columns = columns(width);
    match Lay::of(&columns, width - 16.0 * tokens::GRID) {
        Lay::Grid => (columns, Lay::Grid, ROW),
        Lay::Cards => (columns, Lay::Cards, CARD),
    }
}

/// Draws the list.
pub(super) fn rows_ui(ui: &mut Ui, shelf: &[ShelfRow], state: &mut State, out: &mut Vec<Request>) {
    let found = found(shelf, state);
    if found.is_empty() {
        parts::quiet(ui, "No session fits the search.");
        return;
    }
    ui.spacing_mut().item_spacing.y = 0.0;
    let (columns, lay, height) = lay(ui.available_width());
    match lay {
        Lay::Grid => head(ui, &columns, &mut state.order),
        Lay::Cards => orders(ui, &mut state.order),
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
    let count = format!("{} of {} sessions", found.len(), shelf.len());
    parts::quiet_line(ui, &count);
}

/// What the cards are ordered by, as words to choose from.
fn orders(ui: &mut Ui, order: &mut Order) {
    let known = [
        (By::Started, "Ridden"),
        (By::Title, "Session"),
        (By::Length, "Length"),
        (By::Verdict, "Verdict"),
    ];
    let names = known.map(|(by, name)| match (order.by == by, order.falling) {
        (false, _) => name.to_owned(),
        (true, true) => format!("{name} ↓"),
        (true, false) => format!("{name} ↑"),
    });
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let chosen = known.iter().position(|(by, _)| *by == order.by);
    if let Some(index) = control::words_row(ui, &names, chosen) {
        order.turn(known[index].0);
    }
}

fn head(ui: &mut Ui, columns: &[Column], order: &mut Order) {
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
        let name = format!("Order by {}", column.head.to_lowercase());
        response.widget_info(|| WidgetInfo::selected(Role::Button, true, order.by == by, &name));
        let arrow = match (order.by == by, order.falling) {
            (false, _) => "",
            (true, true) => " ↓",
            (true, false) => " ↑",
        };
        let ink = if response.hovered() { t.text } else { t.quiet };
        let text = format!("{}{arrow}", column.head);
        table::cell(ui, rect, [left, width], &text, ink, column.side);
        control::focus_ring(ui, &response, at);
        if response.on_hover_cursor(CursorIcon::PointingHand).clicked() {
            order.turn(by);
        }
    }
}

fn sort(rows: &mut [&ShelfRow], order: Order) {
    let rank = |row: &ShelfRow| {
        let known = row.verdict.as_deref().and_then(words::verdict_in);
        known.map_or(9, |verdict| verdict as usize)
    };
    rows.sort_by(|a, b| {
        let by = match order.by {
            By::Title => a.title.to_lowercase().cmp(&b.title.to_lowercase()),
            By::Started => (a.started_s, &a.key).cmp(&(b.started_s, &b.key)),
            By::Length => a.length_s.total_cmp(&b.length_s),
            By::Verdict => rank(a).cmp(&rank(b)),
        };
        if order.falling { by.reverse() } else { by }
    });
}

fn fits(row: &ShelfRow, search: &str) -> bool {
    search.split_whitespace().all(|word| {
        [&row.title, &row.started, &row.state, &row.note]
            .into_iter()
            .chain(&row.verdict)
            .chain(&row.tags)
            .any(|text| text.to_lowercase().contains(word))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(title: &str, started_s: i64, verdict: Option<&str>) -> ShelfRow {
        ShelfRow {
            title: title.to_owned(),
            started_s,
            verdict: verdict.map(str::to_owned),
            tags: vec!["cold room".to_owned()],
            ..ShelfRow::default()
        }
    }

    #[test]
    fn every_word_of_a_search_must_be_somewhere() {
        let one = row("Trainer 7 · level-sweep", 1, Some("shown within"));
        assert!(fits(&one, "sweep cold"));
        assert!(fits(&one, "shown"));
        assert!(!fits(&one, "sweep hot"));
        assert!(fits(&one, ""));
    }

    #[test]
    fn the_list_is_ordered_by_any_column_both_ways() {
        let rows = [
            row("b", 1, Some("shown beyond")),
            row("A", 3, None),
            row("c", 2, Some("shown within")),
        ];
        let titles = |by, falling| {
            let mut found: Vec<_> = rows.iter().collect();
            sort(&mut found, Order { by, falling });
            found.iter().map(|row| &row.title[..]).collect::<String>()
        };
        assert_eq!(titles(By::Title, false), "Abc");
        assert_eq!(titles(By::Started, true), "Acb");
        assert_eq!(titles(By::Verdict, false), "cbA");
    }
}
