//! A dataset of many sessions in Parquet: one folder for each table, one partition in it for each
//! session. The layout is described in `PARQUET.md` of the crate `report`.
//!
//! A partition is replaced whole. All files of a session are written beside their places first; then
//! its row in `sessions` is taken away, the files take their places, and the row comes back last. So
//! whatever breaks off, a session that has a row in `sessions` is whole.

use anyhow::{Context, Result, bail, ensure};
use report::parquet::{self, Belonging};
use report::tables::Table;
use std::fs::{self, File};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// The file of a partition.
const PART: &str = "part.parquet";

/// The table whose row says that a session is whole.
const INDEX: &str = "sessions";

/// Puts the tables of a session into a dataset in place of those that it had there. `next` is asked
/// before each table and may give up; the dataset is then as it was.
pub(super) fn put(
    dataset: &Path,
    belonging: &Belonging,
    tables: &[Table<'_>],
    mut next: impl FnMut() -> Result<()>,
) -> Result<()> {
    let id = &belonging.session;
    ensure!(
        is_name(id),
        "its identifier {id:?} cannot name a folder; export it as CSV instead"
    );
    let partition = |table: &str| dataset.join(table).join(format!("session={id}"));
    // The index first: it is small, and there unless an export was broken off.
    for table in tables.iter().rev() {
        let found = partition(table.name).join(PART);
        if refuse_others(&found, belonging)? {
            break;
        }
    }
    let mut waiting = Vec::new();
    for table in tables {
        next()?;
        let folder = partition(table.name);
        fs::create_dir_all(&folder)
            .with_context(|| format!("cannot make the folder {}", folder.display()))?;
        sweep(&folder)?;
        let file = Waiting::of(&folder);
        write(table, belonging, &file.path)
            .with_context(|| format!("cannot write {}", file.path.display()))?;
        waiting.push(file);
    }
    let index = partition(INDEX).join(PART);
    match fs::remove_file(&index) {
        Err(error) if error.kind() != ErrorKind::NotFound => {
            return Err(error).with_context(|| format!("cannot replace {}", index.display()));
        }
        _ => {}
    }
    // In the order of the tables: the index is the last of them.
    for file in waiting {
        file.take_place()?;
    }
    Ok(())
}

/// Whether a name means the same folder everywhere and nothing else.
fn is_name(id: &str) -> bool {
    let plain = |letter: char| letter.is_ascii_alphanumeric() || letter == '-';
    (1..=128).contains(&id.len()) && id.chars().all(plain)
}

/// Whether the file is there; that it belongs to another session is an error.
fn refuse_others(file: &Path, belonging: &Belonging) -> Result<bool> {
    let bytes = match fs::read(file) {
        Ok(bytes) => bytes,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(false),
        Err(error) => {
            return Err(error).with_context(|| format!("cannot read {}", file.display()));
        }
    };
    let found = parquet::belonging(bytes).with_context(|| {
        format!(
            "{}: remove it, or choose another folder, and export again",
            file.display()
        )
    })?;
    match found {
        Some(found) if found == *belonging => Ok(true),
        Some(found) => bail!(
            "{} holds another session with the same identifier {} (its opening seal is {}, not {}); \
             nothing was replaced. One of the two was made by copying and changing a file: verify \
             both, or choose another folder",
            file.display(),
            found.session,
            found.opening_sha256,
            belonging.opening_sha256
        ),
        None => bail!(
            "{} was not written by this program; choose another folder",
            file.display()
        ),
    }
}

/// Takes away what an export that was broken off has left.
fn sweep(folder: &Path) -> Result<()> {
    let reading = || format!("cannot look into the folder {}", folder.display());
    for entry in fs::read_dir(folder).with_context(reading)? {
        let path = entry.with_context(reading)?.path();
        if path
            .extension()
            .is_some_and(|end| end == Waiting::EXTENSION)
        {
            fs::remove_file(&path).with_context(|| format!("cannot remove {}", path.display()))?;
        }
    }
    Ok(())
}

fn write(table: &Table<'_>, belonging: &Belonging, to: &Path) -> Result<()> {
    let file = File::create(to)?;
    parquet::write(table, belonging, &file)?;
    // Otherwise a power cut might leave a new name on old nothing.
    Ok(file.sync_all()?)
}

/// A file that waits for its place, under a name that no engine reads; removed if it never gets it.
struct Waiting {
    path: PathBuf,
    place: PathBuf,
}

impl Waiting {
    const EXTENSION: &str = "writing";

    fn of(folder: &Path) -> Self {
        let name = format!("_{}.{}", std::process::id(), Self::EXTENSION);
        Self {
            path: folder.join(name),
            place: folder.join(PART),
        }
    }

    fn take_place(self) -> Result<()> {
        fs::rename(&self.path, &self.place)
            .with_context(|| format!("cannot replace {}", self.place.display()))
    }
}

impl Drop for Waiting {
    fn drop(&mut self) {
        // Not there any more if it took its place.
        let _ = fs::remove_file(&self.path);
    }
}
