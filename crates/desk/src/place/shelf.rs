//! Shelf: the saved sessions.

use crate::inputs::{Inputs, ShelfRow};
use crate::parts::table::{self, Width};
use crate::parts::{self, Glyph, Voice, glyph, words};
use crate::request::Request;
use crate::theme::{self, tokens};
use egui::{Id, Sense, TextEdit, Ui, vec2};

/// What is searched for.
#[derive(Debug, Default)]
pub(crate) struct State {
    search: String,
    field: Option<Id>,
}

impl State {
    /// The field that is typed into.
    pub(crate) fn search_field(&self) -> Option<Id> {
        self.field
    }
}

/// Draws the place.
pub(crate) fn shelf_ui(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    state: &mut State,
    out: &mut Vec<Request>,
) {
    parts::page(ui, "shelf", |ui| {
        ui.horizontal(|ui| {
            parts::heading(ui, "Shelf");
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                if parts::button(ui, "Open a file …", "Ctrl O", Voice::Plain).clicked() {
                    out.push(Request::OpenSession);
                }
                if !inputs.shelf.is_empty() {
                    let field = TextEdit::singleline(&mut state.search)
                        .hint_text("Search")
                        .align(egui::Align2::LEFT_CENTER)
                        .margin(egui::Margin::symmetric(8, 4));
                    let response = ui.add_sized(vec2(200.0, tokens::CONTROL), field);
                    state.field = Some(response.id);
                    let label = "Search the shelf";
                    response.widget_info(|| {
                        egui::WidgetInfo::labeled(egui::Role::TextInput, true, label)
                    });
                }
            });
        });
        ui.add_space(tokens::GRID);
        if inputs.shelf.is_empty() {
            parts::empty(
                ui,
                "Nothing on the shelf yet",
                "Every session you ride is kept here, sealed against changes. Ride one under \
                 Script, or open a session file you were given.",
            );
            return;
        }
        rows(ui, inputs.shelf, &state.search, out);
    });
}

fn rows(ui: &mut Ui, shelf: &[ShelfRow], search: &str, out: &mut Vec<Request>) {
    let columns = [
        table::words("Session", Width::Share(3.0)),
        table::words("Ridden", Width::Share(1.2)),
        table::numbers("Length", 88.0),
        table::words("Verdict", Width::Points(144.0)),
        table::words("File", Width::Points(88.0)),
    ];
    let search = search.trim().to_lowercase();
    let found: Vec<_> = shelf.iter().filter(|row| matches(row, &search)).collect();
    if found.is_empty() {
        parts::quiet(ui, "No session fits the search.");
        return;
    }
    ui.spacing_mut().item_spacing.y = 0.0;
    table::head(ui, &columns);
    // Only what is visible is laid out: a shelf may hold a thousand sessions.
    let top = ui.cursor().top();
    let clip = ui.clip_rect();
    let first = (((clip.top() - top) / table::ROW).floor().max(0.0) as usize).min(found.len());
    let shown = (clip.height() / table::ROW).ceil() as usize + 2;
    let last = (first + shown).min(found.len());
    ui.add_space(first as f32 * table::ROW);
    for row in &found[first..last] {
        row_ui(ui, &columns, row, out);
    }
    ui.add_space((found.len() - last) as f32 * table::ROW);
}

fn row_ui(ui: &mut Ui, columns: &[table::Column], row: &ShelfRow, out: &mut Vec<Request>) {
    let verdict = row.verdict.as_deref().unwrap_or("not judged");
    let name = format!("{}, {}, {}, {verdict}", row.title, row.started, row.length);
    let mut elided = false;
    let response = table::row(ui, columns, &name, Sense::click(), |ui, rect, places| {
        let t = theme::tokens(ui);
        let known = words::verdict_in(verdict);
        let texts = [
            (&row.title, t.text),
            (&row.started, t.quiet),
            (&row.length, t.text),
        ];
        for (index, (text, ink)) in texts.into_iter().enumerate() {
            elided |= table::cell(ui, rect, places[index], text, ink, columns[index].side);
        }
        let [left, width] = places[3];
        let ink = known.map_or(t.quiet, |verdict| glyph::verdict_ink(verdict, t));
        if let Some(verdict) = known {
            let center = rect.left_center() + vec2(left + 6.0, 0.0);
            Glyph::of_verdict(verdict).paint(ui.painter(), center, 5.0, ink);
        }
        let text = [left + 20.0, width - 20.0];
        table::cell(ui, rect, text, verdict, ink, table::Side::Left);
        table::cell(ui, rect, places[4], &row.state, t.quiet, table::Side::Left);
    });
    let clicked = response.clicked();
    if elided {
        response.on_hover_text(format!("{}\n{}", row.title, row.started));
    }
    if clicked {
        out.push(Request::OpenShelved(row.key.clone()));
    }
}

fn matches(row: &ShelfRow, search: &str) -> bool {
    search.is_empty()
        || [&row.title, &row.started, &row.state]
            .into_iter()
            .chain(&row.verdict)
            .any(|text| text.to_lowercase().contains(search))
}
