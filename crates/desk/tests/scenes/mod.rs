//! The scenes that pictures and tests of the layout are made of.
#![allow(dead_code, reason = "each test uses a part of it")]

mod hands;
mod sets;

use crate::stage::{Play, Stage, open_with};
use bench::model::Phase;
use desk::{Remembered, ThemeChoice};
use egui::Key;
use hands::{
    chosen_device, click, compared, edited, nothing, press, scroll, select, settings, tab,
};
use sets::{
    auditing, choices, ended, judged, judged_at_length, judged_empty, messages, on, own, papers,
    paused, replayed, riding, searching, shelf, torn_shelf,
};

/// What is on the stage, and what is done before the picture is taken.
#[derive(Clone, Copy)]
pub struct Scene {
    pub name: &'static str,
    pub stage: fn() -> Stage,
    pub go: fn(&mut Play),
}

/// A scene with a theme, a text size in percent, and a size of the window in points of the screen.
pub type View = (Scene, ThemeChoice, u16, [f32; 2]);

/// Plays a scene in a window of so many pixels.
pub fn play(scene: &Scene, remembered: Remembered, size: [f32; 2]) -> Play {
    let mut play = open_with((scene.stage)(), size, remembered);
    play.run();
    (scene.go)(&mut play);
    play.run();
    play
}

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
        view("script", Light, 200),
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
        view("shelf", Dark, 200),
        view("import", Light, 100),
        view("compare", Light, 100),
        view("keys", Dark, 100),
    ]
}

/// The sizes of the window that are looked at, pixels.
pub const SIZES: [[f32; 2]; 3] = [[1024.0, 700.0], [1600.0, 1000.0], [2560.0, 1440.0]];

/// Every scene in both themes at every size, with text as usual and twice as large; and with the
/// smallest text at the smallest size.
pub fn gallery() -> Vec<View> {
    let mut all = Vec::new();
    for scene in SCENES {
        for theme in [ThemeChoice::Light, ThemeChoice::Dark] {
            for size in SIZES {
                all.extend([100, 200].map(|pct| (*scene, theme, pct, size)));
            }
        }
        all.push((*scene, ThemeChoice::Light, 80, SIZES[0]));
    }
    all
}

/// All scenes.
pub const SCENES: &[Scene] = &[
    scene("bench", choices, |play| press(play, Key::Num1)),
    scene("bench-searching", searching, |play| press(play, Key::Num1)),
    scene("bench-device", searching, chosen_device),
    scene("bench-weights", choices, |play| {
        press(play, Key::Num1);
        click(play, "Static check with weights");
    }),
    scene("bench-weights-hung", choices, crate::stage::weights_hung),
    scene("bench-audit", auditing, |play| press(play, Key::Num1)),
    scene(
        "bench-running",
        || on(crate::sample::crowded()),
        |play| {
            press(play, Key::Num1);
        },
    ),
    scene("bench-empty", Stage::default, |play| press(play, Key::Num1)),
    scene("script", papers, |play| press(play, Key::Num2)),
    scene("script-broken", choices, |play| {
        press(play, Key::Num2);
        (0..4).for_each(|_| press(play, Key::ArrowDown));
    }),
    scene("script-edited", own, edited),
    scene("script-claims", papers, |play| tab(play, "Claim sheet")),
    scene("script-claims-edited", papers, |play| {
        tab(play, "Claim sheet");
        click(play, "Edit this sheet");
    }),
    scene("script-rule", papers, |play| tab(play, "Decision rule")),
    scene("script-rule-edited", papers, |play| {
        tab(play, "Decision rule");
        click(play, "Change it");
    }),
    scene("no-script", Stage::default, |play| press(play, Key::Num2)),
    scene("cautions", || riding(Phase::Cautions), nothing),
    scene("ready", || riding(Phase::Ready), nothing),
    scene("run", || on(crate::sample::riding(1480)), nothing),
    scene("prompt", || on(crate::sample::prompted()), nothing),
    scene("paused", || riding(paused()), nothing),
    scene("ended", || riding(ended()), nothing),
    scene(
        "ending",
        || on(crate::sample::riding(1480)),
        |play| {
            press(play, Key::X);
        },
    ),
    scene("crowded", || on(crate::sample::crowded()), nothing),
    scene("selected", || on(crate::sample::riding(1480)), select),
    scene(
        "smoothed",
        || on(crate::sample::riding(1480)),
        |play| {
            press(play, Key::W);
            press(play, Key::W);
        },
    ),
    scene(
        "far",
        || on(crate::sample::riding(1480)),
        |play| {
            press(play, Key::F);
        },
    ),
    scene(
        "far-crowded",
        || on(crate::sample::crowded()),
        |play| {
            press(play, Key::F);
        },
    ),
    scene(
        "keys",
        || on(crate::sample::riding(1480)),
        |play| {
            press(play, Key::F1);
        },
    ),
    scene("settings", choices, settings),
    scene("about", choices, |play| {
        settings(play);
        click(play, "About Prony …");
    }),
    scene("messages", messages, nothing),
    scene("messages-long", sets::long_message, nothing),
    scene("replay", replayed, nothing),
    scene("no-run", Stage::default, |play| press(play, Key::Num3)),
    scene("findings", judged, nothing),
    scene("findings-long", judged_at_length, nothing),
    scene("findings-none", judged_empty, nothing),
    scene("examinations", judged, |play| click(play, "Examinations")),
    scene("response", judged, |play| {
        click(play, "Examinations");
        click(play, "Response to a new target");
    }),
    scene("not-tested", judged, |play| {
        click(play, "Examinations");
        let entry =
            egui_kittest::kittest::Queryable::query_all_by_label_contains(play, "Not tested");
        entry
            .last()
            .expect("there is such an entry")
            .click_accesskit();
    }),
    scene("recording", judged, |play| click(play, "Recording")),
    scene("recording-long", judged_at_length, |play| {
        click(play, "Recording");
    }),
    scene("lens", judged, hands::lens),
    scene("no-findings", Stage::default, |play| press(play, Key::Num4)),
    scene("shelf", shelf, |play| press(play, Key::Num5)),
    scene("shelf-chosen", shelf, |play| {
        press(play, Key::Num5);
        press(play, Key::ArrowDown);
        press(play, Key::M);
        press(play, Key::ArrowDown);
        press(play, Key::M);
    }),
    scene("shelf-torn", torn_shelf, |play| press(play, Key::Num5)),
    scene("compare", || sets::side_by_side(3), compared),
    scene(
        "compare-curves",
        || sets::side_by_side(3),
        |play| {
            compared(play);
            scroll(play, 2400.0);
        },
    ),
    scene("compare-many", || sets::side_by_side(12), compared),
    scene("import", sets::importing, nothing),
    scene("import-long", sets::importing_at_length, nothing),
    scene("import-list", sets::importing, |play| {
        click(play, "power of recording 2, pedals-a.csv: Leistung [W]");
    }),
    scene("import-aside", sets::importing, |play| {
        press(play, Key::Escape);
    }),
    scene("no-shelf", Stage::default, |play| press(play, Key::Num5)),
];
