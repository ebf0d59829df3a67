//! Recordings made elsewhere become a session on the shelf, by the code of the command line.

use crate::commands::import::{Original, Told, bring_in, role_of};
use crate::importing::GivenWord;
use crate::places;
use analysis::settings::Settings;
use anyhow::Result;
use std::path::{Path, PathBuf};

/// Whether a file is a recording, by its name.
pub fn is_recording(path: &Path) -> bool {
    path.extension().is_some_and(|extension| {
        let extension = extension.to_string_lossy().to_lowercase();
        ["fit", "tcx", "csv"].contains(&extension.as_str())
    })
}

/// Recordings that wait for others of the same ride: the device under test first, then its
/// references, in the order in which they come.
#[derive(Debug, Default)]
pub struct Waiting(Vec<PathBuf>);

/// What becomes of recordings that came.
#[derive(Debug, PartialEq, Eq)]
pub enum Taken {
    /// One alone waits; the words say for what.
    Waits(String),
    /// These make a session.
    Together(Vec<PathBuf>),
}

impl Waiting {
    /// The recording of the device that waits for that of its reference.
    pub fn device(&self) -> Option<&Path> {
        self.0.first().map(PathBuf::as_path)
    }

    /// Takes recordings in.
    pub fn take(&mut self, recordings: Vec<PathBuf>) -> Taken {
        self.0.extend(recordings);
        match self.0.as_slice() {
            [alone] => Taken::Waits(format!(
                "{} is taken as the device under test. Now drop the recording of its reference \
                 onto the window, or choose it with Import.",
                places::file_name(alone)
            )),
            _ => Taken::Together(std::mem::take(&mut self.0)),
        }
    }
}

/// Brings recordings in, the device under test first. Says what was taken for what, how the clocks
/// were placed and where the session lies.
///
/// # Errors
/// If a recording cannot be read or placed, or the session cannot be written.
pub fn import(recordings: &[PathBuf], settings: &Settings) -> Result<String> {
    let device = device_of(recordings);
    let out = places::new_session_file("imported", &places::plain(&device))?;
    import_to(recordings, settings, &out)
}

fn device_of(recordings: &[PathBuf]) -> String {
    recordings
        .first()
        .map_or_else(String::new, |path| places::file_name(path))
}

/// The same into a file.
fn import_to(recordings: &[PathBuf], settings: &Settings, out: &Path) -> Result<String> {
    let originals: Vec<Original> = recordings
        .iter()
        .enumerate()
        .map(|(index, path)| Original {
            role: role_of(index),
            path: path.clone(),
            // As the command line assumes where nobody says otherwise.
            place: if index == 0 { "hub" } else { "crank" }.to_owned(),
            columns: None,
        })
        .collect();
    let device = device_of(recordings);
    let mut words = vec![format!(
        "Imported as {}: {device} is the device under test (at the hub), the others are references \
         (at the crank). `prony import` takes other places and columns.",
        out.display()
    )];
    bring_in(
        &originals,
        GivenWord::default(),
        settings,
        out,
        &mut |told| match told {
            Told::Found(said) | Told::Imperfect(said) => words.push(said),
        },
    )
    .map_err(|failure| failure.error)?;
    Ok(words.join("\n"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn paths(names: &[&str]) -> Vec<PathBuf> {
        names.iter().map(PathBuf::from).collect()
    }

    #[test]
    fn one_recording_waits_for_its_reference_and_two_are_taken_together() {
        let mut waiting = Waiting::default();
        let Taken::Waits(words) = waiting.take(paths(&["/rides/device.FIT"])) else {
            panic!("one alone is no session");
        };
        assert!(
            words.contains("device.FIT") && words.contains("reference"),
            "{words}"
        );
        assert_eq!(waiting.device(), Some(Path::new("/rides/device.FIT")));
        let together = waiting.take(paths(&["reference.csv"]));
        let both = paths(&["/rides/device.FIT", "reference.csv"]);
        assert_eq!(together, Taken::Together(both));
        // Nothing is left for the next ones.
        assert_eq!(waiting.device(), None);
        let three = paths(&["a.tcx", "b.tcx", "c.tcx"]);
        assert_eq!(waiting.take(three.clone()), Taken::Together(three));
    }

    #[test]
    fn recordings_are_known_by_their_names() {
        for name in ["a.fit", "a.FIT", "b.tcx", "c.b.csv"] {
            assert!(is_recording(Path::new(name)), "{name}");
        }
        for name in ["a.prony", "script.ron", "fit", "a.fit.gz"] {
            assert!(!is_recording(Path::new(name)), "{name}");
        }
    }

    /// From two files on a disk to words and a session, or to a refusal in words and no session.
    #[test]
    fn what_was_read_and_placed_is_said_and_a_refusal_too() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let at = |name: &str| folder.path().join(name);
        let table = |name: &str, seed: u64, from: u32| {
            let mut state = seed;
            let mut rows = "secs;watts\n".to_owned();
            for second in 0..1200_u32 {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1);
                let scatter = (state >> 33) as f64 / f64::from(1_u32 << 31) * 40.0;
                let watts = 150.0 + f64::from((second / 170) % 3) * 50.0 + scatter;
                if second >= from {
                    rows.push_str(&format!("{};{watts:.0}\n", second + 5));
                }
            }
            std::fs::write(at(name), rows).expect("a file");
        };
        table("device.csv", 1, 60);
        table("reference.csv", 1, 0);
        table("other.csv", 2, 0);
        let settings = Settings::default();
        let import =
            |name: &str, out: &str| import_to(&[at("device.csv"), at(name)], &settings, &at(out));
        let words = import("reference.csv", "ride.prony").expect("it is one ride");
        for part in [
            "power=watts",
            "device.csv is the device under test",
            "placed",
        ] {
            assert!(words.contains(part), "{part}: {words}");
        }
        assert!(at("ride.prony").exists());
        let refused = import("other.csv", "never.prony").expect_err("it is another ride");
        let words = format!("{refused:#}");
        assert!(
            words.contains("device.csv") && words.contains(';'),
            "{words}"
        );
        assert!(!at("never.prony").exists());
    }
}
