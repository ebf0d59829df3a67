//! The form: the values of every entry as fields, and what can be done to an entry as signs.

use super::change::{Change, apply};
use super::draft::{Editor, Grammar};
use super::quotes::{quote, unquoted};
use crate::parts::{self, Voice, control, field};
use crate::place::script::outline::{EntryAt, Outline, is_one_value};
use crate::theme::{self, tokens};
use egui::{Ui, vec2};
use std::ops::Range;

pub(super) fn form_ui(ui: &mut Ui, grammar: Grammar, editor: &mut Editor) {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_words_with_their_unit() {
        assert_eq!(words("power_w"), "power, W");
        assert_eq!(words("settle_seconds"), "settle, s");
        assert_eq!(words("seconds"), "seconds");
        assert_eq!(words("u_pct"), "u, %");
    }
}
