//! Nothing is cut, squeezed or painted over: every scene, at every size of the window and of the
//! text, is read as it was painted.

mod ink;
mod sample;
mod scenes;
mod stage;

use desk::{Remembered, ThemeChoice};
use egui::Rect;
use egui::accesskit::Role;
use ink::{Frame, Text};
use scenes::{SCENES, SIZES, Scene, play};

/// A table of sessions side by side may be wider than the window: it scrolls sideways.
const SCROLLS_SIDEWAYS: [&str; 2] = ["compare", "compare-many"];

/// Fewest letters that are left of a name that is cut.
const LEFT_OF_A_NAME: usize = 8;

/// A word longer than this may be broken: a path, a checksum.
const LONG_WORD: usize = 24;

/// A pixel more or less is rounding.
const ROUNDING: f32 = 1.5;

#[test]
fn nothing_is_cut_squeezed_or_painted_over() {
    let wanted = std::env::var("SCENES").unwrap_or_default();
    let mut wrong = Vec::new();
    for scene in SCENES {
        if !wanted.is_empty() && !wanted.split(',').any(|one| one == scene.name) {
            continue;
        }
        for size in SIZES {
            for text_pct in [100, 200] {
                look(scene, size, text_pct, &mut wrong);
            }
        }
        look(scene, SIZES[0], 80, &mut wrong);
    }
    assert!(
        wrong.is_empty(),
        "{} places:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
}

fn look(scene: &Scene, size: [f32; 2], text_pct: u16, wrong: &mut Vec<String>) {
    let theme = ThemeChoice::Light;
    let play = play(scene, Remembered { theme, text_pct }, size);
    let frame = Frame::of(&play);
    let [width, height] = size;
    let mut note = |what: &str, words: &str| {
        let words: String = words.chars().take(60).collect();
        wrong.push(format!(
            "{} at {width}×{height}, {text_pct} %: {what}: {words:?}",
            scene.name
        ));
    };
    let zoom = f32::from(text_pct) / 100.0;
    let rounding = ROUNDING / zoom;
    let window = Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(width, height) / zoom);
    let sideways = SCROLLS_SIDEWAYS.contains(&scene.name);
    for text in &frame.texts {
        if frame.in_field(text) {
            continue;
        }
        if is_cut_at_a_side(text, window, rounding) && !sideways {
            note("cut at a side", &text.words);
        }
        if text.clip.contains_rect(window) && text.ink.bottom() > window.bottom() + rounding {
            note("below the window", &text.words);
        }
        if text.galley.elided {
            if !frame.says(&text.words) {
                note("elided, and said nowhere", &text.words);
            }
            let left: usize = text.galley.rows.iter().map(|row| row.glyphs.len()).sum();
            if left < LEFT_OF_A_NAME {
                note("hardly a letter left", &text.words);
            }
        }
        if let Some(word) = broken_word(text) {
            note("a word is broken", &word);
        }
    }
    for [below, above] in frame.overlaps() {
        note(
            "painted over",
            &format!("{} | {}", below.words, above.words),
        );
    }
    for named in &frame.named {
        if !matches!(named.role, Role::Button | Role::RadioButton) {
            continue;
        }
        for text in &frame.texts {
            let inside = named.rect.expand(0.5).contains(text.ink.center());
            let is_its = named.name.lines().next() == Some(text.words.as_str());
            let reach = named.rect.x_range().expand(rounding);
            if inside && is_its && !sideways {
                let ink = text.ink.x_range();
                if !reach.contains(ink.min) || !reach.contains(ink.max) {
                    note("wider than its control", &text.words);
                }
            }
        }
    }
}

fn is_cut_at_a_side(text: &Text, window: Rect, rounding: f32) -> bool {
    let room = text.clip.intersect(window);
    text.ink.left() < room.left() - rounding || text.ink.right() > room.right() + rounding
}

/// The first word of a text that is broken at the end of a line, if it is one that people read.
fn broken_word(text: &Text) -> Option<String> {
    let rows = &text.galley.rows;
    let letters = |index: usize| rows[index].glyphs.iter().map(|glyph| glyph.chr);
    let parts = |c: &char| c.is_whitespace() && *c != '\u{a0}';
    for index in 0..rows.len().saturating_sub(1) {
        let (row, next) = (letters(index).collect::<Vec<_>>(), letters(index + 1));
        let (Some(last), Some(first)) = (row.last(), next.clone().next()) else {
            continue;
        };
        if rows[index].ends_with_newline || !last.is_alphanumeric() || !first.is_alphanumeric() {
            continue;
        }
        let begin = row.iter().rposition(|c| parts(c)).map_or(0, |at| at + 1);
        let word: String = row[begin..]
            .iter()
            .copied()
            .chain(next.take_while(|c| !parts(c)))
            .collect();
        if word.chars().count() <= LONG_WORD {
            return Some(word);
        }
    }
    None
}
