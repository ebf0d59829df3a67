//! A text and a form of it side by side: the form changes the text in place, the text is what is
//! kept. One history for both.

use super::outline::{EntryAt, Outline, is_one_value};
use super::templates::Template;
use crate::inputs::DraftProblem;
use crate::parts::{self, Glyph, Voice, control, field};
use crate::theme::{self, tokens};
use egui::text::{CCursor, CCursorRange};
use egui::util::undoer::Undoer;
use egui::{Align2, Id, Margin, Role, ScrollArea, TextEdit, Ui, WidgetInfo, vec2};
use std::ops::Range;

/// What a form knows of the kind of text it edits.
#[derive(Clone, Copy, Debug)]
pub(super) struct Grammar {
    /// Name of the list.
    pub list: &'static str,
    /// What an entry is called.
    pub entry: &'static str,
    /// What can be added.
    pub templates: &'static [Template],
}

/// A text being edited.
pub(super) struct Editor {
    /// The name it will be kept under.
    pub name: String,
    /// The text.
    pub text: String,
    /// As it was when it was opened or kept.
    pub kept: String,
    /// Counts the texts.
    pub serial: u64,
    history: Undoer<String>,
}

impl std::fmt::Debug for Editor {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Editor").field("name", &self.name).finish()
    }
}

impl Editor {
    /// Opens a text.
    pub(super) fn open(name: String, text: &str, serial: u64) -> Self {
        Self {
            name,
            text: text.to_owned(),
            kept: text.to_owned(),
            serial,
            history: Undoer::default(),
        }
    }

    /// Whether it differs from what is kept.
    pub(super) fn is_changed(&self) -> bool {
        self.text != self.kept
    }

    /// Takes back the last change.
    pub(super) fn undo(&mut self) {
        if let Some(before) = self.history.undo(&self.text) {
            self.text = before.clone();
            self.serial += 1;
        }
    }

    /// Remembers the text for taking back; says whether it is another one than at the last call.
    fn note(&mut self, ui: &Ui, before: &str) {
        if self.text != before {
            self.serial += 1;
        }
        let now_s = ui.input(|input| input.time);
        self.history.feed_state(now_s, &self.text);
    }

    fn replace(&mut self, range: Range<usize>, with: &str) {
        if self.text.get(range.clone()).is_some() {
            self.text.replace_range(range, with);
        }
    }
}

/// Draws form and text; side by side where there is room.
pub(super) fn editor_ui(
    ui: &mut Ui,
    grammar: Grammar,
    editor: &mut Editor,
    problems: &[DraftProblem],
) {
    let before = editor.text.clone();
    let height =
        (ui.clip_rect().bottom() - ui.cursor().top() - 2.0 * tokens::GAP).max(40.0 * tokens::GRID);
    let wide = ui.available_width() > 96.0 * tokens::GRID;
    if wide {
        let side = 0.5 * (ui.available_width() - tokens::GAP);
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = tokens::GAP;
            ui.vertical(|ui| {
                ui.set_width(side);
                ui.spacing_mut().item_spacing.x = tokens::GRID;
                scrolled(ui, "form", height, |ui| form_ui(ui, grammar, editor));
            });
            ui.vertical(|ui| {
                ui.set_width(side);
                ui.spacing_mut().item_spacing.x = tokens::GRID;
                problems_ui(ui, editor, problems);
                scrolled(ui, "text", height, |ui| text_ui(ui, editor, problems));
            });
        });
    } else {
        problems_ui(ui, editor, problems);
        scrolled(ui, "text", 0.5 * height, |ui| text_ui(ui, editor, problems));
        ui.add_space(tokens::GRID);
        form_ui(ui, grammar, editor);
    }
    editor.note(ui, &before);
}

fn scrolled(ui: &mut Ui, id: &str, height: f32, content: impl FnOnce(&mut Ui)) {
    ScrollArea::vertical()
        .id_salt(id)
        .max_height(height)
        .auto_shrink([false, true])
        .show(ui, content);
}

