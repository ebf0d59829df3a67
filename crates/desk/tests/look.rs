//! What can be said about the look without an image: every place at every size draws without a
//! missing glyph or an unnamed control, a gap stays a gap, and nothing is drawn when nothing
//! changes.

mod sample;
mod stage;

use bench::model::Phase;
use desk::Place;
use desk::theme::{self, tokens};
use egui::Shape;
use stage::{Stage, open, press, usual};

const SIZES: [[f32; 2]; 8] = [
    [160.0, 90.0], // smaller than any screen: nothing may break
    [320.0, 200.0],
    [512.0, 350.0], // 1024 × 700 at 200 %
    [800.0, 500.0],
    [1024.0, 700.0],
    [1280.0, 800.0],
    [1920.0, 1080.0],
    [2560.0, 1440.0],
];

fn scenes() -> Vec<(&'static str, Stage)> {
    let phase = |phase| Stage {
        model: Some(sample::in_phase(phase)),
        ..Stage::default()
    };
    let evidence = sample::findings::evidence(1.0);
    let findings = sample::findings::findings(&evidence);
    let choices = || Stage {
        scripts: sample::scripts(),
        rigs: sample::rigs(),
        shelf: sample::shelf(50),
        ..Stage::default()
    };
    vec![
        ("nothing", Stage::default()),
        ("choices", choices()),
        ("cautions", phase(Phase::Cautions)),
        ("ready", phase(Phase::Ready)),
        (
            "paused",
            phase(Phase::Paused {
                reason: "you asked for it".into(),
            }),
        ),
        (
            "ended",
            phase(Phase::Ended {
                reason: "the script is done".into(),
            }),
        ),
        (
            "riding",
            Stage {
                model: Some(sample::riding(1480)),
                ..choices()
            },
        ),
        (
            "prompt",
            Stage {
                model: Some(sample::prompted()),
                ..Stage::default()
            },
        ),
        (
            "crowded",
            Stage {
                model: Some(sample::crowded()),
                ..Stage::default()
            },
        ),
        (
            "findings",
            Stage {
                opened: Some((1, findings, evidence)),
                ..choices()
            },
        ),
        (
            "messages",
            Stage {
                failure: Some("no".into()),
                busy: Some("work".into()),
                ..choices()
            },
        ),
    ]
}

#[test]
fn every_place_draws_at_every_size() {
    for size in SIZES {
        for (name, scene) in scenes() {
            let mut play = open(scene, size);
            for place in Place::ALL {
                if let Some(desk) = play.state_mut().desk.as_mut() {
                    desk.go(place);
                }
                play.run();
                if name == "findings" && place == Place::Findings {
                    // The lens lies over the page and shares its room.
                    use egui_kittest::kittest::Queryable;
                    let cell = play.query_all_by_label_contains("W, 90\u{a0}rpm").next();
                    cell.expect("there is a cell").click_accesskit();
                    play.run();
                    assert!(stage::shows(&play, "Raw traces"), "{name} at {size:?}");
                }
                assert!(play.state().frames > 0, "{name} at {size:?}");
            }
        }
    }
}

/// The release control is wholly inside the window at every size, text twice as large included.
#[test]
fn the_release_control_is_never_clipped() {
    use egui_kittest::kittest::Queryable;
    for size in SIZES.into_iter().filter(|[width, _]| *width >= 320.0) {
        let mut play = open(
            Stage {
                model: Some(sample::crowded()),
                ..Stage::default()
            },
            size,
        );
        play.run();
        let rect = play.get_by_label("Release brake").rect();
        let window = egui::Rect::from_min_size(egui::Pos2::ZERO, size.into());
        assert!(window.contains_rect(rect), "{rect:?} in {window:?}");
    }
}

/// Nothing asks to be drawn again: `run` fails when frames never end, and once it has settled the
/// program may sleep.
#[test]
fn nothing_is_drawn_when_nothing_changes() {
    for (name, scene) in scenes() {
        let mut play = usual(scene);
        play.run();
        play.step();
        let output = &play.output().viewport_output[&egui::ViewportId::ROOT];
        assert!(
            output.repaint_delay >= std::time::Duration::from_secs(1),
            "{name} asks for a frame in {:?}",
            output.repaint_delay
        );
    }
}

