//! What the window remembers from one start to the next: theme and text size, as RON.

use desk::{Remembered, ThemeChoice};
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

#[derive(Default, Serialize, Deserialize)]
#[serde(default)]
struct File {
    theme: Theme,
    text_pct: Option<u16>,
}

#[derive(Clone, Copy, Default, Serialize, Deserialize)]
enum Theme {
    #[default]
    System,
    Light,
    Dark,
}

/// What was remembered; the usual look if nothing was, or nothing can be read.
pub fn recall() -> Remembered {
    let file: File = place()
        .and_then(|path| std::fs::read_to_string(path).ok())
        .and_then(|text| ron::from_str(&text).ok())
        .unwrap_or_default();
    let usual = Remembered::default();
    Remembered {
        theme: match file.theme {
            Theme::System => ThemeChoice::System,
            Theme::Light => ThemeChoice::Light,
            Theme::Dark => ThemeChoice::Dark,
        },
        text_pct: file.text_pct.unwrap_or(usual.text_pct),
    }
}

/// Remembers; a place that cannot be written is no reason to disturb anybody, the look is merely
/// the usual one at the next start.
pub fn remember(look: &Remembered) {
    let file = File {
        theme: match look.theme {
            ThemeChoice::System => Theme::System,
            ThemeChoice::Light => Theme::Light,
            ThemeChoice::Dark => Theme::Dark,
        },
        text_pct: Some(look.text_pct),
    };
    let Some(path) = place() else { return };
    if let (Some(folder), Ok(text)) = (path.parent(), ron::to_string(&file)) {
        let _ = std::fs::create_dir_all(folder).and_then(|()| std::fs::write(&path, text));
    }
}

fn place() -> Option<PathBuf> {
    directories::ProjectDirs::from("", "", "Prony").map(|dirs| dirs.config_dir().join("look.ron"))
}
