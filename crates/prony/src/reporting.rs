//! The report of a session as a text: its seals are checked for it, and what the tester states is
//! read from a file.

use analysis::findings::Findings;
use anyhow::{Context, Result, anyhow};
use report::{Imprint, SessionFacts};
use session::SealState;
use std::path::{Path, PathBuf};

/// Name of the imprint in the data folder, for every report that has none of its own.
const COMMON: &str = "imprint.ron";

/// Reads an imprint with its photographs, which lie where it names them, relative to itself.
///
/// # Errors
/// With file, line and column where it is no imprint; with the photograph where one cannot be used.
pub fn imprint(path: &Path) -> Result<Imprint> {
    let text = std::fs::read_to_string(path).with_context(|| {
        format!(
            "cannot read {}; is it there, and is it text?",
            path.display()
        )
    })?;
    let folder = path.parent().unwrap_or(Path::new(""));
    imprint_in(&text, &path.display().to_string(), |file| {
        let file = folder.join(file);
        std::fs::read(&file)
            .with_context(|| format!("cannot read the photograph {}", file.display()))
    })
}

/// An imprint from its text; `name` is for messages, and `photo` gives the content of a photograph
/// by the name that the text has for it.
///
/// # Errors
/// As [`imprint`].
pub fn imprint_in(
    text: &str,
    name: &str,
    mut photo: impl FnMut(&str) -> Result<Vec<u8>>,
) -> Result<Imprint> {
    let mut imprint = Imprint::from_ron(text).with_context(|| name.to_owned())?;
    for one in &mut imprint.photos {
        let file = one.file.clone();
        let embedded = photo(&file).and_then(|bytes| {
            one.embed(&bytes)
                .map_err(|words| anyhow!("the photograph {file}: {words}"))
        });
        embedded.with_context(|| name.to_owned())?;
    }
    Ok(imprint)
}

/// The imprint that belongs to a session where nobody names one: beside it under its name, such as
/// `ride.imprint.ron` beside `ride.prony`, else the common one in `data`. `None` if there is neither.
pub fn imprint_of(session: &Path, data: &Path) -> Option<PathBuf> {
    [session.with_extension("imprint.ron"), data.join(COMMON)]
        .into_iter()
        .find(|path| path.exists())
}

/// The report of a session file. Every seal of the file is checked, and the report says what was
/// found.
///
/// # Errors
/// If the file cannot be read.
pub fn report(
    session: &Path,
    facts: &SessionFacts,
    findings: &Findings,
    imprint: &Imprint,
) -> Result<String> {
    let mut facts = facts.clone();
    match session::verify(session)?.state {
        SealState::Sealed => facts.sealed = Some("sealed".to_owned()),
        SealState::Broken => facts.sealed = Some("broken".to_owned()),
        // How the recording ended is already known.
        SealState::UnsealedTail { .. } => {}
    }
    Ok(report::html_with(&facts, findings, imprint))
}
