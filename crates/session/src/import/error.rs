//! Why a recording cannot be imported.

/// Why a recording cannot be imported. Each message names the file, the place and the remedy.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ImportError {
    /// There is nothing in it.
    #[error("{name:?} is empty; export the recording again")]
    Empty {
        /// Name of the file.
        name: String,
    },
    /// It cannot be read.
    #[error("{name:?} cannot be read at {place}: {reason}; {remedy}")]
    Unreadable {
        /// Name of the file.
        name: String,
        /// Byte, line or element.
        place: String,
        /// What is wrong there.
        reason: String,
        /// What to do.
        remedy: &'static str,
    },
    /// There is no power in it.
    #[error(
        "{name:?} has {records} records and none with power; \
         choose a recording made with a power meter or trainer"
    )]
    NoPower {
        /// Name of the file.
        name: String,
        /// How many records it has.
        records: usize,
    },
    /// A column is not known.
    #[error("{name:?}: {what}; the columns are {columns}; say which is meant")]
    Columns {
        /// Name of the file.
        name: String,
        /// What is not known.
        what: String,
        /// The columns that are there.
        columns: String,
    },
    /// What was said about columns cannot be understood.
    #[error("columns {said:?}: {reason}")]
    Said {
        /// What was said.
        said: String,
        /// What is wrong with it.
        reason: String,
    },
}
