//! Every place as a picture, drawn without a graphics card and compared with the one that was
//! looked at and kept in `tests/snapshots`.
//!
//! `UPDATE_PICTURES=1 cargo test -p desk --test pictures` keeps new ones; look at them before they
//! are committed. `GALLERY=folder cargo test -p desk --test pictures` writes every scene in both
//! themes and at every size into a folder, for looking only.

mod raster;
mod sample;
mod scenes;
mod stage;

use desk::{Remembered, ThemeChoice};
use raster::{Picture, draw};
use scenes::{Scene, gallery, kept};
use stage::Play;
use std::path::PathBuf;

/// Rounding differs by a step or two between processors; a line that has moved differs by far more.
const TOLERANCE: u8 = 24;

/// Pixels that may differ all the same: the edge of a glyph here and there.
const SHARE_UNLIKE: f64 = 0.001;

/// Draws a scene in a window of so many pixels.
fn look(scene: &Scene, theme: ThemeChoice, text_pct: u16, size: [f32; 2]) -> (Play, Picture) {
    let play = scenes::play(scene, Remembered { theme, text_pct }, size);
    let picture = draw(&play.ctx, play.output(), size);
    (play, picture)
}

#[test]
fn the_places_look_as_they_did_when_they_were_looked_at() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/snapshots");
    let update = std::env::var_os("UPDATE_PICTURES").is_some();
    let mut failures = Vec::new();
    for (scene, theme, text_pct, size) in kept() {
        let word = if theme == ThemeChoice::Dark {
            "dark"
        } else {
            "light"
        };
        let name = format!("{}-{word}-{text_pct}.png", scene.name);
        let (_, picture) = look(&scene, theme, text_pct, size);
        let path = folder.join(&name);
        if update {
            picture.coarse().save(&path);
            continue;
        }
        let share = Picture::load(&path).map_or(1.0, |kept| picture.share_unlike(&kept, TOLERANCE));
        if share > SHARE_UNLIKE {
            let seen = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(&name);
            picture.save(&seen);
            failures.push(format!(
                "{name}: {:.2} % differ, see {}",
                100.0 * share,
                seen.display()
            ));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// The comparison itself can fail: a picture is not like its negative, nor like itself moved.
#[test]
fn a_picture_that_has_changed_is_noticed() {
    let scene = kept().remove(0).0;
    let (_, picture) = look(&scene, ThemeChoice::Light, 100, [480.0, 300.0]);
    assert_eq!(picture.share_unlike(&picture, TOLERANCE), 0.0);
    let mut moved = picture.clone();
    moved.pixels.rotate_right(1);
    assert!(picture.share_unlike(&moved, TOLERANCE) > SHARE_UNLIKE);
    let mut negative = picture.clone();
    negative
        .pixels
        .as_flattened_mut()
        .iter_mut()
        .for_each(|byte| *byte = 255 - *byte);
    assert!(picture.share_unlike(&negative, TOLERANCE) > 0.5);
}

/// The painter paints what was asked for: paper where there is paper, ink where there is ink.
#[test]
fn the_painter_paints_paper_and_ink() {
    use desk::theme::tokens::LIGHT;
    let scene = kept().remove(0).0;
    let (_, picture) = look(&scene, ThemeChoice::Light, 100, [480.0, 300.0]);
    let count = |ink| picture.count(ink);
    assert!(count(LIGHT.paper) > 20_000);
    assert!(count(LIGHT.rail) > 10_000);
    assert!(count(LIGHT.text) > 100);
    assert_eq!(count(egui::Color32::BLACK), 0, "no pixel was left out");
}

#[test]
fn the_gallery_is_written_where_it_is_asked_for() {
    let Some(folder) = std::env::var_os("GALLERY") else {
        return;
    };
    let wanted = std::env::var("SCENES").unwrap_or_default();
    for (scene, theme, text_pct, size) in gallery() {
        if !wanted.is_empty() && !wanted.split(',').any(|one| one == scene.name) {
            continue;
        }
        let word = if theme == ThemeChoice::Dark {
            "dark"
        } else {
            "light"
        };
        let [width, height] = size;
        let name = format!("{}-{width}x{height}-{word}-{text_pct}.png", scene.name);
        let (_, picture) = look(&scene, theme, text_pct, size);
        picture.save(&PathBuf::from(&folder).join(name));
    }
}
