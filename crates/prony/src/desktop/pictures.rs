//! Every picture of a set of findings as a file of its own, for whoever writes about them.

use crate::cli::write_file;
use analysis::findings::Findings;
use anyhow::Result;
use report::{Paper, SessionFacts, Size, pictures};
use std::path::Path;

/// Wide enough for a page and a screen.
const SIZE: Size = Size {
    width: 1200,
    height: 720,
};

/// Saves all pictures as SVG files and says how many there were.
///
/// # Errors
/// If a file cannot be written; the message names it.
pub fn save(facts: &SessionFacts, findings: &Findings, folder: &Path) -> Result<usize> {
    let pictures = pictures(facts, findings);
    for picture in &pictures {
        let svg = picture.svg(SIZE, Paper::Light);
        write_file(&folder.join(format!("{}.svg", picture.name)), svg)?;
    }
    Ok(pictures.len())
}
