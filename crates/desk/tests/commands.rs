//! Every command by click and by key, the release above all.

mod sample;
mod scenes;
mod stage;

use bench::Command;
use bench::model::Phase;
use desk::{Place, Request};
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use stage::{Stage, click, place, press, shows, usual, wishes};

fn riding() -> Stage {
    Stage {
        model: Some(sample::riding(1480)),
        ..Stage::default()
    }
}

fn only(command: Command) -> Vec<Request> {
    vec![Request::Bench(command)]
}

#[test]
fn each_command_has_a_control_and_a_key() {
    for (name, key, command) in [
        ("Pause", Key::Space, Command::Pause),
        ("Skip", Key::S, Command::Skip),
        ("Repeat", Key::R, Command::Repeat),
        ("+ 1 min", Key::E, Command::Extend(60)),
        ("Mark", Key::M, Command::Mark(String::new())),
        ("Release brake", Key::Escape, Command::Release),
    ] {
        let mut play = usual(riding());
        play.run();
        assert_eq!(
            click(&mut play, name),
            only(command.clone()),
            "click {name}"
        );
        assert_eq!(press(&mut play, key), only(command), "key {key:?}");
    }
}

#[test]
fn the_space_bar_starts_pauses_and_resumes() {
    for (phase, command) in [
        (Phase::Ready, Some(Command::Start)),
        (Phase::Riding, Some(Command::Pause)),
        (
            Phase::Paused {
                reason: String::new(),
            },
            Some(Command::Resume),
        ),
        (Phase::Cautions, None),
        (
            Phase::Ended {
                reason: String::new(),
            },
            None,
        ),
    ] {
        let mut play = usual(Stage {
            model: Some(sample::in_phase(phase)),
            ..Stage::default()
        });
        play.run();
        let expected: Vec<_> = command.into_iter().map(Request::Bench).collect();
        assert_eq!(press(&mut play, Key::Space), expected);
    }
}

#[test]
fn a_key_that_is_held_down_counts_once() {
    let mut play = usual(riding());
    play.run();
    for repeat in [false, true, true] {
        play.event(egui::Event::Key {
            key: Key::Space,
            physical_key: None,
            pressed: true,
            repeat,
            modifiers: Modifiers::NONE,
        });
        play.step();
    }
    assert_eq!(wishes(&mut play), only(Command::Pause));
}

#[test]
fn the_release_control_is_in_the_same_place_everywhere() {
    let mut play = usual(riding());
    play.run();
    let at = play.get_by_label("Release brake").rect();
    assert!(at.right() > 1240.0 && at.bottom() > 760.0, "{at:?}");
    for (key, there) in [Key::Num1, Key::Num2, Key::Num3, Key::Num4, Key::Num5]
        .into_iter()
        .zip(Place::ALL)
    {
        press(&mut play, key);
        assert_eq!(place(&play), there);
        assert_eq!(play.get_by_label("Release brake").rect(), at, "{there:?}");
        assert_eq!(
            press(&mut play, Key::Escape),
            only(Command::Release),
            "{there:?}"
        );
        assert_eq!(
            click(&mut play, "Release brake"),
            only(Command::Release),
            "{there:?}"
        );
    }
    press(&mut play, Key::F);
    assert!(shows(&play, "Target, W"));
    assert_eq!(play.get_by_label("Release brake").rect(), at);
    assert_eq!(press(&mut play, Key::Escape), only(Command::Release));
}

#[test]
fn an_open_list_of_keys_does_not_hide_the_release() {
    let mut play = usual(riding());
    play.run();
    press(&mut play, Key::F1);
    assert!(shows(&play, "release the brake at once"));
    assert_eq!(click(&mut play, "Release brake"), only(Command::Release));
    press(&mut play, Key::F1);
    assert!(!shows(&play, "release the brake at once"));
}

#[test]
fn ending_a_session_asks_once() {
    let mut play = usual(riding());
    play.run();
    assert_eq!(click(&mut play, "End session …"), vec![]);
    assert_eq!(click(&mut play, "Go on"), vec![]);
    assert_eq!(press(&mut play, Key::X), vec![]);
    assert_eq!(press(&mut play, Key::Enter), only(Command::Stop));
    press(&mut play, Key::X);
    assert_eq!(click(&mut play, "End it"), only(Command::Stop));
}

