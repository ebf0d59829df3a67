//! The claim sheet: what the maker states, as statements that can be measured.

use super::editor::{self, Editor, Grammar};
use super::templates;
use crate::inputs::{DraftProblem, Inputs, SheetCard, told};
use crate::parts::{self, Voice, control, field};
use crate::request::{Request, ScriptWish};
use crate::theme::tokens;
use analysis::claim::{Claim, ClaimError, read_sheet};
use egui::Ui;

/// What a claim sheet is made of.
const SHEET: Grammar = Grammar {
    list: "claims",
    entry: "claim",
    templates: templates::CLAIMS,
};

/// The sheet that is being edited, and what is wrong with it.
#[derive(Debug, Default)]
pub(super) struct Claims {
    editor: Option<Editor>,
    read: Option<(u64, Read)>,
}

#[derive(Debug, Default)]
struct Read {
    claims: Vec<String>,
    problems: Vec<DraftProblem>,
}

impl Claims {
    /// Whether a sheet is edited.
    pub(super) fn edits(&self) -> bool {
        self.editor.is_some()
    }

    /// Takes back the last change.
    pub(super) fn undo(&mut self) {
        if let Some(editor) = &mut self.editor {
            editor.undo();
        }
    }
}

/// Draws the sheets, or the one that is being edited.
pub(super) fn claims_ui(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    claims: &mut Claims,
    out: &mut Vec<Request>,
) {
    parts::page(ui, "claims", |ui| match claims.editor.take() {
        Some(editor) => edit(ui, claims, editor, out),
        None => choose(ui, inputs, claims, out),
    });
}

fn title(sheet: &SheetCard) -> &str {
    match sheet.name.as_str() {
        "" => "No claim sheet: the tolerance of the settings is assumed",
        name => name,
    }
}

fn choose(ui: &mut Ui, inputs: &Inputs<'_>, claims: &mut Claims, out: &mut Vec<Request>) {
    parts::paragraph(
        ui,
        "A claim sheet holds the published claims as statements that can be measured, each with \
         its limit, its conditions and where it was read. The chosen sheet is sealed into the \
         session before the first sample.",
    );
    ui.add_space(tokens::GRID);
    for sheet in inputs.sheets {
        let second = match read_sheet(&sheet.text) {
            Ok(read) => {
                let names: Vec<&str> = read.claims.iter().map(Claim::name).collect();
                names.join(", ")
            }
            Err(error) => error.to_string(),
        };
        let response = control::choice_row(ui, sheet.is_chosen.into(), title(sheet), &second);
        if response.clicked() {
            let name = Some(sheet.name.clone()).filter(|name| !name.is_empty());
            out.push(Request::Script(ScriptWish::ChooseSheet(name)));
        }
    }
    ui.add_space(tokens::GRID);
    let Some(chosen) = inputs.sheets.iter().find(|sheet| sheet.is_chosen) else {
        return;
    };
    ui.horizontal_wrapped(|ui| {
        let words = match chosen.name.is_empty() {
            true => "Make a claim sheet",
            false => "Edit this sheet",
        };
        if parts::button(ui, words, "", Voice::Plain).clicked() {
            let name = match chosen.name.is_empty() {
                true => "claims".to_owned(),
                false => chosen.name.clone(),
            };
            claims.editor = Some(Editor::open(name, &chosen.text, 0));
            claims.read = None;
        }
        if !chosen.name.is_empty() && parts::button(ui, "Delete", "", Voice::Plain).clicked() {
            out.push(Request::Script(ScriptWish::DeleteSheet(
                chosen.name.clone(),
            )));
        }
    });
    ui.add_space(tokens::GRID);
    for words in words_of(&chosen.text) {
        parts::paragraph(ui, &told(ui, &words));
    }
}

