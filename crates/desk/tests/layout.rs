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
    let zoom = f32::from(text_pct) / 100.0;
    let sides = match SCROLLS_SIDEWAYS.contains(&scene.name) {
        true => Sides::Scrolled,
        false => Sides::Fixed,
    };
    let [width, height] = size;
    for (what, words) in faults(&Frame::of(&play), size, zoom, sides) {
        let words: String = words.chars().take(60).collect();
        let name = scene.name;
        wrong.push(format!(
            "{name} at {width}×{height}, {text_pct} %: {what}: {words:?}"
        ));
    }
}

/// Whether a part of the place scrolls sideways.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Sides {
    Scrolled,
    Fixed,
}

/// What is wrong with a frame: in which way, and the words.
fn faults(frame: &Frame, size: [f32; 2], zoom: f32, sides: Sides) -> Vec<(&'static str, String)> {
    let rounding = ROUNDING / zoom;
    let window = Rect::from_min_size(egui::Pos2::ZERO, egui::Vec2::from(size) / zoom);
    let is_fixed = sides == Sides::Fixed;
    let mut found = Vec::new();
    for text in frame.texts.iter().filter(|text| !frame.in_field(text)) {
        let mut note = |what| found.push((what, text.words.clone()));
        if is_fixed && is_cut_at_a_side(text, window, rounding) {
            note("cut at a side");
        }
        if text.clip.contains_rect(window) && text.ink.bottom() > window.bottom() + rounding {
            note("below the window");
        }
        if is_cut_below(text, rounding) && !frame.scrolls(text) {
            note("cut below, and nothing scrolls");
        }
        if text.galley.elided {
            if !frame.says(&text.words) {
                note("elided, and said nowhere");
            }
            let left: usize = text.galley.rows.iter().map(|row| row.glyphs.len()).sum();
            if left < LEFT_OF_A_NAME {
                note("hardly a letter left");
            }
        }
        if let Some(word) = broken_word(text) {
            found.push(("a word is broken", word));
        }
    }
    for [below, above] in frame.overlaps() {
        found.push(("painted over", format!("{} | {}", below.words, above.words)));
    }
    let controls = frame
        .named
        .iter()
        .filter(|named| is_fixed && matches!(named.role, Role::Button | Role::RadioButton));
    for control in controls {
        let words = control.name.lines().next();
        for text in frame
            .texts
            .iter()
            .filter(|text| words == Some(&*text.words))
        {
            let inside = control.rect.expand(0.5).contains(text.ink.center());
            let reach = control.rect.x_range().expand(rounding);
            let ink = text.ink.x_range();
            if inside && !(reach.contains(ink.min) && reach.contains(ink.max)) {
                found.push(("wider than its control", text.words.clone()));
            }
        }
    }
    found
}

/// The reader itself can fail: each fault, made on purpose, is found, and nothing else is.
#[test]
fn every_kind_of_fault_is_noticed() {
    use egui::{Align2, Color32, FontId, Sense, WidgetInfo, pos2, vec2};
    let size = [400.0, 300.0];
    let see = |draw: fn(&mut egui::Ui)| {
        let mut play = egui_kittest::Harness::builder()
            .with_size(size)
            .with_context_setup(desk::theme::install)
            .build_ui(draw);
        play.run();
        let found = faults(&Frame::of(&play), size, 1.0, Sides::Fixed);
        found.into_iter().map(|(what, _)| what).collect::<Vec<_>>()
    };
    fn say(ui: &egui::Ui, x: f32, y: f32, words: &str) {
        let (at, font) = (pos2(x, y), FontId::proportional(14.0));
        let ink = Color32::BLACK;
        ui.painter().text(at, Align2::LEFT_TOP, words, font, ink);
    }
    assert_eq!(see(|ui| say(ui, 20.0, 20.0, "a text")), [""; 0]);
    assert_eq!(see(|ui| say(ui, 370.0, 20.0, "a text")), ["cut at a side"]);
    let over = see(|ui| {
        say(ui, 20.0, 20.0, "a text");
        say(ui, 24.0, 22.0, "another");
    });
    assert_eq!(over, ["painted over"]);
    fn low(ui: &mut egui::Ui) {
        ui.spacing_mut().item_spacing.y = 6.0;
        for line in 0..40 {
            ui.label(format!("line {line}"));
        }
    }
    let cut = see(|ui| {
        let room = Rect::from_min_size(pos2(20.0, 20.0), vec2(200.0, 96.0));
        let mut inner = ui.new_child(egui::UiBuilder::new().max_rect(room));
        inner.set_clip_rect(room);
        low(&mut inner);
    });
    assert_eq!(cut, ["cut below, and nothing scrolls"]);
    let scrolled = see(|ui| {
        let area = egui::ScrollArea::vertical().max_height(96.0);
        area.show(ui, low);
    });
    assert_eq!(scrolled, [""; 0]);
    let parted = see(|ui| {
        say(ui, 20.0, 20.0, "a text");
        let ground = Rect::from_min_size(pos2(10.0, 10.0), vec2(200.0, 60.0));
        ui.painter().rect_filled(ground, 0.0, Color32::WHITE);
        say(ui, 24.0, 22.0, "another");
    });
    assert_eq!(parted, [""; 0]);
    let broken = see(|ui| {
        ui.set_max_width(24.0);
        ui.add(egui::Label::new("effort").wrap());
    });
    assert_eq!(broken, ["a word is broken"]);
    let elided = see(|ui| {
        ui.set_max_width(40.0);
        ui.add(egui::Label::new("a name that is too long").truncate());
    });
    assert_eq!(elided, ["hardly a letter left"]);
    let wide = see(|ui| {
        let (rect, response) = ui.allocate_exact_size(vec2(20.0, 20.0), Sense::click());
        response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, "Release"));
        let at = rect.center();
        let font = FontId::proportional(14.0);
        let ink = Color32::BLACK;
        ui.painter()
            .text(at, Align2::CENTER_CENTER, "Release", font, ink);
    });
    assert!(wide.contains(&"wider than its control"), "{wide:?}");
}

/// Whether a line of a text is cut through at the bottom of what may be painted on.
fn is_cut_below(text: &Text, rounding: f32) -> bool {
    text.ink.bottom() > text.clip.bottom() + rounding
}

fn is_cut_at_a_side(text: &Text, window: Rect, rounding: f32) -> bool {
    let room = text.clip.intersect(window);
    text.ink.left() < room.left() - rounding || text.ink.right() > room.right() + rounding
}

/// The first word of a text that is broken at the end of a line, if it is one that people read.
fn broken_word(text: &Text) -> Option<String> {
    let letters = |row: &egui::epaint::text::PlacedRow| {
        let glyphs = row.glyphs.iter();
        glyphs.map(|glyph| glyph.chr).collect::<Vec<char>>()
    };
    let parts = |c: &char| c.is_whitespace() && *c != '\u{a0}';
    for pair in text.galley.rows.windows(2) {
        let (row, next) = (letters(&pair[0]), letters(&pair[1]));
        let (Some(last), Some(first)) = (row.last(), next.first()) else {
            continue;
        };
        if pair[0].ends_with_newline || !last.is_alphanumeric() || !first.is_alphanumeric() {
            continue;
        }
        let begin = row.iter().rposition(parts).map_or(0, |at| at + 1);
        let rest = next.iter().copied().take_while(|c| !parts(c));
        let word: String = row[begin..].iter().copied().chain(rest).collect();
        if word.chars().count() <= LONG_WORD {
            return Some(word);
        }
    }
    None
}
