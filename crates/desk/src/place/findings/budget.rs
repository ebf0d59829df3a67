//! The uncertainty budget of the cell that decides: one bar for each term, the largest named.

use crate::inputs::told;
use crate::parts::table::{self, Cell, Row, Width};
use crate::parts::{self, words};
use crate::theme;
use analysis::findings::{BudgetTerm, Findings};
use egui::{Rect, Ui, vec2};

const COLUMNS: [table::Column; 5] = [
    table::words("Term", Width::Share(1.0)),
    table::numbers("u, %", 48.0),
    table::numbers("Share", 56.0),
    table::words("of the variance", Width::Share(0.8)),
    table::words("Where the number comes from", Width::Share(1.4)),
];

/// Index of the column that holds the bar.
const BAR: usize = 3;

/// Draws the budget.
pub(super) fn budget_ui(ui: &mut Ui, findings: &Findings) {
    if findings.budget.is_empty() {
        return;
    }
    parts::heading(ui, "Uncertainty");
    let variance: f64 = findings.budget.iter().map(|term| term.u_pct.powi(2)).sum();
    let mut terms: Vec<&BudgetTerm> = findings.budget.iter().collect();
    terms.sort_by(|a, b| b.u_pct.total_cmp(&a.u_pct));
    if let Some(first) = terms.first()
        && variance > 0.0
    {
        let share = 100.0 * first.u_pct.powi(2) / variance;
        parts::paragraph(
            ui,
            &format!(
                "{} dominates the cell that decides: {share:.0}\u{a0}% of the variance. Combined: \
                 u = {}\u{a0}%.",
                words::sentence_case(&told(ui, &first.term)),
                words::decimals(variance.sqrt(), 2),
            ),
        );
    }
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        table::head(ui, &COLUMNS);
        for (index, term) in terms.iter().enumerate() {
            row(ui, term, variance, index == 0);
        }
    });
}

fn row(ui: &mut Ui, term: &BudgetTerm, variance: f64, first: bool) {
    let share = if variance > 0.0 {
        term.u_pct.powi(2) / variance
    } else {
        0.0
    };
    let u = words::decimals(term.u_pct, 2);
    let (of, source) = (told(ui, &term.term), told(ui, &term.source));
    let percent = format!("{:.0}\u{a0}%", 100.0 * share);
    let name = format!("{of}: u {u} %, {percent} of the variance, {source}");
    let cells = [
        Cell::text(of.as_ref()),
        Cell::text(u),
        Cell::text(percent),
        Cell::Picture,
        Cell::quiet(source.as_ref()),
    ];
    let done = table::row(ui, &COLUMNS, Row::new(&name, &cells));
    let place = done.places[BAR];
    if ui.is_rect_visible(place) {
        let t = theme::tokens(ui);
        let size = vec2((share as f32 * place.width()).max(1.0), 8.0);
        let line = table::ROW.min(place.height());
        let min = place.left_top() + vec2(0.0, 0.5 * line - 4.0);
        let ink = if first { t.text } else { t.edge };
        ui.painter()
            .rect_filled(Rect::from_min_size(min, size), 0.0, ink);
    }
}
