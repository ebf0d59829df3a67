//! The claims of the sheet, one row each.

use crate::parts::table::{self, Width};
use crate::parts::{self, Glyph, glyph, words};
use crate::theme::{self, tokens};
use analysis::findings::ClaimFinding;
use egui::{Sense, Ui, vec2};

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
    let measured = measured(claim);
    let verdict = claim.verdict.words();
    let name = format!("{}: {}, {measured}, {verdict}", claim.name, claim.limit);
    let response = table::row(ui, columns, &name, Sense::hover(), |ui, rect, places| {
        let t = theme::tokens(ui);
        let texts = [
            (claim.name.as_str(), t.text),
            (claim.limit.as_str(), t.text),
            (measured.as_str(), t.text),
            ("", t.text),
            (claim.remark.as_str(), t.quiet),
        ];
        for (index, (text, ink)) in texts.into_iter().enumerate() {
            table::cell(ui, rect, places[index], text, ink, columns[index].side);
        }
        let [left, width] = places[3];
        let ink = glyph::verdict_ink(claim.verdict, t);
        let center = rect.left_center() + vec2(left + 6.0, 0.0);
        Glyph::of_verdict(claim.verdict).paint(ui.painter(), center, 5.0, ink);
        let text = [left + 20.0, width - 20.0];
        table::cell(ui, rect, text, verdict, ink, table::Side::Left);
    });
    let published = match claim.text.as_str() {
        "" => "No published words behind this claim.".to_owned(),
        text => format!("Published: “{text}”"),
    };
    response.on_hover_ui(|ui| {
        ui.set_max_width(44.0 * tokens::GRID);
        ui.label(published);
        parts::quiet(ui, &claim.remark);
        parts::quiet(ui, &claim.rule);
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
