//! Recordings made elsewhere become a session on the shelf, by the code of the command line.

use crate::commands::import::{Original, Told, bring_in, role_of};
use crate::places;
use analysis::settings::Settings;
use anyhow::Result;
use std::path::PathBuf;

/// Brings recordings in, the device under test first. Says what was taken for what, how the clocks
/// were placed and where the session lies.
///
/// # Errors
/// If a recording cannot be read or placed, or the session cannot be written.
pub fn import(recordings: &[PathBuf], settings: &Settings) -> Result<String> {
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
    let device = originals
        .first()
        .map_or_else(String::new, |original| places::file_name(&original.path));
    let out = places::new_session_file("imported", &places::plain(&device))?;
    let mut words = vec![format!(
        "Imported as {}: {device} is the device under test (at the hub), the others are references \
         (at the crank). `prony import` takes other places and columns.",
        out.display()
    )];
    bring_in(&originals, settings, &out, &mut |told| match told {
        Told::Found(said) | Told::Imperfect(said) => words.push(said),
    })
    .map_err(|failure| failure.error)?;
    Ok(words.join("\n"))
}
