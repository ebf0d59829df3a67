//! The index: the items of a folder, remembered in an SQLite file of its own.

use super::item::{Judgement, ShelfItem};
use crate::error::{At, Error, Result};
use crate::schema::EXTENSION;
use rusqlite::{Connection, OptionalExtension, params};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::{Duration, UNIX_EPOCH};

/// Changes whenever what is kept changes its form; an index of another version is made anew.
const VERSION: i64 = 1;
/// The mark of an index in the SQLite header: the letters `PRSI`.
const APPLICATION_ID: i64 = 0x5052_5349;

const TABLES: &str = "CREATE TABLE item (
    name      TEXT PRIMARY KEY,   -- file name in the folder
    stamp     TEXT NOT NULL,      -- length and time of the file and of its companion
    item      TEXT NOT NULL,      -- JSON
    judgement TEXT,               -- JSON; NULL until the program computed it
    judge     TEXT                -- which program computed it
) STRICT;";

/// The items of one folder.
///
/// Each call of [`ShelfIndex::items`] looks at the folder; only files that are new or changed are
/// opened. What the index says is never believed over the file: length and time of change of both
/// the file and its `-wal` companion have to be what they were.
#[derive(Debug)]
pub struct ShelfIndex {
    folder: PathBuf,
    db: Connection,
    judge: String,
}

/// Length and time of change of a file.
type Stamp = (u64, i64);

