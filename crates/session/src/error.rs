//! What can go wrong with a session file, said so that the person at the bench knows what to do.

use rusqlite::ErrorCode;
use std::path::{Path, PathBuf};
use units::SourceId;

/// The result of everything that touches a session file.
pub type Result<T> = std::result::Result<T, Error>;

/// Why something could not be done with a session file. Each message names the file, the place
/// and the remedy.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The file to be created is already there.
    #[error("there is already a file {path:?}; choose another name, nothing was overwritten")]
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// There is no such file.
    #[error("there is no file {path:?}; check the name")]
    Missing {
        /// The file.
        path: PathBuf,
    },
    /// The file is something else.
    #[error("{path:?} is not a session file: {found}; choose a file recorded by this program")]
    NotASession {
        /// The file.
        path: PathBuf,
        /// What it is instead.
        found: String,
    },
    /// The file was written by a newer program.
    #[error(
        "{path:?} has format version {found} and this program reads up to {known}; \
         open it with a newer version of the program"
    )]
    NewerFormat {
        /// The file.
        path: PathBuf,
        /// Its format version.
        found: i64,
        /// The newest that this program knows.
        known: i64,
    },
    /// Somebody else has the file open.
    #[error(
        "could not {doing} {path:?}: another program has it open; \
         close it there and try again, what was committed is safe"
    )]
    InUse {
        /// The file.
        path: PathBuf,
        /// What was to be done with it.
        doing: &'static str,
    },
    /// There is no space left.
    #[error(
        "could not {doing} {path:?}: no space left; free some space and try again, \
         what was committed is safe and what was not is still held in memory"
    )]
    DiskFull {
        /// The file.
        path: PathBuf,
        /// What was to be done with it.
        doing: &'static str,
    },
    /// The content is not what this program writes.
    #[error("{path:?} is damaged at {place}: {found}; keep a copy as it is and verify it")]
    Damaged {
        /// The file.
        path: PathBuf,
        /// Table, row or block.
        place: String,
        /// What is wrong there.
        found: String,
    },
    /// A recording or an addition was interrupted and the file cannot be read as it is.
    #[error("{path:?} was left in the middle of a write; recover it where it can be written to")]
    Interrupted {
        /// The file.
        path: PathBuf,
    },
    /// The recording was never closed.
    #[error("the recording of {path:?} was never closed; recover it first")]
    NotClosed {
        /// The file.
        path: PathBuf,
    },
    /// The recording is closed and takes nothing more.
    #[error("the recording of {path:?} is closed; add to it with an annotation")]
    Closed {
        /// The file.
        path: PathBuf,
    },
    /// A packet from an instrument that the session does not know.
    #[error("{path:?} has no source {}; add the source before its first packet", source_id.0)]
    UnknownSource {
        /// The file.
        path: PathBuf,
        /// The number in the packet.
        source_id: SourceId,
    },
    /// Two things that must have different names have the same.
    #[error("{path:?} has {what} already; choose another")]
    Taken {
        /// The file.
        path: PathBuf,
        /// What is there already.
        what: String,
    },
    /// The operating system refused.
    #[error("could not {doing} {path:?}: {source}; check the folder and its permissions")]
    Io {
        /// The file.
        path: PathBuf,
        /// What was to be done with it.
        doing: &'static str,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// Anything else that SQLite says.
    #[error("could not {doing} {path:?}: {source}; check the folder, its permissions and the disk")]
    Sqlite {
        /// The file.
        path: PathBuf,
        /// What was to be done with it.
        doing: &'static str,
        /// What SQLite said.
        source: Box<rusqlite::Error>,
    },
}

/// Gives an SQLite result its file and its place.
pub(crate) trait At<T> {
    /// `doing` completes "could not … the file".
    fn at(self, path: &Path, doing: &'static str) -> Result<T>;
}

impl<T> At<T> for rusqlite::Result<T> {
    fn at(self, path: &Path, doing: &'static str) -> Result<T> {
        self.map_err(|error| from_sqlite(path, doing, error))
    }
}

fn from_sqlite(path: &Path, doing: &'static str, error: rusqlite::Error) -> Error {
    let path = path.to_owned();
    let damaged = |path, error: &rusqlite::Error| Error::Damaged {
        path,
        place: format!("an unknown place (trying to {doing} it)"),
        found: error.to_string(),
    };
    let rusqlite::Error::SqliteFailure(failure, _) = &error else {
        return match error {
            rusqlite::Error::InvalidColumnType(..)
            | rusqlite::Error::IntegralValueOutOfRange(..)
            | rusqlite::Error::Utf8Error(..)
            | rusqlite::Error::FromSqlConversionFailure(..) => damaged(path, &error),
            _ => Error::Sqlite {
                path,
                doing,
                source: Box::new(error),
            },
        };
    };
    match (failure.code, failure.extended_code) {
        (ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked, _) => Error::InUse { path, doing },
        (ErrorCode::DiskFull, _) => Error::DiskFull { path, doing },
        (ErrorCode::NotADatabase, _) => Error::NotASession {
            path,
            found: "it is not an SQLite file".to_owned(),
        },
        (ErrorCode::DatabaseCorrupt, _) | (_, rusqlite::ffi::SQLITE_IOERR_SHORT_READ) => {
            damaged(path, &error)
        }
        (
            _,
            rusqlite::ffi::SQLITE_READONLY_ROLLBACK
            | rusqlite::ffi::SQLITE_READONLY_RECOVERY
            | rusqlite::ffi::SQLITE_READONLY_CANTINIT,
        ) => Error::Interrupted { path },
        _ => Error::Sqlite {
            path,
            doing,
            source: Box::new(error),
        },
    }
}
