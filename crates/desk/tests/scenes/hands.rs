//! What is done with hands before a picture is taken.

use crate::sample::papers;
use crate::stage::Play;
use desk::{Request, ScriptWish};
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;

pub fn nothing(_: &mut Play) {}

pub fn press(play: &mut Play, key: Key) {
    play.key_press(key);
    play.run();
}

/// Clicks what has this name, wherever it is scrolled to.
pub fn click(play: &mut Play, name: &str) {
    play.get_by_label(name).click_accesskit();
    play.run();
}

/// Opens a page of Script.
pub fn tab(play: &mut Play, name: &str) {
    press(play, Key::Num2);
    click(play, name);
}

/// Selects the last minute and a half by key.
pub fn select(play: &mut Play) {
    press(play, Key::Comma);
    press(play, Key::A);
    for _ in 0..18 {
        press(play, Key::Period);
    }
    press(play, Key::B);
}

pub fn chosen_device(play: &mut Play) {
    press(play, Key::Num1);
    press(play, Key::ArrowDown);
}

pub fn settings(play: &mut Play) {
    play.key_press_modifiers(Modifiers::COMMAND, Key::Comma);
    play.run_steps(4);
}

/// Opens a script in the editor; what is read of it has mistakes.
pub fn edited(play: &mut Play) {
    press(play, Key::Num2);
    click(play, "Edit");
    let asked = play
        .state()
        .wishes
        .iter()
        .rev()
        .find_map(|wish| match wish {
            Request::Script(ScriptWish::Check { serial, .. }) => Some(*serial),
            _ => None,
        });
    let serial = asked.expect("the text is to be read");
    play.state_mut().draft = Some(papers::wrong_draft(serial));
}

pub fn compared(play: &mut Play) {
    press(play, Key::Num5);
}

/// Scrolls the page down by so many points.
pub fn scroll(play: &mut Play, points: f32) {
    let middle = play.ctx.content_rect().center();
    play.event(egui::Event::PointerMoved(middle));
    play.event(egui::Event::MouseWheel {
        unit: egui::MouseWheelUnit::Point,
        delta: egui::vec2(0.0, -points),
        phase: egui::TouchPhase::Move,
        source: egui::MouseWheelSource::Wheel,
        modifiers: egui::Modifiers::NONE,
    });
    for _ in 0..40 {
        play.step();
    }
    play.event(egui::Event::PointerGone);
    play.run();
}

/// Opens the raw traces of a cell.
pub fn lens(play: &mut Play) {
    let row = play
        .query_all_by_label_contains("200\u{a0}W, 90\u{a0}rpm")
        .next();
    row.expect("there is such a cell").click_accesskit();
}
