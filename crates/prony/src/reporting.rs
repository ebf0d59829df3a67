//! The report of a session as a text: its seals are checked for it, and what the tester states is
//! read from a file.

use analysis::findings::Findings;
use anyhow::{Context, Result, anyhow};
use report::{Imprint, SessionFacts};
use session::SealState;
use std::path::{Path, PathBuf};

/// Name of the imprint in the data folder, for every report that has none of its own.
const COMMON: &str = "imprint.ron";

/// An imprint with everything that it was read from.
#[derive(Clone, Debug, Default)]
pub struct ReadImprint {
    /// Its text.
    pub text: String,
    /// The photographs that it names, each once: name and content.
    pub photos: Vec<(String, Vec<u8>)>,
    /// What it says, photographs included.
    pub imprint: Imprint,
}

impl ReadImprint {
    /// Reads the text of an imprint; `name` is for messages, and `photo` gives the content of a
    /// photograph by the name that the text has for it.
    ///
    /// # Errors
    /// With file, line and column where it is no imprint; with the photograph where one cannot be
    /// used.
    pub fn of(text: String, name: &str, photo: impl Fn(&str) -> Result<Vec<u8>>) -> Result<Self> {
        let mut imprint = Imprint::from_ron(&text).with_context(|| name.to_owned())?;
        let mut photos: Vec<(String, Vec<u8>)> = Vec::new();
        for one in &mut imprint.photos {
            let file = one.file.clone();
            let content = photo(&file).with_context(|| name.to_owned())?;
            one.embed(&content)
                .map_err(|words| anyhow!("the photograph {file}: {words}"))
                .with_context(|| name.to_owned())?;
            if photos.iter().all(|(known, _)| *known != file) {
                photos.push((file, content));
            }
        }
        Ok(Self {
            text,
            photos,
            imprint,
        })
    }
}

/// Reads an imprint with its photographs, which lie where it names them, relative to itself.
///
/// # Errors
/// As [`ReadImprint::of`], and if the file is not there or no text.
pub fn imprint(path: &Path) -> Result<ReadImprint> {
    let text = std::fs::read_to_string(path).with_context(|| {
        format!(
            "cannot read {}; is it there, and is it text?",
            path.display()
        )
    })?;
    let folder = path.parent().unwrap_or(Path::new(""));
    ReadImprint::of(text, &path.display().to_string(), |file| {
        let file = folder.join(file);
        std::fs::read(&file)
            .with_context(|| format!("cannot read the photograph {}", file.display()))
    })
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