fn edit(ui: &mut Ui, claims: &mut Claims, mut editor: Editor, out: &mut Vec<Request>) {
    let mut closes = false;
    ui.horizontal_wrapped(|ui| {
        let id = Some(editor::name_id());
        let name = &mut editor.name;
        field::line_of(ui, id, "Name of the claim sheet", "name", name, 200.0);
        if parts::button(ui, "Keep this sheet", "", Voice::Plain).clicked() {
            out.push(Request::Script(ScriptWish::SaveSheet {
                name: editor.name.trim().to_owned(),
                text: editor.text.clone(),
            }));
            editor.kept.clone_from(&editor.text);
        }
        if parts::button(ui, "Take back", "Ctrl Z", Voice::Plain).clicked() {
            editor.undo();
        }
        let words = match editor.is_changed() {
            true => "Close without keeping",
            false => "Close",
        };
        closes = parts::button(ui, words, "", Voice::Plain).clicked();
    });
    ui.add_space(tokens::GRID);
    if claims
        .read
        .as_ref()
        .is_none_or(|(serial, _)| *serial != editor.serial)
    {
        claims.read = Some((editor.serial, read(&editor.text)));
    }
    if let Some((_, read)) = &claims.read {
        for words in &read.claims {
            parts::paragraph(ui, &told(ui, words));
        }
        ui.add_space(tokens::GRID);
        editor::editor_ui(ui, SHEET, &mut editor, &read.problems);
    }
    if !closes {
        claims.editor = Some(editor);
    }
}

fn read(text: &str) -> Read {
    match read_sheet(text) {
        Ok(sheet) => Read {
            claims: sheet.claims.iter().map(claim_words).collect(),
            problems: Vec::new(),
        },
        Err(error) => Read {
            claims: Vec::new(),
            problems: vec![problem(&error)],
        },
    }
}

fn problem(error: &ClaimError) -> DraftProblem {
    let (line, column, words) = match error {
        ClaimError::NotASheet {
            line,
            column,
            words,
        } => (*line, *column, words.clone()),
        ClaimError::BadNumber { name, place, words } => {
            let [line, column] = place.unwrap_or([0, 0]);
            (line, column, format!("claim {name:?}: {words}"))
        }
    };
    DraftProblem {
        line,
        column,
        words,
    }
}

fn words_of(text: &str) -> Vec<String> {
    read_sheet(text)
        .map(|sheet| sheet.claims.iter().map(claim_words).collect())
        .unwrap_or_default()
}

/// A claim in words: its name, its limit, its conditions.
fn claim_words(claim: &Claim) -> String {
    let (limit, conditions) = match claim {
        Claim::PowerAccuracy(power) => {
            let range = power.range_w.map_or(String::new(), |[low, high]| {
                format!(" from {low} to {high} W")
            });
            let tolerance = power.tolerance.words();
            let limit = format!("{tolerance}{range}, {}", power.covers.words());
            (limit, &power.conditions)
        }
        Claim::Measurable(claim) => (claim.subject.words(), &claim.conditions),
        // A kind of claim that is younger than this page.
        other => return format!("{}: {}", other.name(), other.text()),
    };
    let conditions = match conditions.is_empty() {
        true => String::new(),
        false => format!("; {}", conditions.join(", ")),
    };
    format!("{}: {limit}{conditions}", claim.name())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_is_told_in_words_and_a_mistake_at_its_line() {
        let text = "(claims: [\n  PowerAccuracy((name: \"power\", tolerance: PercentOfReading(1), \
                    range_w: Some((50, 800)), conditions: [\"warm\"])),\n])";
        let found = read(text);
        assert_eq!(found.problems, []);
        assert!(found.claims[0].starts_with("power: "), "{:?}", found.claims);
        assert!(found.claims[0].contains("from 50 to 800 W"));
        assert!(found.claims[0].ends_with("; warm"));
        let wrong = read(&text.replace("name:", "nam:"));
        assert_eq!(wrong.problems[0].line, 2, "{:?}", wrong.problems);
    }
}
