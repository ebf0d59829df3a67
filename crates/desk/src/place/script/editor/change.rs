//! What a control of the form does to the text.

use super::draft::Editor;
use crate::place::script::outline::Outline;
use std::ops::Range;

/// What a control of the form asks for.
pub(super) enum Change {
    Value(Range<usize>, String),
    Move(usize, usize),
    Copy(usize),
    Remove(usize),
    Add(&'static str),
    More(usize, String),
}

pub(super) fn apply(editor: &mut Editor, outline: &Outline, change: Change) {
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
}
