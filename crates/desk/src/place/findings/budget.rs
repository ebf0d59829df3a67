//! The uncertainty budget of the cell that decides: one bar for each term, the largest named.

use crate::parts::table::{self, Width};
use crate::parts::{self, words};
use crate::theme;
use analysis::findings::{BudgetTerm, Findings};
use egui::{Rect, Sense, Ui, vec2};

const COLUMNS: [table::Column; 5] = [
    table::words("Term", Width::Share(1.0)),
    table::numbers("u, %", 48.0),
    table::numbers("Share", 56.0),
    table::words("of the variance", Width::Share(0.8)),
    table::words("Where the number comes from", Width::Share(1.4)),
];

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
                words::sentence_case(&first.term),
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
    let percent = format!("{:.0}\u{a0}%", 100.0 * share);
    let name = format!(
        "{}: u {u} %, {percent} of the variance, {}",
        term.term, term.source
    );
    let response = table::row(ui, &COLUMNS, &name, Sense::hover(), |ui, rect, places| {
        let t = theme::tokens(ui);
        let texts = [
            term.term.as_str(),
            u.as_str(),
            percent.as_str(),
            "",
            term.source.as_str(),
        ];
        for (index, text) in texts.into_iter().enumerate() {
            let ink = if index == 4 { t.quiet } else { t.text };
            table::cell(ui, rect, places[index], text, ink, COLUMNS[index].side);
        }
        let [left, width] = places[3];
        let size = vec2((share as f32 * width).max(1.0), 8.0);
        let min = rect.left_center() + vec2(left, -4.0);
        let ink = if first { t.text } else { t.edge };
        ui.painter()
            .rect_filled(Rect::from_min_size(min, size), 0.0, ink);
    });
    response.on_hover_text(format!("{}\n{}", term.term, term.source));
}
