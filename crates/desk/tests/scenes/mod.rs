//! The scenes that pictures are made of.
#![allow(dead_code, reason = "each test uses a part of it")]

use crate::sample;
use crate::stage::{Play, Stage};
use bench::model::Phase;
use desk::ThemeChoice;
use egui::Key;
use egui_kittest::kittest::Queryable;

/// What is on the stage, and what is done before the picture is taken.
#[derive(Clone, Copy)]
pub struct Scene {
    pub name: &'static str,
    pub stage: fn() -> Stage,
    pub go: fn(&mut Play),
}

/// A scene with a theme, a text size in percent, and a size of the window in points of the screen.
pub type View = (Scene, ThemeChoice, u16, [f32; 2]);

const fn scene(name: &'static str, stage: fn() -> Stage, go: fn(&mut Play)) -> Scene {
    Scene { name, stage, go }
}

/// The pictures that are kept.
pub fn kept() -> Vec<View> {
    use ThemeChoice::{Dark, Light};
    let usual = [1024.0, 700.0];
    let view = |name, theme, text_pct| {
        let scene = SCENES.iter().find(|scene| scene.name == name);
        (
            *scene.expect("the scene is in the list"),
            theme,
            text_pct,
            usual,
        )
    };
    vec![
        view("bench", Light, 100),
        view("script", Dark, 100),
        view("run", Light, 100),
        view("run", Dark, 100),
        view("run", Light, 200),
        view("selected", Light, 100),
        view("crowded", Dark, 80),
        view("far", Dark, 100),
        view("cautions", Light, 100),
        view("no-run", Dark, 100),
        view("findings", Light, 100),
        view("findings", Dark, 200),
        view("lens", Dark, 100),
        view("examinations", Light, 100),
        view("recording", Dark, 80),
        view("no-findings", Light, 100),
        view("shelf", Light, 100),
        view("keys", Dark, 100),
    ]
}

/// Every scene in both themes at every size, and at every text size at the usual one.
pub fn gallery() -> Vec<View> {
    let sizes = [[1024.0, 700.0], [1600.0, 1000.0], [2560.0, 1440.0]];
    let mut all = Vec::new();
    for scene in SCENES {
        for theme in [ThemeChoice::Light, ThemeChoice::Dark] {
            all.extend(sizes.map(|size| (*scene, theme, 100, size)));
        }
        all.extend([80, 200].map(|pct| (*scene, ThemeChoice::Light, pct, sizes[0])));
    }
    all
}

/// All scenes.
pub const SCENES: &[Scene] = &[
    scene("bench", choices, |play| press(play, Key::Num1)),
    scene("script", choices, |play| press(play, Key::Num2)),
    scene("cautions", || riding(Phase::Cautions), nothing),
    scene("ready", || riding(Phase::Ready), nothing),
    scene("run", || on(sample::riding(1480)), nothing),
    scene("prompt", || on(sample::prompted()), nothing),
    scene("paused", || riding(paused()), nothing),
    scene("ended", || riding(ended()), nothing),
    scene("crowded", || on(sample::crowded()), nothing),
    scene("selected", || on(sample::riding(1480)), select),
    scene(
        "smoothed",
        || on(sample::riding(1480)),
        |play| {
            press(play, Key::W);
            press(play, Key::W);
        },
    ),
    scene(
        "far",
        || on(sample::riding(1480)),
        |play| press(play, Key::F),
    ),
    scene(
        "keys",
        || on(sample::riding(1480)),
        |play| press(play, Key::F1),
    ),
    scene("no-run", Stage::default, |play| press(play, Key::Num3)),
    scene("findings", judged, nothing),
    scene("examinations", judged, |play| click(play, "Examinations")),
    scene("response", judged, |play| {
        click(play, "Examinations");
        click(play, "Response to a new target");
    }),
    scene("recording", judged, |play| click(play, "Recording")),
    scene("lens", judged, |play| {
        let row = play
            .query_all_by_label_contains("200\u{a0}W, 90\u{a0}rpm")
            .next();
        row.expect("there is such a cell").click_accesskit();
    }),
    scene("no-findings", Stage::default, |play| press(play, Key::Num4)),
    scene("shelf", shelf, |play| press(play, Key::Num5)),
    scene("no-shelf", Stage::default, |play| press(play, Key::Num5)),
];

fn nothing(_: &mut Play) {}

fn press(play: &mut Play, key: Key) {
    play.key_press(key);
    play.run();
}

fn click(play: &mut Play, name: &str) {
    play.get_by_label(name).click();
    play.run();
}

/// Selects the last minute and a half by key.
fn select(play: &mut Play) {
    press(play, Key::Comma);
    press(play, Key::A);
    for _ in 0..18 {
        press(play, Key::Period);
    }
    press(play, Key::B);
}

fn on(model: bench::Model) -> Stage {
    Stage {
        model: Some(model),
        ..choices()
    }
}

fn riding(phase: Phase) -> Stage {
    on(sample::in_phase(phase))
}

fn paused() -> Phase {
    Phase::Paused {
        reason: "you asked for it".into(),
    }
}

fn ended() -> Phase {
    Phase::Ended {
        reason: "the script is done".into(),
    }
}

fn choices() -> Stage {
    Stage {
        scripts: sample::scripts(),
        rigs: sample::rigs(),
        shelf: sample::shelf(50),
        ..Stage::default()
    }
}

fn shelf() -> Stage {
    Stage {
        shelf: sample::shelf(1000),
        ..choices()
    }
}

fn judged() -> Stage {
    let evidence = sample::findings::evidence(1.035);
    Stage {
        opened: Some((1, sample::findings::findings(&evidence), evidence)),
        flags: sample::flags(),
        ..choices()
    }
}
