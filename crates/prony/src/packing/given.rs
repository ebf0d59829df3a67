//! What a person gives to a pack besides the session.

use super::member::{ADDED, GIVEN, is_plain};
use crate::choice;
use crate::reporting::{self, ReadImprint};
use anyhow::{Context, Result, ensure};
use std::path::{Path, PathBuf};

/// What a person gives to a pack besides the session.
#[derive(Clone, Debug, Default)]
pub struct Given {
    /// Text of a claim sheet to judge instead of the one stored in the session.
    pub claims: Option<String>,
    /// Text of what was measured by hand for the claims.
    pub measurements: Option<String>,
    /// What the tester states in the report.
    pub imprint: Option<ReadImprint>,
    /// Photos and documents: file name and content.
    pub added: Vec<(String, Vec<u8>)>,
}

impl Given {
    /// Reads what was named on the command line.
    ///
    /// # Errors
    /// If a file cannot be read; the message names it.
    pub fn read(
        claims: Option<&Path>,
        measurements: Option<&Path>,
        imprint: Option<&Path>,
        added: &[PathBuf],
    ) -> Result<Self> {
        let added = added.iter().map(|path| {
            let content = std::fs::read(path)
                .with_context(|| format!("cannot read {}; is it there?", path.display()))?;
            let name = path.file_name().and_then(|name| name.to_str());
            let name = name.with_context(|| {
                format!(
                    "the name of {} is not text; rename the file",
                    path.display()
                )
            })?;
            added_name(name)?;
            Ok((name.to_owned(), content))
        });
        Ok(Self {
            imprint: imprint.map(imprint_at).transpose()?,
            claims: claims.map(choice::read).transpose()?,
            measurements: measurements.map(choice::read).transpose()?,
            added: added.collect::<Result<_>>()?,
        })
    }
}

/// An imprint whose photographs have names that can be packed.
fn imprint_at(path: &Path) -> Result<ReadImprint> {
    let read = reporting::imprint(path)?;
    for (name, _) in &read.photos {
        photo_name(name).with_context(|| path.display().to_string())?;
    }
    Ok(read)
}

/// The name within the pack of a photograph that an imprint names.
pub(super) fn photo_name(name: &str) -> Result<String> {
    let named = format!("{GIVEN}{name}");
    ensure!(
        is_plain(&named),
        "the photograph {name:?} cannot be packed under this name; put it beside or below the \
         imprint, and write its name without ./ and .."
    );
    Ok(named)
}

/// The name of an added file within the pack.
pub(super) fn added_name(name: &str) -> Result<String> {
    let named = format!("{ADDED}{name}");
    ensure!(
        !name.contains('/') && is_plain(&named),
        "{name:?} cannot be a name within a pack; rename the file"
    );
    Ok(named)
}