/// The device's curve has one gap in the stretch that is shown, so it is two lines of its colour.
#[test]
fn a_gap_is_two_lines_on_the_screen() {
    let mut play = usual(Stage {
        model: Some(sample::riding(1480)),
        ..Stage::default()
    });
    play.run();
    let device = [tokens::LIGHT.device, tokens::DARK.device];
    let long_lines = |shapes: &[egui::epaint::ClippedShape]| {
        fn count(shape: &Shape, device: [egui::Color32; 2]) -> usize {
            match shape {
                Shape::Vec(shapes) => shapes.iter().map(|one| count(one, device)).sum(),
                Shape::Path(path) => {
                    let color = match &path.stroke.color {
                        egui::epaint::ColorMode::Solid(color) => *color,
                        egui::epaint::ColorMode::UV(_) => return 0,
                    };
                    usize::from(path.points.len() > 50 && device.contains(&color))
                }
                // Where values stand close, a curve is a strip.
                Shape::Mesh(mesh) => {
                    let inked = mesh.vertices.iter().filter(|v| device.contains(&v.color));
                    usize::from(inked.count() > 50)
                }
                _ => 0,
            }
        }
        shapes
            .iter()
            .map(|clipped| count(&clipped.shape, device))
            .sum::<usize>()
    };
    // Power before and after its gap, difference before and after the same gap (its hold is
    // longer, so it is one), flywheel before and after.
    assert_eq!(long_lines(&play.output().shapes), 2 + 1 + 2);
}

#[test]
fn all_digits_are_equally_wide() {
    let ctx = egui::Context::default();
    theme::install(&ctx);
    let mut output = ctx.run_ui(egui::RawInput::default(), |ui| {
        for font in [theme::regular(tokens::TALL), theme::bold(tokens::HEADING)] {
            let width = |text: &str| {
                let color = egui::Color32::PLACEHOLDER;
                ui.painter()
                    .layout_no_wrap(text.into(), font.clone(), color)
                    .size()
                    .x
            };
            for digit in '0'..='9' {
                let text = digit.to_string().repeat(10);
                assert_eq!(width(&text), width("0000000000"), "{digit}");
            }
        }
    });
    output.textures_delta.clear();
}

#[test]
fn both_themes_have_their_own_paper() {
    let mut play = usual(Stage {
        scripts: sample::scripts(),
        ..Stage::default()
    });
    play.run();
    let paper = |play: &stage::Play| play.ctx.global_style().visuals.panel_fill;
    let before = paper(&play);
    press(&mut play, egui::Key::L);
    assert_ne!(paper(&play), before);
    assert!([tokens::LIGHT.paper, tokens::DARK.paper].contains(&before));
}

/// The words of the rail stand clear of each other at every size, text twice as large included.
#[test]
fn the_words_of_the_rail_do_not_overlap() {
    use egui_kittest::kittest::{NodeT, Queryable};
    for size in SIZES.into_iter().filter(|[_, height]| *height >= 350.0) {
        let mut play = open(
            Stage {
                model: Some(sample::crowded()),
                ..Stage::default()
            },
            size,
        );
        play.run();
        let buttons = play.query_all_by_role(egui::accesskit::Role::Button);
        let rects: Vec<_> = buttons
            .filter(|node| node.accesskit_node().label().is_some())
            .map(|node| node.rect())
            .filter(|rect| rect.left() < 1.0)
            .collect();
        assert!(rects.len() >= 7, "{} words at {size:?}", rects.len());
        for (index, rect) in rects.iter().enumerate() {
            for other in &rects[index + 1..] {
                let common = rect.shrink(1.0).intersect(*other);
                assert!(!common.is_positive(), "{rect:?} and {other:?} at {size:?}");
            }
        }
    }
}
