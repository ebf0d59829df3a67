//! What makes an SQLite file a session: its marks, its tables, and how it is opened.

use crate::error::{At, Error, Result};
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::OnceLock;
use std::time::Duration;

/// The mark of a session in the SQLite header, `application_id`: the letters `PRNY`.
pub const APPLICATION_ID: i64 = 0x5052_4E59;

/// The format version that this program writes, `user_version`.
pub const FORMAT_VERSION: i64 = 1;

/// The extension of a session file, without the dot.
pub const EXTENSION: &str = "prony";

/// How long to wait for another program that holds the file for a moment.
const PATIENCE: Duration = Duration::from_secs(1);

const FORMAT_1: &str = include_str!("format_1.sql");

/// The definitions of tables and triggers by name.
type Definitions = BTreeMap<String, String>;

/// How the definitions in a file differ from those of its format version.
#[derive(Debug, Default, PartialEq, Eq)]
pub(crate) struct Difference {
    /// Tables that are not there or not as they should be: the content cannot be trusted to read.
    pub tables: Vec<String>,
    /// Triggers that are not there or not as they should be: the rows were open to change.
    pub triggers: Vec<String>,
    /// What this program did not put there.
    pub extra: Vec<String>,
}

/// Makes the empty tables and marks of a new session, inside the caller's transaction.
pub(crate) fn create(db: &Connection) -> rusqlite::Result<()> {
    db.execute_batch(FORMAT_1)?;
    db.pragma_update(None, "application_id", APPLICATION_ID)?;
    db.pragma_update(None, "user_version", FORMAT_VERSION)
}

/// Opens a session that nobody will write to through this connection; returns its format version.
pub(crate) fn open_read_only(path: &Path) -> Result<(Connection, i64)> {
    open(path, OpenFlags::SQLITE_OPEN_READ_ONLY)
}

/// Opens a session to write to it; returns its format version.
pub(crate) fn open_read_write(path: &Path) -> Result<(Connection, i64)> {
    open(path, OpenFlags::SQLITE_OPEN_READ_WRITE)
}

/// Prepares a fresh connection: a hostile or damaged file gets as little room as SQLite allows.
pub(crate) fn configure(db: &Connection) -> rusqlite::Result<()> {
    db.busy_timeout(PATIENCE)?;
    db.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
    db.set_db_config(DbConfig::SQLITE_DBCONFIG_TRUSTED_SCHEMA, false)?;
    db.pragma_update(None, "cell_size_check", true)
}

/// Moves everything out of the companion files and removes them.
///
/// # Errors
/// [`Error::InUse`] if any other connection to the file exists; it is then as it was.
pub(crate) fn leave_single_file(db: &Connection, path: &Path) -> Result<()> {
    const DOING: &str = "finish";
    let mode = db
        .pragma_update_and_check(None, "journal_mode", "DELETE", |row| {
            row.get::<_, String>(0)
        })
        .at(path, DOING)?;
    if mode == "delete" {
        Ok(())
    } else {
        Err(Error::InUse {
            path: path.to_owned(),
            doing: DOING,
        })
    }
}

/// Compares the definitions in a file with those of its format version.
pub(crate) fn difference(db: &Connection) -> rusqlite::Result<Difference> {
    let mut found = definitions(db)?;
    let mut difference = Difference::default();
    for (name, sql) in expected()? {
        if found.remove(name).as_ref() == Some(sql) {
            continue;
        }
        if name.starts_with("table") {
            difference.tables.push(name.clone());
        } else {
            difference.triggers.push(name.clone());
        }
    }
    difference.extra = found.into_keys().collect();
    Ok(difference)
}

fn open(path: &Path, flags: OpenFlags) -> Result<(Connection, i64)> {
    if !path.is_file() {
        return Err(Error::Missing {
            path: path.to_owned(),
        });
    }
    // Without the flag for addresses, so that a file name is never anything but a file name.
    let db = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)
        .at(path, "open")?;
    configure(&db).at(path, "open")?;
    let format = check_marks(&db, path)?;
    Ok((db, format))
}

fn check_marks(db: &Connection, path: &Path) -> Result<i64> {
    let mark = |name| {
        db.pragma_query_value(None, name, |row| row.get::<_, i64>(0))
            .at(path, "read the marks of")
    };
    let application = mark("application_id")?;
    if application != APPLICATION_ID {
        let found = if std::fs::metadata(path).is_ok_and(|data| data.len() == 0) {
            "it is empty".to_owned()
        } else {
            format!("its application id is {application}, not {APPLICATION_ID}")
        };
        return Err(Error::NotASession {
            path: path.to_owned(),
            found,
        });
    }
    match mark("user_version")? {
        FORMAT_VERSION => Ok(FORMAT_VERSION),
        found if found > FORMAT_VERSION => Err(Error::NewerFormat {
            path: path.to_owned(),
            found,
            known: FORMAT_VERSION,
        }),
        found => Err(Error::NotASession {
            path: path.to_owned(),
            found: format!("there has never been a format version {found}"),
        }),
    }
}

/// The definitions of format version 1 as SQLite keeps them, found once per program.
fn expected() -> rusqlite::Result<&'static Definitions> {
    static EXPECTED: OnceLock<Definitions> = OnceLock::new();
    if let Some(expected) = EXPECTED.get() {
        return Ok(expected);
    }
    let fresh = Connection::open_in_memory()?;
    fresh.execute_batch(FORMAT_1)?;
    let found = definitions(&fresh)?;
    Ok(EXPECTED.get_or_init(|| found))
}

/// Names have the form "table packet". SQLite's own bookkeeping is left out.
fn definitions(db: &Connection) -> rusqlite::Result<Definitions> {
    let mut statement = db.prepare(
        "SELECT type || ' ' || name, sql FROM sqlite_schema \
         WHERE name NOT LIKE 'sqlite\\_%' ESCAPE '\\'",
    )?;
    let rows = statement.query_map([], |row| {
        Ok((
            row.get(0)?,
            row.get::<_, Option<String>>(1)?.unwrap_or_default(),
        ))
    })?;
    rows.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mark_spells_the_name() {
        assert_eq!(&(APPLICATION_ID as u32).to_be_bytes(), b"PRNY");
        assert_eq!(APPLICATION_ID, 1_347_571_289);
    }

    #[test]
    fn a_fresh_file_is_as_it_should_be_and_a_changed_one_is_not() {
        let db = Connection::open_in_memory().unwrap();
        create(&db).unwrap();
        assert_eq!(difference(&db).unwrap(), Difference::default());
        db.execute_batch(
            "DROP TRIGGER packet_no_update; ALTER TABLE event ADD COLUMN more TEXT; \
             CREATE VIEW mine AS SELECT 1",
        )
        .unwrap();
        let found = difference(&db).unwrap();
        assert_eq!(found.tables, ["table event"]);
        assert_eq!(found.triggers, ["trigger packet_no_update"]);
        assert_eq!(found.extra, ["view mine"]);
    }
}
