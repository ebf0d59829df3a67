//! Makes a pack.

use super::contents::Contents;
use super::given::Given;
use super::zipped;
use crate::places;
use anyhow::{Context, Result};
use session::sha256_of;
use std::fs::{self, OpenOptions};
use std::io::Write;
use std::path::Path;

/// A pack that was made.
pub struct Packed {
    /// How many members it has.
    pub members: usize,
    /// Its length.
    pub bytes: u64,
    /// SHA-256 of the whole archive.
    pub sha256: String,
    /// SHA-256 of the session's last block, by which the session is known.
    pub last_seal: Option<String>,
}

/// Packs a session with all that follows from it and what a person gave.
///
/// # Errors
/// If the session is not whole and sealed, cannot be judged, what was given does not fit, or there
/// is a file named `out`; nothing is written then, and the session is never changed.
pub fn pack(session: &Path, given: &Given, out: &Path) -> Result<Packed> {
    // Claimed first, so that nothing is computed in vain and no file is ever replaced.
    let mut claimed = Claimed::at(out)?;
    let packed = packed(session, given)?;
    claimed
        .file
        .write_all(&packed.1)
        .and_then(|()| claimed.file.sync_all())
        .with_context(|| format!("cannot write {}; is there room?", out.display()))?;
    claimed.is_whole = true;
    Ok(packed.0)
}

fn packed(session: &Path, given: &Given) -> Result<(Packed, Vec<u8>)> {
    // Opening it first tells what is no session, and what was broken off in a write.
    drop(session::Archive::open(session)?);
    let bytes = fs::read(session).with_context(|| format!("cannot read {}", session.display()))?;
    let copy = Copy::of(&bytes)?;
    let contents = Contents::of(&copy.path, bytes, &places::file_name(session), given)?;
    let archive = zipped::zip(&contents.members, contents.started)?;
    let packed = Packed {
        members: contents.members.len(),
        bytes: archive.len() as u64,
        sha256: sha256_of(&archive),
        last_seal: contents.verified.head_sha256,
    };
    Ok((packed, archive))
}

/// A file that is ours alone, taken away again if it does not become whole.
struct Claimed<'a> {
    path: &'a Path,
    file: fs::File,
    is_whole: bool,
}

impl<'a> Claimed<'a> {
    fn at(path: &'a Path) -> Result<Self> {
        let file = OpenOptions::new().write(true).create_new(true).open(path);
        let file = file.with_context(|| {
            let path = path.display();
            format!("cannot make {path}; choose another name, nothing was overwritten")
        })?;
        Ok(Self {
            path,
            file,
            is_whole: false,
        })
    }
}

impl Drop for Claimed<'_> {
    fn drop(&mut self) {
        if !self.is_whole {
            let _ = fs::remove_file(self.path);
        }
    }
}

/// A copy of a session that nobody else knows of, taken away when it is done with.
pub(super) struct Copy {
    /// Where it lies.
    pub path: std::path::PathBuf,
    _folder: tempfile::TempDir,
}

impl Copy {
    pub fn of(bytes: &[u8]) -> Result<Self> {
        let making =
            || "cannot copy the session into the folder for temporary files; is there room?";
        let folder = tempfile::tempdir().with_context(making)?;
        let path = folder.path().join(super::member::SESSION);
        fs::write(&path, bytes).with_context(making)?;
        Ok(Self {
            path,
            _folder: folder,
        })
    }
}
