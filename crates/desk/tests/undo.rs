//! Who takes back a change: the editor of a script only while it is shown, a field otherwise.

mod sample;
mod stage;

use desk::{Order, Place, Request, ScriptWish, ShelfWish};
use egui::{Key, Modifiers};
use egui_kittest::kittest::{NodeT, Queryable};
use sample::papers;
use stage::{Play, Stage, click, open, press, wishes};

fn opened() -> Play {
    let mut play = open(
        Stage {
            scripts: vec![papers::own_script()],
            rigs: sample::rigs(),
            sheets: papers::sheets(),
            rule: Some(papers::rule()),
            shelf: sample::shelf(20),
            ..Stage::default()
        },
        [1600.0, 1000.0],
    );
    play.run();
    play
}

fn take_back(play: &mut Play) {
    play.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    play.run();
}

fn types(play: &mut Play, field: &str, text: &str) {
    let node = play.get_by_label(field);
    node.focus();
    play.run();
    play.get_by_label(field).type_text(text);
    play.run();
}

fn value(play: &Play, field: &str) -> String {
    let node = play.get_by_label(field);
    node.accesskit_node().value().unwrap_or_default()
}

/// The text that is to be read, if the desk asks for that.
fn checked(play: &mut Play) -> Option<String> {
    play.step();
    wishes(play).into_iter().rev().find_map(|wish| match wish {
        Request::Script(ScriptWish::Check { text, .. }) => Some(text),
        _ => None,
    })
}

fn go(play: &mut Play, place: Place) {
    if let Some(desk) = &mut play.state_mut().desk {
        desk.go(place);
    }
    play.run();
}

#[test]
fn a_field_takes_back_its_own_text() {
    let mut play = opened();
    go(&mut play, Place::Shelf);
    types(&mut play, "Search the shelf", "run 17");
    assert_eq!(value(&play, "Search the shelf"), "run 17");
    take_back(&mut play);
    assert_eq!(value(&play, "Search the shelf"), "");
    // The shelf follows what stands in the field, and nothing else is wished for.
    let order = Order::default();
    let shown = ["run 17", ""].map(|words| {
        let words = words.to_owned();
        Request::Shelf(ShelfWish::Show { words, order })
    });
    assert_eq!(wishes(&mut play), shown);
}

#[test]
fn the_editor_takes_back_while_it_is_shown_and_is_left_alone_elsewhere() {
    let mut play = opened();
    click(&mut play, "Edit");
    click(&mut play, "Remove step 1");
    let changed = checked(&mut play).expect("the changed text is read");
    assert!(!changed.contains("warm up"));

    // Elsewhere the key is for what is there: a field, or nothing.
    go(&mut play, Place::Shelf);
    take_back(&mut play);
    types(&mut play, "Search the shelf", "run");
    take_back(&mut play);
    assert_eq!(value(&play, "Search the shelf"), "");
    go(&mut play, Place::Script);
    assert_eq!(checked(&mut play).as_deref(), Some(changed.as_str()));

    // The field for the name has a history of its own.
    types(&mut play, "Name of the script", "-2");
    assert_eq!(value(&play, "Name of the script"), "own-sweep-2");
    take_back(&mut play);
    assert_eq!(value(&play, "Name of the script"), "own-sweep");
    assert_eq!(checked(&mut play).as_deref(), Some(changed.as_str()));

    // The list of keys lies over the editor, so nothing is edited.
    press(&mut play, Key::Tab);
    press(&mut play, Key::F1);
    take_back(&mut play);
    press(&mut play, Key::F1);
    assert_eq!(checked(&mut play).as_deref(), Some(changed.as_str()));

    take_back(&mut play);
    assert_eq!(checked(&mut play).as_deref(), Some(papers::TEXT));
}

#[test]
fn the_rule_is_one_field_and_takes_back_by_itself() {
    let mut play = opened();
    click(&mut play, "Decision rule");
    click(&mut play, "Change it");
    let before = value(&play, "Rule");
    types(&mut play, "Rule", "// mine");
    assert_ne!(value(&play, "Rule"), before);
    take_back(&mut play);
    assert_eq!(value(&play, "Rule"), before);
}