impl ShelfIndex {
    /// Opens the index of `folder`, kept in `file`; an index that is not there, not readable or of
    /// another version is made anew. Without `file`, or where it cannot be written, it lives in
    /// memory and is as right, only slower at the next start. `judge` names the program and
    /// version whose judgements are kept; those of others are forgotten.
    ///
    /// # Errors
    /// [`Error::Io`] if the folder cannot be read.
    pub fn open(folder: &Path, file: Option<&Path>, judge: &str) -> Result<Self> {
        std::fs::read_dir(folder).map_err(|source| unreadable(folder, source))?;
        let db = match file.and_then(|file| open_file(file).ok()) {
            Some(db) => db,
            None => {
                let db = Connection::open_in_memory().at(folder, "index")?;
                db.execute_batch(TABLES).at(folder, "index")?;
                db
            }
        };
        Ok(Self {
            folder: folder.to_owned(),
            db,
            judge: judge.to_owned(),
        })
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// All sessions of the folder, newest first; sub-folders are not looked into. Files that
    /// cannot be read are items as well, never hidden.
    ///
    /// # Errors
    /// [`Error::Io`] if the folder cannot be read, [`Error::Sqlite`] if the index cannot.
    pub fn items(&mut self) -> Result<Vec<ShelfItem>> {
        const DOING: &str = "index";
        let mut known = self.known()?;
        let folder = self.folder.clone();
        let tx = self.db.transaction().at(&folder, DOING)?;
        let mut items = Vec::new();
        for entry in std::fs::read_dir(&folder).map_err(|source| unreadable(&folder, source))? {
            let Ok(entry) = entry else { continue };
            let path = entry.path();
            if path.extension().is_none_or(|found| found != EXTENSION) {
                continue;
            }
            let name = entry.file_name().to_string_lossy().into_owned();
            // A file that vanished between listing and looking is not on the shelf.
            let Some((stamp, size_bytes, written_ns)) = stamp_of(&path) else {
                continue;
            };
            if let Some((had, item)) = known.remove(&name)
                && had == stamp
            {
                items.push(ShelfItem { path, ..item });
                continue;
            }
            let item = ShelfItem {
                written_ns,
                size_bytes,
                ..ShelfItem::read(&path)
            };
            let text = serde_json::to_string(&item).unwrap_or_default();
            tx.execute(
                "INSERT OR REPLACE INTO item (name, stamp, item) VALUES (?1, ?2, ?3)",
                params![name, stamp, text],
            )
            .at(&folder, DOING)?;
            items.push(item);
        }
        for gone in known.keys() {
            tx.execute("DELETE FROM item WHERE name = ?1", [gone])
                .at(&folder, DOING)?;
        }
        tx.commit().at(&folder, DOING)?;
        super::query::sort(&mut items, Default::default(), Default::default());
        Ok(items)
    }

    /// Keeps what the program found out about a session, until its file changes.
    ///
    /// # Errors
    /// [`Error::Missing`] if the session is not on the shelf, [`Error::Sqlite`].
    pub fn keep(&mut self, path: &Path, judgement: &Judgement) -> Result<()> {
        let missing = || Error::Missing {
            path: path.to_owned(),
        };
        let name = path.file_name().ok_or_else(missing)?.to_string_lossy();
        let text = serde_json::to_string(judgement).unwrap_or_default();
        let changed = self
            .db
            .execute(
                "UPDATE item SET judgement = ?2, judge = ?3 WHERE name = ?1",
                params![name, text, self.judge],
            )
            .at(&self.folder, "index")?;
        if changed == 0 { Err(missing()) } else { Ok(()) }
    }

    fn known(&self) -> Result<BTreeMap<String, (String, ShelfItem)>> {
        const DOING: &str = "read the index of";
        let mut statement = self
            .db
            .prepare("SELECT name, stamp, item, judgement, judge FROM item")
            .at(&self.folder, DOING)?;
        let mut rows = statement.query([]).at(&self.folder, DOING)?;
        let mut known = BTreeMap::new();
        while let Some(row) = rows.next().at(&self.folder, DOING)? {
            let text = |column| row.get::<_, Option<String>>(column).at(&self.folder, DOING);
            let (Some(name), Some(stamp), Some(item)) = (text(0)?, text(1)?, text(2)?) else {
                continue;
            };
            // What does not read is read from the file again.
            let Ok(mut item) = serde_json::from_str::<ShelfItem>(&item) else {
                continue;
            };
            if text(4)?.as_deref() == Some(&self.judge) {
                item.judgement = text(3)?.and_then(|text| serde_json::from_str(&text).ok());
            }
            known.insert(name, (stamp, item));
        }
        Ok(known)
    }
}

fn unreadable(folder: &Path, source: std::io::Error) -> Error {
    Error::Io {
        path: folder.to_owned(),
        doing: "look into the folder",
        source,
    }
}

/// Opens or makes the index file; a file of another version, or one that is damaged, is replaced.
fn open_file(file: &Path) -> rusqlite::Result<Connection> {
    match open_known(file) {
        Ok(Some(db)) => Ok(db),
        Ok(None) | Err(_) => {
            if let Some(folder) = file.parent() {
                let _ = std::fs::create_dir_all(folder);
            }
            // Only an index is ever replaced: anything else of that name stays as it is.
            if is_replaceable(file) {
                let _ = std::fs::remove_file(file);
            }
            let db = Connection::open(file)?;
            prepare(&db)?;
            db.execute_batch(TABLES)?;
            db.pragma_update(None, "application_id", APPLICATION_ID)?;
            db.pragma_update(None, "user_version", VERSION)?;
            Ok(db)
        }
    }
}

/// An index carries its mark at byte 68 of the SQLite header (SQLite file format, 1.3); a damaged
/// one may have lost everything else.
fn is_replaceable(file: &Path) -> bool {
    std::fs::read(file).is_ok_and(|bytes| {
        bytes.is_empty() || bytes.get(68..72) == Some(&(APPLICATION_ID as u32).to_be_bytes())
    })
}

fn open_known(file: &Path) -> rusqlite::Result<Option<Connection>> {
    if !file.is_file() {
        return Ok(None);
    }
    let db = Connection::open(file)?;
    prepare(&db)?;
    let mark = |name| db.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
    if mark("application_id")? != APPLICATION_ID || mark("user_version")? != VERSION {
        return Ok(None);
    }
    let check: Option<String> = db
        .query_row("PRAGMA quick_check(1)", [], |row| row.get(0))
        .optional()?;
    Ok((check.as_deref() == Some("ok")).then_some(db))
}

fn prepare(db: &Connection) -> rusqlite::Result<()> {
    db.busy_timeout(Duration::from_secs(1))?;
    // What is lost in a power cut is computed again.
    db.pragma_update(None, "synchronous", "OFF")
}

/// What has to be the same for a file to count as unchanged, its length and when it was written.
fn stamp_of(path: &Path) -> Option<(String, u64, i64)> {
    let (size, time_ns) = look(path)?;
    let mut companion = path.as_os_str().to_owned();
    companion.push("-wal");
    let wal = look(Path::new(&companion));
    let (wal_size, wal_ns) = wal.unwrap_or((0, 0));
    let stamp = format!("{size} {time_ns} {wal_size} {wal_ns}");
    Some((stamp, size + wal_size, time_ns.max(wal_ns)))
}

fn look(path: &Path) -> Option<Stamp> {
    let data = std::fs::metadata(path).ok()?;
    let time = data.modified().ok()?.duration_since(UNIX_EPOCH).ok()?;
    Some((data.len(), i64::try_from(time.as_nanos()).ok()?))
}