/// The field for the name, which has a history of its own.
pub(super) fn name_id() -> Id {
    Id::unique("name of what is edited")
}

fn text_id() -> Id {
    Id::unique("text being edited")
}

/// What is wrong, each with a way to its line.
fn problems_ui(ui: &mut Ui, editor: &Editor, problems: &[DraftProblem]) {
    for problem in problems.iter().take(4) {
        let words = match problem.line {
            0 => problem.words.clone(),
            line => format!("line {line}, column {}: {}", problem.column, problem.words),
        };
        let t = theme::tokens(ui);
        ui.horizontal_top(|ui| {
            parts::marked_within(ui, 16.0, Glyph::Cross, t.alarm, "", tokens::BODY);
            let label = egui::Label::new(&words).wrap().sense(egui::Sense::click());
            let response = ui
                .add(label)
                .on_hover_cursor(egui::CursorIcon::PointingHand);
            if response.clicked() && problem.line > 0 {
                go_to(ui, &editor.text, problem.line, problem.column);
            }
        });
    }
    if problems.len() > 4 {
        parts::quiet(ui, &format!("and {} more", problems.len() - 4));
    }
}

/// Puts the cursor of the text at a line and column, counted from 1.
fn go_to(ui: &Ui, text: &str, line: usize, column: usize) {
    let before: usize = text
        .split('\n')
        .take(line - 1)
        .map(|line| line.chars().count() + 1)
        .sum();
    let at = CCursor::new(before + column.saturating_sub(1));
    let mut state = TextEdit::load_state(ui.ctx(), text_id()).unwrap_or_default();
    state.cursor.set_char_range(Some(CCursorRange::one(at)));
    state.store(ui.ctx(), text_id());
    ui.memory_mut(|memory| memory.request_focus(text_id()));
}

/// The text with numbered lines; lines with a mistake are marked.
fn text_ui(ui: &mut Ui, editor: &mut Editor, problems: &[DraftProblem]) {
    let gutter = 5.0 * tokens::GRID;
    let output = TextEdit::multiline(&mut editor.text)
        .id(text_id())
        .desired_width(f32::INFINITY)
        .desired_rows(24)
        .lock_focus(true)
        .margin(Margin {
            left: gutter as i8,
            right: 8,
            top: 8,
            bottom: 8,
        })
        .show(ui);
    let response = output.response.response;
    response.widget_info(|| WidgetInfo::labeled(Role::MultilineTextInput, true, "Text"));
    let t = theme::tokens(ui);
    let font = theme::regular(tokens::BODY);
    let (mut line, mut begins) = (1, true);
    for row in &output.galley.rows {
        if begins {
            let wrong = problems.iter().any(|problem| problem.line == line);
            let ink = if wrong { t.alarm } else { t.quiet };
            let y = output.galley_pos.y + row.rect().center().y;
            let at = egui::pos2(output.galley_pos.x - tokens::GRID, y);
            let painter = ui.painter();
            painter.text(at, Align2::RIGHT_CENTER, line, font.clone(), ink);
            if wrong {
                let at = egui::pos2(output.galley_pos.x - gutter + 8.0, y);
                Glyph::Cross.paint(painter, at, 4.0, t.alarm);
            }
        }
        begins = row.ends_with_newline;
        if begins {
            line += 1;
        }
    }
}

