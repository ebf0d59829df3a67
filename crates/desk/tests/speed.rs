//! Whoever prefers miles per hour reads no other speed, in any place.

mod ink;
mod sample;
mod scenes;
mod stage;

use bench::model::{GateView, PromptView};
use desk::{Preferences, Remembered, SpeedUnit};
use egui::accesskit::Role;
use egui_kittest::kittest::Queryable;
use ink::Frame;
use scenes::{SCENES, Scene};
use stage::{Play, Stage, open_with, said};
use std::sync::Arc;

/// Speeds in every text that others bring.
fn laced(mut stage: Stage) -> Stage {
    stage.preferences = Preferences {
        speed: SpeedUnit::Mph,
        ..Preferences::default()
    };
    for card in &mut stage.scripts {
        card.about.push_str(" About 15, 22 and 30 km/h.");
        card.effort.push_str(", up to 38 km/h");
        for step in &mut Arc::make_mut(&mut card.view).steps {
            step.title.push_str(", 30\u{a0}km/h");
        }
    }
    for rig in &mut stage.rigs {
        rig.about.push_str(" It rolls at 34 km/h.");
    }
    for flag in &mut stage.flags {
        flag.words.push_str(" at 34 km/h");
    }
    if let Some(model) = &mut stage.model {
        let script = Arc::make_mut(&mut model.script);
        for step in &mut script.steps {
            step.title.push_str(", 30\u{a0}km/h");
        }
        for flag in Arc::make_mut(&mut model.flags) {
            flag.words.push_str(" at 34 km/h");
        }
        for notice in Arc::make_mut(&mut model.notices) {
            notice
                .words
                .push_str(" The wheel ran down from 35 to 10 km/h.");
        }
        model.brake.told = "slope for 34 km/h".into();
        if let Some(step) = &mut model.step {
            step.title.push_str(", 30\u{a0}km/h");
            step.next = Some("change to gear 3: 22\u{a0}km/h at 90".into());
            step.gate = GateView::NotSteady {
                reason: "speed varies by 3 km/h".into(),
            };
        }
        if let Some(cell) = &mut model.comparison.cell {
            cell.title.push_str(", 34 km/h");
        }
        if let Some(prompt) = &mut model.prompt {
            *prompt = PromptView {
                text: "pedal up above 35.0\u{a0}km/h".into(),
                ..prompt.clone()
            };
        }
    }
    stage
}

fn play(scene: &Scene) -> Play {
    let stage = laced((scene.stage)());
    let mut play = open_with(stage, [1600.0, 1000.0], Remembered::default());
    play.run();
    (scene.go)(&mut play);
    play.run();
    play
}

fn scene(name: &str) -> Play {
    let scene = SCENES.iter().find(|scene| scene.name == name);
    play(scene.expect("the scene is in the list"))
}

/// Where km/h belong: the choice of the unit, and the form of a script, whose fields name what its
/// text holds.
fn may_say(scene: &str, words: &str) -> bool {
    match scene {
        "settings" => words.trim() == "km/h",
        "script-edited" => ["speed, km/h", "from, km/h", "to, km/h"]
            .iter()
            .any(|field| words.contains(field)),
        _ => false,
    }
}

#[test]
fn no_place_says_kilometres_to_whoever_prefers_miles() {
    let mut wrong = Vec::new();
    for scene in SCENES {
        let play = play(scene);
        let frame = Frame::of(&play);
        let named = frame.named.iter().filter(|named| {
            // Texts of files are shown as they are.
            !matches!(
                named.role,
                Role::TextInput | Role::MultilineTextInput | Role::TextRun
            ) || !frame.is_in_field(named.rect.center())
        });
        let named = named.map(|named| named.name.as_str());
        let painted = frame.texts.iter().filter(|text| !frame.in_field(text));
        let painted = painted.map(|text| text.words.as_str());
        for words in named.chain(painted) {
            if words.contains("km/h") && !may_say(scene.name, words) {
                wrong.push(format!("{}: {words:?}", scene.name));
            }
        }
    }
    wrong.dedup();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// One mile is 1.609344 km (NIST SP 811, 2008, appendix B.8): 34 km/h are 21.13 mph, 35 are 21.75,
/// 30 are 18.64, 22 are 13.67.
#[test]
fn the_number_is_converted_with_its_unit() {
    let play = scene("run");
    let names = Frame::of(&play);
    for words in [
        "pedal up above 21.7\u{a0}mph",
        "change to gear 3: 13.7\u{a0}mph at 90",
        "200 W, 90 rpm, 21.1 mph",
        "18.6\u{a0}mph",
        "from 21.7 to 6.2 mph",
    ] {
        assert!(names.says(words), "{words:?} is not said");
    }
    let flywheel = said(&play, "Cadence, rpm · flywheel, mph");
    assert!(flywheel.contains("flywheel 21."), "{flywheel}");

    let play = scene("selected");
    let selected = said(&play, "mean: ");
    assert!(
        selected.contains("21.") && selected.contains("mph"),
        "{selected}"
    );

    let play = scene("findings");
    let cells = play.query_all_by_label_contains("200\u{a0}W, 90\u{a0}rpm, 21\u{a0}mph");
    assert!(cells.count() >= 1, "the cell is told in mph");

    let play = scene("compare");
    let condition = said(&play, "200 W, 90 rpm, ");
    assert!(condition.contains("21.1 mph"), "{condition}");
}
