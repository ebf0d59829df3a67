//! Sessions side by side: every condition with what changed and its interval, the curves over each
//! other, and in words what cannot be told apart.

use crate::chart::plot::plot_ui;
use crate::inputs::CompareView;
use crate::parts::table::{self, Width};
use crate::parts::{self, Voice};
use crate::request::{Request, ShelfWish};
use crate::theme::tokens;
use egui::{ScrollArea, Sense, Ui};

/// Narrowest column of one session, points.
const COLUMN: f32 = 38.0 * tokens::GRID;

/// Draws the comparison.
pub(super) fn compare_ui(ui: &mut Ui, compared: &CompareView, out: &mut Vec<Request>) {
    parts::page(ui, "compare", |ui| {
        ui.horizontal(|ui| {
            parts::heading(ui, "Side by side");
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                if parts::button(ui, "Back to the shelf", "Esc", Voice::Plain).clicked() {
                    out.push(Request::Shelf(ShelfWish::CloseCompare));
                }
            });
        });
        ui.add_space(tokens::GRID);
        for sentence in &compared.sentences {
            parts::paragraph(ui, sentence);
        }
        ui.add_space(tokens::GAP);
        sessions(ui, compared);
        ui.add_space(tokens::GAP);
        conditions(ui, compared);
        for plot in &compared.plots {
            ui.add_space(tokens::GAP);
            plot_ui(ui, plot);
        }
    });
}

fn sessions(ui: &mut Ui, compared: &CompareView) {
    let columns = [
        table::words("Session", Width::Share(2.0)),
        table::words("Ridden", Width::Points(136.0)),
        table::words("Verdict", Width::Points(160.0)),
    ];
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        table::head(ui, &columns);
        for session in &compared.sessions {
            let texts = [
                session.title.clone(),
                session.started.clone(),
                session.verdict.clone(),
            ];
            table::text_row(ui, &columns, &texts, Sense::hover());
        }
    });
}

/// The table of conditions; it scrolls sideways where many sessions stand side by side.
fn conditions(ui: &mut Ui, compared: &CompareView) {
    parts::caption(ui, "Conditions");
    if compared.rows.is_empty() {
        parts::quiet(
            ui,
            "No condition was ridden in more than one of them. Ride the same script on each.",
        );
        return;
    }
    let count = compared.heads.len();
    let first = 24.0 * tokens::GRID;
    let gutters = 2.0 * tokens::GRID * count.saturating_sub(1) as f32;
    let least = first + gutters + COLUMN * count.saturating_sub(1) as f32;
    ScrollArea::horizontal()
        .id_salt("conditions")
        .auto_shrink([false, true])
        .show(ui, |ui| {
            ui.set_min_width(least.max(ui.available_width()));
            ui.spacing_mut().item_spacing.y = 0.0;
            let mut columns = vec![table::words("", Width::Points(first))];
            columns.resize(count, table::words("", Width::Share(1.0)));
            let heads = table::text_row(ui, &columns, &compared.heads, Sense::hover());
            let line = heads.rect.bottom();
            let ink = crate::theme::tokens(ui).rule;
            ui.painter()
                .hline(heads.rect.x_range(), line, egui::Stroke::new(1.0, ink));
            for row in &compared.rows {
                table::text_row(ui, &columns, row, Sense::hover());
            }
        });
}
