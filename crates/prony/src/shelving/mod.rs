//! The shelf for the program: the list of sessions, with verdicts and thumbnails filled in.
//!
//! The list itself comes from the index of the crate `session` and is there at once. Verdicts and
//! thumbnails are computed from the recorded bytes like everything else, one session at a call of
//! [`Shelf::judge_next`], so that a window can fill them in while it is being looked at; the index
//! keeps them until a file changes or the program does.

mod judging;

pub use judging::judge;

use crate::clock::wall_now;
use crate::places;
use anyhow::{Context, Result};
use session::Recovery;
use session::shelf::{ItemState, Remark, ShelfIndex, ShelfItem, add_remark};
use std::path::{Path, PathBuf};

/// A folder of sessions.
pub struct Shelf {
    index: ShelfIndex,
    items: Vec<ShelfItem>,
}

impl Shelf {
    /// The shelf in `folder`, or the usual one. The index lives among the caches of the user, so
    /// that nothing but sessions lies in the folder.
    ///
    /// # Errors
    /// If the folder cannot be read or made.
    pub fn open(folder: Option<&Path>) -> Result<Self> {
        let folder = match folder {
            Some(folder) => folder.to_owned(),
            None => places::shelf()?,
        };
        let file = places::shelf_index(&folder);
        Self::with_index(&folder, file.as_deref())
    }

    /// The shelf in `folder` with its index in `file`, or in memory.
    ///
    /// # Errors
    /// If the folder cannot be read.
    pub fn with_index(folder: &Path, file: Option<&Path>) -> Result<Self> {
        let judge = concat!("prony ", env!("CARGO_PKG_VERSION"));
        let index = ShelfIndex::open(folder, file, judge).with_context(|| {
            format!(
                "cannot open the shelf {}; choose another folder with --folder",
                folder.display()
            )
        })?;
        let mut shelf = Self {
            index,
            items: Vec::new(),
        };
        shelf.refresh()?;
        Ok(shelf)
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        self.index.folder()
    }

    /// The sessions as they were at the last look, newest first.
    pub fn items(&self) -> &[ShelfItem] {
        &self.items
    }

    /// Looks at the folder again.
    ///
    /// # Errors
    /// If the folder or the index cannot be read.
    pub fn refresh(&mut self) -> Result<&[ShelfItem]> {
        self.items = self.index.items()?;
        Ok(&self.items)
    }

    /// Computes verdict and thumbnail of one session that has none yet: the newest. `None` when
    /// there is nothing left to do. A session that cannot be judged gets the reason as its
    /// sentence and is not tried again until its file changes.
    ///
    /// # Errors
    /// If the index cannot be written.
    pub fn judge_next(&mut self) -> Result<Option<&ShelfItem>> {
        // An open recording changes all the time; it is judged once it is closed.
        let next = self
            .items
            .iter_mut()
            .find(|item| item.judgement.is_none() && item.state == ItemState::Sealed);
        let Some(item) = next else { return Ok(None) };
        let judgement = judge(&item.path);
        self.index.keep(&item.path, &judgement)?;
        item.judgement = Some(judgement);
        Ok(Some(item))
    }

    /// Sessions whose recording was interrupted, newest first: to be offered for recovery when the
    /// program starts.
    pub fn interrupted(&self) -> Vec<&ShelfItem> {
        let now_ns = now_ns();
        self.items
            .iter()
            .filter(|item| item.is_interrupted(now_ns))
            .collect()
    }
}

/// Closes an interrupted recording; everything that was committed stays.
///
/// # Errors
/// If it is being recorded right now, or is damaged.
pub fn recover(path: &Path) -> Result<Recovery> {
    Ok(session::recover(path)?)
}

/// Adds a note or a tag to a closed session, or takes a tag away.
///
/// # Errors
/// If it is not closed, or cannot be written.
pub fn remark(path: &Path, remark: &Remark) -> Result<()> {
    Ok(add_remark(path, remark, wall_now())?)
}

/// The wall clock as the list uses it, ns since 1970-01-01 UTC.
pub fn now_ns() -> i64 {
    wall_now().timestamp_nanos_opt().unwrap_or(i64::MAX)
}

/// The session files that an argument stands for: itself, or those of a folder.
///
/// # Errors
/// If a folder cannot be read or holds no session.
pub fn session_files(arguments: &[PathBuf]) -> Result<Vec<PathBuf>> {
    let mut files = Vec::new();
    for argument in arguments {
        if !argument.is_dir() {
            files.push(argument.clone());
            continue;
        }
        let mut found: Vec<PathBuf> = std::fs::read_dir(argument)
            .with_context(|| format!("cannot look into the folder {}", argument.display()))?
            .filter_map(|entry| Some(entry.ok()?.path()))
            .filter(|path| {
                path.extension()
                    .is_some_and(|end| end == session::EXTENSION)
            })
            .collect();
        anyhow::ensure!(
            !found.is_empty(),
            "there is no session file in {}; name session files or a folder that holds some",
            argument.display()
        );
        found.sort();
        files.append(&mut found);
    }
    Ok(files)
}
