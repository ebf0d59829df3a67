//! How a device behaved, rule by rule.

use crate::inputs::{AuditLine, AuditView};
use crate::parts::{self, Glyph, Voice};
use crate::request::{RadioWish, Request};
use crate::theme::{self, tokens};
use egui::Ui;

/// Draws an audit.
pub(super) fn audit_ui(ui: &mut Ui, audit: &AuditView, out: &mut Vec<Request>) {
    ui.horizontal(|ui| {
        parts::caption(ui, &format!("Radio conduct of {}", audit.device));
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            if parts::button(ui, "Back to the instruments", "", Voice::Plain).clicked() {
                out.push(Request::Radio(RadioWish::CloseAudit));
            }
        });
    });
    if !audit.identity.is_empty() {
        parts::quiet(ui, &audit.identity);
    }
    parts::paragraph(ui, &audit.sentence);
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
    parts::marked(ui, glyph, ink, &words, tokens::BODY);
    if rule.is_broken || !rule.words.is_empty() {
        ui.scope(|ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            parts::quiet(ui, &format!("{} ({})", rule.words, rule.clause));
        });
        ui.add_space(0.5 * tokens::GRID);
    }
}
