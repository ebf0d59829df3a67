//! What the window remembers from one start to the next, as RON.

use desk::{Preferences, Remembered, SpeedUnit, ThemeChoice};
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// Everything that is remembered.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Memory {
    /// Theme and text size.
    pub look: Remembered,
    /// What the person prefers.
    pub preferences: Preferences,
    /// Size of the window, points.
    pub window: Option<[f32; 2]>,
    /// Whether it filled the screen.
    pub is_maximized: bool,
    /// The claim sheet that is judged by.
    pub sheet: Option<String>,
    /// Interrupted sessions that are to stay as they are.
    pub left: Vec<String>,
}

#[derive(Serialize, Deserialize)]
#[serde(default)]
struct File {
    theme: Theme,
    text_pct: u16,
    speed: Speed,
    tolerance_pct: f64,
    rider_ceiling_w: f64,
    window: Option<[f32; 2]>,
    maximized: bool,
    claim_sheet: Option<String>,
    left_interrupted: Vec<String>,
}

#[derive(Clone, Copy, Default, Serialize, Deserialize)]
enum Theme {
    #[default]
    System,
    Light,
    Dark,
}

#[derive(Clone, Copy, Default, Serialize, Deserialize)]
enum Speed {
    #[default]
    KmH,
    Mph,
}

impl Default for File {
    fn default() -> Self {
        Self::from(&Memory::default())
    }
}

impl From<&Memory> for File {
    fn from(memory: &Memory) -> Self {
        Self {
            theme: match memory.look.theme {
                ThemeChoice::System => Theme::System,
                ThemeChoice::Light => Theme::Light,
                ThemeChoice::Dark => Theme::Dark,
            },
            text_pct: memory.look.text_pct,
            speed: match memory.preferences.speed {
                SpeedUnit::KmH => Speed::KmH,
                SpeedUnit::Mph => Speed::Mph,
            },
            tolerance_pct: memory.preferences.tolerance_pct,
            rider_ceiling_w: memory.preferences.ceiling_w,
            window: memory.window,
            maximized: memory.is_maximized,
            claim_sheet: memory.sheet.clone(),
            left_interrupted: memory.left.clone(),
        }
    }
}

impl From<File> for Memory {
    fn from(file: File) -> Self {
        // A hand may have been at the file: what makes no sense is brought within bounds.
        let within = |value: f64, [low, high]: [f64; 2], usual: f64| {
            if value.is_finite() {
                value.clamp(low, high)
            } else {
                usual
            }
        };
        let usual = Preferences::default();
        Self {
            look: Remembered {
                theme: match file.theme {
                    Theme::System => ThemeChoice::System,
                    Theme::Light => ThemeChoice::Light,
                    Theme::Dark => ThemeChoice::Dark,
                },
                text_pct: file.text_pct.clamp(80, 200),
            },
            preferences: Preferences {
                speed: match file.speed {
                    Speed::KmH => SpeedUnit::KmH,
                    Speed::Mph => SpeedUnit::Mph,
                },
                tolerance_pct: within(
                    file.tolerance_pct,
                    Preferences::TOLERANCE_PCT,
                    usual.tolerance_pct,
                ),
                ceiling_w: within(
                    file.rider_ceiling_w,
                    Preferences::CEILING_W,
                    usual.ceiling_w,
                ),
            },
            window: file
                .window
                .filter(|size| size.iter().all(|side| (200.0..20_000.0).contains(side))),
            is_maximized: file.maximized,
            sheet: file.claim_sheet,
            left: file.left_interrupted,
        }
    }
}

/// What was remembered; the usual if nothing was, or nothing can be read.
pub fn recall() -> Memory {
    place()
        .and_then(|path| std::fs::read_to_string(path).ok())
        .and_then(|text| ron::from_str::<File>(&text).ok())
        .map(Memory::from)
        .unwrap_or_default()
}

/// Remembers; a place that cannot be written is no reason to disturb anybody, everything is merely
/// as usual at the next start.
pub fn remember(memory: &Memory) {
    let Some(path) = place() else { return };
    let look = ron::ser::PrettyConfig::default();
    if let (Some(folder), Ok(text)) = (
        path.parent(),
        ron::ser::to_string_pretty(&File::from(memory), look),
    ) {
        let _ = std::fs::create_dir_all(folder).and_then(|()| std::fs::write(&path, text));
    }
}

fn place() -> Option<PathBuf> {
    directories::ProjectDirs::from("", "", "Prony").map(|dirs| dirs.config_dir().join("desk.ron"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_remembered_is_recalled_and_nonsense_is_bounded() {
        let memory = Memory {
            look: Remembered {
                theme: ThemeChoice::Dark,
                text_pct: 140,
            },
            preferences: Preferences {
                speed: SpeedUnit::Mph,
                tolerance_pct: 1.5,
                ceiling_w: 280.0,
            },
            window: Some([1000.0, 700.0]),
            is_maximized: true,
            sheet: Some("trainer-7".to_owned()),
            left: vec!["a".to_owned()],
        };
        let text = ron::to_string(&File::from(&memory)).unwrap();
        assert_eq!(Memory::from(ron::from_str::<File>(&text).unwrap()), memory);
        let odd = "(text_pct: 900, tolerance_pct: -4, window: Some((1, 1)))";
        let read = Memory::from(ron::from_str::<File>(odd).unwrap());
        assert_eq!(read.look.text_pct, 200);
        assert_eq!(read.preferences.tolerance_pct, 0.5);
        assert_eq!(read.window, None);
    }
}