/// What a control of the form asks for.
enum Change {
    Value(Range<usize>, String),
    Move(usize, usize),
    Copy(usize),
    Remove(usize),
    Add(&'static str),
    More(usize, String),
}

fn form_ui(ui: &mut Ui, grammar: Grammar, editor: &mut Editor) {
    let Some(outline) = Outline::of(&editor.text, grammar.list) else {
        parts::quiet(
            ui,
            "The form comes back when the brackets and quotes of the text close.",
        );
        return;
    };
    let mut change = None;
    // Taken once: a row that is a little too wide must not make the next one wider.
    let whole = ui.available_width();
    for value in &outline.head {
        field_ui(
            ui,
            &editor.text,
            &value.name,
            &value.value,
            "head",
            &mut change,
        );
    }
    ui.add_space(tokens::GRID);
    for index in 0..outline.entries.len() {
        entry_ui(
            ui,
            whole,
            grammar,
            editor,
            &outline.entries,
            index,
            &mut change,
        );
    }
    add_ui(ui, grammar, &mut change);
    if let Some(change) = change {
        apply(editor, &outline, change);
    }
}

fn entry_ui(
    ui: &mut Ui,
    whole: f32,
    grammar: Grammar,
    editor: &Editor,
    entries: &[EntryAt],
    index: usize,
    change: &mut Option<Change>,
) {
    let entry = &entries[index];
    let known = grammar.templates.iter().find(|t| t.kind == entry.kind);
    ui.push_id(index, |ui| {
        ui.horizontal(|ui| {
            ui.add_space(entry.depth as f32 * 2.0 * tokens::GRID);
            let title = match known {
                Some(known) => format!("{} · {}", index + 1, known.words),
                None => format!("{} · {}", index + 1, entry.kind),
            };
            let controls = 4.0 * (3.5 * tokens::GRID + ui.spacing().item_spacing.x);
            let deep = entry.depth as f32 * 2.0 * tokens::GRID + tokens::GRID;
            let width = (whole - deep - controls - tokens::GRID).max(80.0);
            ui.allocate_ui_with_layout(
                vec2(width, tokens::CONTROL),
                egui::Layout::left_to_right(egui::Align::Center),
                |ui| {
                    ui.set_width(width);
                    parts::caption(ui, &title);
                },
            );
            let sibling = |other: &EntryAt| other.depth == entry.depth;
            let above = entries[..index].iter().rposition(sibling);
            let below = entries[index + 1..]
                .iter()
                .position(sibling)
                .map(|at| index + 1 + at);
            let named = |what: &str| format!("{what} {} {}", grammar.entry, index + 1);
            if control::sign_button(ui, "↑", &named("Move up")).clicked()
                && let Some(above) = above
            {
                *change = Some(Change::Move(above, index));
            }
            if control::sign_button(ui, "↓", &named("Move down")).clicked()
                && let Some(below) = below
            {
                *change = Some(Change::Move(index, below));
            }
            if control::sign_button(ui, "+", &named("Copy")).clicked() {
                *change = Some(Change::Copy(index));
            }
            if control::sign_button(ui, "×", &named("Remove")).clicked() {
                *change = Some(Change::Remove(index));
            }
        });
        ui.horizontal_wrapped(|ui| {
            ui.add_space(entry.depth as f32 * 2.0 * tokens::GRID);
            for value in &entry.fields {
                let id = format!("{} {}", grammar.entry, index + 1);
                field_ui(ui, &editor.text, &value.name, &value.value, &id, change);
            }
            let more = known.map(|known| known.more).unwrap_or_default();
            for (name, usual) in more {
                let has = entry.fields.iter().any(|field| field.name == *name);
                if !has
                    && parts::button(ui, &format!("+ {}", words(name)), "", Voice::Plain).clicked()
                {
                    *change = Some(Change::More(index, format!("{name}: {usual}")));
                }
            }
        });
        ui.add_space(tokens::GRID);
    });
}

/// The name of a value in words: the unit behind it.
fn words(name: &str) -> String {
    let parts: Vec<&str> = name.split('_').collect();
    match parts.split_last() {
        Some((unit, head)) if !head.is_empty() => {
            let unit = match *unit {
                "w" => "W",
                "rpm" => "rpm",
                "kmh" => "km/h",
                "pct" => "%",
                "m" => "m",
                "s" | "seconds" => "s",
                other => return format!("{} {other}", head.join(" ")),
            };
            format!("{}, {unit}", head.join(" "))
        }
        _ if name == "seconds" => "seconds".to_owned(),
        _ => name.to_owned(),
    }
}

fn field_ui(
    ui: &mut Ui,
    text: &str,
    name: &str,
    at: &Range<usize>,
    of: &str,
    change: &mut Option<Change>,
) {
    let value = &text[at.clone()];
    let quoted = value.len() >= 2 && value.starts_with('"') && value.ends_with('"');
    let mut typed = match quoted {
        true => unquoted(&value[1..value.len() - 1]),
        false => value.to_owned(),
    };
    let label = words(name);
    let font = theme::regular(tokens::BODY);
    let label_width = control::text_width(ui, &label, font.clone()) + 1.5 * tokens::GRID;
    let least = if quoted { 20.0 } else { 7.0 } * tokens::GRID;
    let wanted = (control::text_width(ui, &typed, font) + 3.5 * tokens::GRID).max(least);
    let row = ui.max_rect().width();
    let width = wanted.min((row - label_width - 2.0 * tokens::GRID).max(least));
    let room = ui.max_rect().right() - ui.cursor().left();
    if ui.layout().main_wrap() && room < label_width + width + tokens::GRID {
        ui.end_row();
    }
    ui.push_id(name, |ui| {
        ui.horizontal(|ui| {
            parts::quiet_line(ui, &label);
            let name = format!("{of}, {label}");
            if field::line(ui, &name, "", &mut typed, width) == field::Changed::Yes {
                let new = if quoted { quote(&typed) } else { typed };
                // What would tear the text apart is not taken.
                if is_one_value(&new) {
                    *change = Some(Change::Value(at.clone(), new));
                }
            }
        });
    });
}

fn unquoted(inner: &str) -> String {
    let mut text = String::with_capacity(inner.len());
    let mut letters = inner.chars();
    while let Some(c) = letters.next() {
        match c {
            '\\' => match letters.next() {
                Some('n') => text.push('\n'),
                Some(other) => text.push(other),
                None => {}
            },
            c => text.push(c),
        }
    }
    text
}

fn quote(text: &str) -> String {
    let escaped = text
        .replace('\\', "\\\\")
        .replace('"', "\\\"")
        .replace('\n', "\\n");
    format!("\"{escaped}\"")
}

/// What can be added, as a row of words to choose from and a button.
fn add_ui(ui: &mut Ui, grammar: Grammar, change: &mut Option<Change>) {
    parts::caption(ui, &format!("Add a {}", grammar.entry));
    ui.horizontal_wrapped(|ui| {
        for template in grammar.templates {
            let response = parts::button(ui, template.kind, "", Voice::Plain);
            if response.on_hover_text(template.words).clicked() {
                *change = Some(Change::Add(template.text));
            }
        }
    });
}

fn apply(editor: &mut Editor, outline: &Outline, change: Change) {
    match change {
        Change::Value(at, value) => editor.replace(at, &value),
        Change::Move(first, second) => {
            let a = outline.entries[first].whole.clone();
            let b = outline.entries[second].whole.clone();
            let (one, two) = (
                editor.text[a.clone()].to_owned(),
                editor.text[b.clone()].to_owned(),
            );
            // The later one first, so that the places of the earlier one still hold.
            editor.replace(b, &one);
            editor.replace(a, &two);
        }
        Change::Copy(index) => {
            let whole = outline.entries[index].whole.clone();
            let copy = format!(
                ",\n{}{}",
                indent(&editor.text, whole.start),
                &editor.text[whole.clone()]
            );
            editor.replace(whole.end..whole.end, &copy);
        }
        Change::Remove(index) => {
            let mut whole = outline.entries[index].whole.clone();
            let rest = &editor.text[whole.end..];
            if rest.starts_with(',') {
                whole.end += 1;
            }
            let line = editor.text[..whole.start]
                .rfind('\n')
                .map_or(0, |at| at + 1);
            let alone = editor.text[line..whole.start].trim().is_empty();
            let rest = &editor.text[whole.end..];
            if alone && (rest.starts_with('\n') || rest.trim_start_matches(' ').starts_with('\n')) {
                whole.start = line;
                whole.end += rest.find('\n').map_or(0, |at| at + 1);
            }
            editor.replace(whole, "");
        }
        Change::Add(text) => {
            let Some(end) = outline.end_of_list else {
                return;
            };
            let last = outline.entries.iter().rev().find(|entry| entry.depth == 0);
            let deep = last.map_or_else(
                || "        ".to_owned(),
                |last| indent(&editor.text, last.whole.start),
            );
            let before = editor.text[..end].trim_end();
            let comma = if before.ends_with(',') || before.ends_with('[') {
                ""
            } else {
                ","
            };
            let at = before.len();
            let outer = indent_of_bracket(&deep);
            editor.replace(at..end, &format!("{comma}\n{deep}{text},\n{outer}"));
        }
        Change::More(index, value) => {
            let entry = &outline.entries[index];
            let end = entry.end_of_fields;
            let before = editor.text[..end].trim_end();
            let comma = match before.chars().next_back() {
                Some(',') => " ",
                Some('(') | None => "",
                Some(_) => ", ",
            };
            let at = before.len();
            editor.replace(at..at, &format!("{comma}{value}"));
        }
    }
}

/// The space before what begins at a place, if nothing else stands on its line.
fn indent(text: &str, at: usize) -> String {
    let line = text[..at].rfind('\n').map_or(0, |found| found + 1);
    let before = &text[line..at];
    before
        .chars()
        .take_while(|c| c.is_whitespace())
        .collect::<String>()
}

fn indent_of_bracket(deep: &str) -> String {
    deep.chars()
        .take(deep.chars().count().saturating_sub(4))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "Script(\n    title: \"x\",\n    steps: [\n        Hold(power_w: 120, seconds: \
                        60), // first\n        Rest(seconds: 30),\n    ],\n)\n";

    fn after(change: Change) -> String {
        let mut editor = Editor::open("x".to_owned(), TEXT, 0);
        let outline = Outline::of(TEXT, "steps").unwrap();
        apply(&mut editor, &outline, change);
        editor.text
    }

    fn kinds(text: &str) -> Vec<String> {
        let outline = Outline::of(text, "steps").unwrap();
        outline
            .entries
            .into_iter()
            .map(|entry| entry.kind)
            .collect()
    }

    #[test]
    fn every_change_leaves_a_text_with_an_outline() {
        assert_eq!(kinds(&after(Change::Move(0, 1))), ["Rest", "Hold"]);
        assert_eq!(kinds(&after(Change::Copy(0))), ["Hold", "Hold", "Rest"]);
        assert_eq!(kinds(&after(Change::Remove(0))), ["Rest"]);
        assert_eq!(kinds(&after(Change::Remove(1))), ["Hold"]);
        let added = after(Change::Add("SpinDown()"));
        assert_eq!(kinds(&added), ["Hold", "Rest", "SpinDown"]);
        assert!(added.contains("\n        SpinDown(),\n    ],"), "{added}");
        let more = after(Change::More(0, "cadence_rpm: 80".to_owned()));
        assert!(more.contains("seconds: 60, cadence_rpm: 80)"), "{more}");
        assert!(more.contains("// first"), "comments stay");
    }

    #[test]
    fn names_are_words_with_their_unit() {
        assert_eq!(words("power_w"), "power, W");
        assert_eq!(words("settle_seconds"), "settle, s");
        assert_eq!(words("seconds"), "seconds");
        assert_eq!(words("u_pct"), "u, %");
    }

    #[test]
    fn quotes_survive() {
        let text = "a \"b\" \\ c\n";
        let quoted = quote(text);
        assert_eq!(unquoted(&quoted[1..quoted.len() - 1]), text);
        assert!(is_one_value(&quoted));
    }
}
