//! Every text that is painted can be read: its ink against the ground that lies below it, in every
//! scene, in both themes.

mod ink;
mod sample;
mod scenes;
mod stage;
mod wcag;

use desk::{Remembered, ThemeChoice};
use egui::Color32;
use ink::Frame;
use scenes::{SCENES, play};
use std::collections::BTreeSet;
use wcag::contrast;

/// W3C WCAG 2.2: black on white is 21:1, pure red on white 4.00:1 (its luminance is 0.2126).
#[test]
fn the_measure_is_the_published_one() {
    assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-9);
    assert!((contrast(Color32::RED, Color32::WHITE) - 1.05 / 0.2626).abs() < 1e-9);
}

/// W3C WCAG 2.2, success criterion 1.4.3: at least 4.5:1 for text.
#[test]
fn every_text_that_is_painted_has_a_contrast_of_at_least_four_and_a_half() {
    let mut pairs = BTreeSet::new();
    let mut wrong = Vec::new();
    for theme in [ThemeChoice::Light, ThemeChoice::Dark] {
        for scene in SCENES {
            let remembered = Remembered {
                theme,
                text_pct: 100,
            };
            let play = play(scene, remembered, [1600.0, 1000.0]);
            let frame = Frame::of(&play);
            for text in &frame.texts {
                let ground = frame.ground(text).expect("something lies below every text");
                for ink in &text.inks {
                    pairs.insert((ink.to_array(), ground.to_array()));
                    // What is translucent is seen as what it is mixed to.
                    let ratio = contrast(Color32::blend(ground, *ink), ground);
                    if ratio < 4.5 {
                        let (scene, words) = (scene.name, &text.words);
                        wrong.push(format!("{scene}, {theme:?}: {words:?} has {ratio:.2}"));
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(pairs.len() > 20, "only {} pairs were seen", pairs.len());
}
