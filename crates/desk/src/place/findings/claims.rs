//! The claims of the sheet, one row each.

use crate::inputs::told;
use crate::parts::table::{self, Cell, Row, Width};
use crate::parts::{self, Glyph, glyph, words};
use crate::theme::{self, tokens};
use analysis::findings::ClaimFinding;
use egui::Ui;

/// Draws the table of claims.
pub(super) fn claims_ui(ui: &mut Ui, claims: &[ClaimFinding]) {
    parts::heading(ui, "Claims");
    let columns = [
        table::words("Claim", Width::Share(1.2)),
        table::words("Limit", Width::Points(64.0)),
        table::words("Measured", Width::Points(208.0)),
        table::words("Verdict", Width::Points(144.0)),
        table::words("Rests on", Width::Share(1.6)),
    ];
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        table::head(ui, &columns);
        for claim in claims {
            row(ui, &columns, claim);
        }
    });
}

fn row(ui: &mut Ui, columns: &[table::Column], claim: &ClaimFinding) {
    let measured = told(ui, &measured(claim)).into_owned();
    let (limit, remark) = (told(ui, &claim.limit), told(ui, &claim.remark));
    let verdict = claim.verdict.words();
    let name = format!("{}: {limit}, {measured}, {verdict}", claim.name);
    let ink = glyph::verdict_ink(claim.verdict, theme::tokens(ui));
    let cells = [
        Cell::text(claim.name.as_str()),
        Cell::text(limit.as_ref()),
        Cell::text(measured),
        Cell::Marked(Glyph::of_verdict(claim.verdict), ink, verdict.to_owned()),
        Cell::quiet(remark.as_ref()),
    ];
    let response = table::row(ui, columns, Row::new(&name, &cells)).response;
    let published = match claim.text.as_str() {
        "" => "No published words behind this claim.".to_owned(),
        text => format!("Published: “{text}”"),
    };
    response.on_hover_ui(|ui| {
        ui.set_max_width(44.0 * tokens::GRID);
        ui.label(published);
        parts::quiet(ui, &told(ui, &claim.remark));
        parts::quiet(ui, &told(ui, &claim.rule));
    });
}

fn measured(claim: &ClaimFinding) -> String {
    match (claim.measured, claim.expanded) {
        (Some(value), Some(expanded)) => format!(
            "{} ± {}\u{a0}{}",
            words::signed(value, 1),
            words::decimals(expanded, 1),
            claim.unit
        ),
        (Some(value), None) => format!("{}\u{a0}{}", words::signed(value, 1), claim.unit),
        (None, _) => words::NOTHING.to_owned(),
    }
}
