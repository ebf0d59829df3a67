//! The list of sessions: searched, ordered, each with a picture of its ride.

use super::{By, Order, State};
use crate::inputs::ShelfRow;
use crate::parts::table::{self, Column, Width};
use crate::parts::{self, Glyph, control, glyph, words};
use crate::request::Request;
use crate::theme::{self, tokens};
use egui::{Align2, CursorIcon, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

const ROW: f32 = 5.0 * tokens::GRID;

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

/// Draws the list.
pub(super) fn rows_ui(ui: &mut Ui, shelf: &[ShelfRow], state: &mut State, out: &mut Vec<Request>) {
    let found = found(shelf, state);
    if found.is_empty() {
        parts::quiet(ui, "No session fits the search.");
        return;
    }
    ui.spacing_mut().item_spacing.y = 0.0;
    let columns = columns(ui.available_width());
    head(ui, &columns, &mut state.order);
    // Only what is visible is laid out: a shelf may hold a thousand sessions.
    let top = ui.cursor().top();
    let clip = ui.clip_rect();
    if std::mem::take(&mut state.reveals)
        && let Some(at) = found
            .iter()
            .position(|row| Some(&row.key) == state.chosen.as_ref())
    {
        let left = ui.cursor().left();
        let corner = pos2(left, top + at as f32 * ROW);
        ui.scroll_to_rect(Rect::from_min_size(corner, vec2(1.0, ROW)), None);
    }
    let first = (((clip.top() - top) / ROW).floor().max(0.0) as usize).min(found.len());
    let shown = (clip.height() / ROW).ceil() as usize + 2;
    let last = (first + shown).min(found.len());
    ui.add_space(first as f32 * ROW);
    for row in &found[first..last] {
        row_ui(ui, &columns, row, state, out);
    }
    ui.add_space((found.len() - last) as f32 * ROW);
    ui.add_space(tokens::GRID);
    let count = format!("{} of {} sessions", found.len(), shelf.len());
    parts::quiet_line(ui, &count);
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
            *order = Order {
                falling: match order.by == by {
                    true => !order.falling,
                    false => by != By::Title,
                },
                by,
            };
        }
    }
}

fn row_ui(
    ui: &mut Ui,
    columns: &[Column],
    row: &ShelfRow,
    state: &mut State,
    out: &mut Vec<Request>,
) {
    let size = vec2(ui.available_width(), ROW);
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    let places = table::places(columns, rect.width());
    mark_ui(ui, rect, row, state);
    let verdict = row.verdict.as_deref().unwrap_or("not judged");
    let name = format!("{}, {}, {}, {verdict}", row.title, row.started, row.length);
    let body = rect.with_min_x(rect.left() + places[1][0]);
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
    let tags = match row.tags.is_empty() {
        true => String::new(),
        false => format!("  ·  {}", row.tags.join(", ")),
    };
    let title = format!("{}{tags}", row.title);
    let mut elided = table::cell(ui, rect, places[1], &title, t.text, table::Side::Left);
    elided |= table::cell(
        ui,
        rect,
        places[2],
        &row.started,
        t.quiet,
        table::Side::Left,
    );
    elided |= table::cell(ui, rect, places[3], &row.length, t.text, table::Side::Right);
    let known = words::verdict_in(verdict);
    let [left, width] = places[4];
    let ink = known.map_or(t.quiet, |verdict| glyph::verdict_ink(verdict, t));
    if let Some(verdict) = known {
        let center = rect.left_center() + vec2(left + 6.0, 0.0);
        Glyph::of_verdict(verdict).paint(ui.painter(), center, 5.0, ink);
    }
    let text = [left + 20.0, width - 20.0];
    elided |= table::cell(ui, rect, text, verdict, ink, table::Side::Left);
    if let [_, _, _, _, _, ride, file] = places[..] {
        let at = Rect::from_min_size(
            rect.min + vec2(ride[0], 6.0),
            vec2(ride[1], rect.height() - 12.0),
        );
        picture(ui, at, &row.thumbnail);
        elided |= table::cell(ui, rect, file, &row.state, t.quiet, table::Side::Left);
    }
    control::focus_ring(ui, &response, body);
    if response.double_clicked() {
        out.push(Request::OpenShelved(row.key.clone()));
    } else if response.clicked() {
        state.choose(row);
    }
    let response = response.on_hover_cursor(CursorIcon::PointingHand);
    if elided {
        response.on_hover_text(format!("{title}\n{}\n{}", row.started, row.state));
    }
}

/// The small square that marks a session to be put side by side with others.
fn mark_ui(ui: &mut Ui, rect: Rect, row: &ShelfRow, state: &mut State) {
    let at = Rect::from_center_size(
        pos2(rect.left() + 8.0, rect.center().y),
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
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, "Power over the whole ride"));
    picture(ui, rect, points);
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