#[test]
fn cautions_stand_in_the_way_until_read() {
    let mut play = usual(Stage {
        model: Some(sample::in_phase(Phase::Cautions)),
        ..Stage::default()
    });
    play.run();
    assert!(shows(&play, "Before the first load"));
    assert!(
        shows(&play, "Do you have pain when you pedal?"),
        "the session's own words"
    );
    assert_eq!(
        click(&mut play, "I have read this"),
        only(Command::AcceptCautions)
    );
    assert_eq!(press(&mut play, Key::Enter), only(Command::AcceptCautions));
    assert_eq!(click(&mut play, "Do not ride"), vec![Request::CloseSession]);
}

#[test]
fn a_prompt_waits_for_the_word() {
    let mut play = usual(Stage {
        model: Some(sample::prompted()),
        ..Stage::default()
    });
    play.run();
    assert!(shows(&play, "Change to the big gear"));
    assert_eq!(click(&mut play, "Done"), only(Command::Acknowledge));
    assert_eq!(press(&mut play, Key::Enter), only(Command::Acknowledge));
}

#[test]
fn letters_that_are_typed_are_no_commands_but_escape_is() {
    let mut play = usual(Stage {
        shelf: sample::shelf(12),
        ..riding()
    });
    play.run();
    press(&mut play, Key::Num5);
    play.get_by_label("Search the shelf").focus();
    play.run();
    assert_eq!(press(&mut play, Key::S), vec![]);
    assert_eq!(press(&mut play, Key::Space), vec![]);
    assert_eq!(press(&mut play, Key::Num1), vec![]);
    assert_eq!(place(&play), Place::Shelf);
    assert_eq!(press(&mut play, Key::Escape), only(Command::Release));
}

#[test]
fn theme_and_text_size_are_remembered() {
    let mut play = usual(Stage {
        scripts: sample::scripts(),
        ..Stage::default()
    });
    play.run();
    assert!(matches!(
        press(&mut play, Key::L)[..],
        [Request::RememberTheme(_)]
    ));
    play.key_press_modifiers(Modifiers::COMMAND, Key::Plus);
    play.run();
    assert_eq!(wishes(&mut play), vec![Request::RememberTextSize(110)]);
    for _ in 0..20 {
        play.key_press_modifiers(Modifiers::COMMAND, Key::Minus);
        play.run();
    }
    assert_eq!(
        wishes(&mut play).last(),
        Some(&Request::RememberTextSize(80))
    );
}

#[test]
fn a_pause_asks_once_whether_to_go_on() {
    let mut model = sample::prompted();
    model.phase = Phase::Paused {
        reason: "you asked for it".into(),
    };
    let mut play = usual(Stage {
        model: Some(model),
        ..Stage::default()
    });
    play.run();
    assert!(play.query_by_label("Done").is_none());
    assert_eq!(press(&mut play, Key::Enter), only(Command::Resume));
    assert_eq!(press(&mut play, Key::Space), only(Command::Resume));
}

/// Whatever can be reached by key or clicked has a name that a screen reader says, in every scene
/// of the pictures, and the name is not a mere sign.
#[test]
fn every_control_has_a_name() {
    use egui_kittest::kittest::NodeT;
    for scene in scenes::SCENES {
        let mut play = usual((scene.stage)());
        play.run();
        (scene.go)(&mut play);
        play.run();
        let mut controls = 0;
        let mut waiting = vec![play.root().accesskit_node()];
        while let Some(node) = waiting.pop() {
            waiting.extend(node.children());
            let name = node.label().or(node.value()).unwrap_or_default();
            // The role of a scroll bar says what it is.
            let says_itself = node.role() == egui::accesskit::Role::ScrollBar;
            if !says_itself && node.data().supports_action(egui::accesskit::Action::Click) {
                controls += 1;
                let letters = name.chars().filter(|one| one.is_alphanumeric()).count();
                let (scene, role, at) = (scene.name, node.role(), node.raw_bounds());
                assert!(letters > 0, "{scene}: a {role:?} at {at:?} has no name");
            }
        }
        assert!(controls >= 5, "{}: the rail alone has five", scene.name);
    }
}
