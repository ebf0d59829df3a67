//! The decision rule: fixed and sealed before the ride, so that nobody can choose it afterwards.

use crate::inputs::{Inputs, RuleCard, told};
use crate::parts::{self, Glyph, Voice};
use crate::request::{Request, ScriptWish};
use crate::theme::{self, tokens};
use analysis::settings::Settings;
use egui::{Role, TextEdit, Ui, WidgetInfo};

/// The text of the rule while it is changed.
#[derive(Debug, Default)]
pub(super) struct RuleText {
    text: Option<String>,
    wrong: Option<String>,
}

/// Draws the rule.
pub(super) fn rule_ui(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    state: &mut RuleText,
    out: &mut Vec<Request>,
) {
    parts::page(ui, "rule", |ui| {
        let Some(rule) = inputs.rule else {
            parts::empty(
                ui,
                "The rule cannot be read",
                "The file rule.ron in the data folder is not a rule. Put it right or delete it; \
                 the usual rule applies then.",
            );
            if parts::button(ui, "Back to the usual rule", "", Voice::Plain).clicked() {
                out.push(Request::Script(ScriptWish::SaveRule(String::new())));
            }
            return;
        };
        words_ui(ui, rule);
        ui.add_space(tokens::GAP);
        match state.text.take() {
            Some(text) => edit(ui, state, text, out),
            None => {
                ui.horizontal_wrapped(|ui| {
                    if parts::button(ui, "Change it", "", Voice::Plain).clicked() {
                        state.text = Some(rule.text.to_string());
                    }
                    if parts::button(ui, "Back to the usual rule", "", Voice::Plain).clicked() {
                        out.push(Request::Script(ScriptWish::SaveRule(String::new())));
                    }
                });
                ui.add_space(tokens::GRID);
                parts::quiet(ui, &rule.text);
            }
        }
    });
}

fn words_ui(ui: &mut Ui, rule: &RuleCard) {
    parts::caption(ui, "How a number becomes a verdict");
    parts::paragraph(ui, &told(ui, &rule.settings.rule_words()));
    ui.add_space(tokens::GRID);
    parts::caption(ui, "Its lock");
    parts::paragraph(
        ui,
        "Rule, claims and script are written into the session with their SHA-256 and sealed before \
         the first sample. A session that is running keeps the rule it began with; what is changed \
         here applies to the next one.",
    );
    let ink = theme::tokens(ui).text;
    let text = format!("SHA-256 {}", rule.sha256);
    parts::marked_lines(ui, Glyph::Disc, ink, &text);
}

fn edit(ui: &mut Ui, state: &mut RuleText, mut text: String, out: &mut Vec<Request>) {
    let mut closes = false;
    ui.horizontal_wrapped(|ui| {
        if parts::button(ui, "Keep this rule", "", Voice::Plain).clicked() {
            match Settings::from_ron(&text) {
                Ok(_) => {
                    out.push(Request::Script(ScriptWish::SaveRule(text.clone())));
                    closes = true;
                }
                Err(error) => state.wrong = Some(error.to_string()),
            }
        }
        if parts::button(ui, "Close without keeping", "", Voice::Plain).clicked() {
            closes = true;
        }
    });
    parts::quiet(
        ui,
        "Claims come from the claim sheet; those in this text are not used. Every number that \
         enters the uncertainty has its source beside it.",
    );
    if let Some(wrong) = &state.wrong {
        let ink = theme::tokens(ui).alarm;
        parts::marked_lines(ui, Glyph::Cross, ink, wrong);
    }
    let response = ui.add(
        TextEdit::multiline(&mut text)
            .desired_width(f32::INFINITY)
            .margin(egui::Margin::same(8)),
    );
    response.widget_info(|| WidgetInfo::labeled(Role::MultilineTextInput, true, "Rule"));
    if response.changed() {
        state.wrong = Settings::from_ron(&text)
            .err()
            .map(|error| error.to_string());
    }
    if closes {
        state.wrong = None;
    } else {
        state.text = Some(text);
    }
}
