//! How a device behaved, rule by rule.

use crate::inputs::{AuditLine, AuditView, told};
use crate::parts::{self, Glyph};
use crate::request::{RadioWish, Request};
use crate::theme::{self, tokens};
use egui::Ui;

const BACK: &str = "Back to the instruments";

/// Draws an audit.
pub(super) fn audit_ui(ui: &mut Ui, audit: &AuditView, out: &mut Vec<Request>) {
    let title = format!("Radio conduct of {}", audit.device);
    parts::title_with(
        ui,
        |ui| parts::caption(ui, &title),
        &[(BACK, "")],
        |_| {
            out.push(Request::Radio(RadioWish::CloseAudit));
        },
    );
    if !audit.identity.is_empty() {
        parts::quiet(ui, &audit.identity);
    }
    parts::paragraph(ui, &told(ui, &audit.sentence));
    ui.add_space(tokens::GRID);
    for rule in &audit.rules {
        rule_ui(ui, rule);
    }
}

fn rule_ui(ui: &mut Ui, rule: &AuditLine) {
    let t = theme::tokens(ui);
    let (glyph, ink) = match (rule.is_broken, rule.outcome.as_str()) {
        (true, _) => (Glyph::Cross, t.alarm),
        (false, "kept") => (Glyph::Disc, t.text),
        (false, _) => (Glyph::Dash, t.quiet),
    };
    let words = format!("{} · {}", rule.title, rule.outcome);
    parts::marked_lines(ui, glyph, ink, &words);
    if rule.is_broken || !rule.words.is_empty() {
        ui.scope(|ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            parts::quiet(ui, &format!("{} ({})", told(ui, &rule.words), rule.clause));
        });
        ui.add_space(0.5 * tokens::GRID);
    }
}
