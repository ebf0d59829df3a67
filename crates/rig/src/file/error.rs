//! Why a rig file cannot be run.

/// Why a rig file cannot be run.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RigError {
    /// The text is not a rig file.
    #[error("{name}, line {line}, column {column}: {reason}; compare with a built-in rig")]
    Syntax {
        /// Name of the file.
        name: String,
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// What the reader said.
        reason: String,
    },
    /// A value cannot be.
    #[error("{name}: {field} is {value}, but must be {must}")]
    Value {
        /// Name of the file.
        name: String,
        /// Which field of which part.
        field: String,
        /// What it is.
        value: String,
        /// What it must be.
        must: &'static str,
    },
    /// No built-in rig has this name.
    #[error("there is no built-in rig {name:?}; there are {known}")]
    Unknown {
        /// The name asked for.
        name: String,
        /// The names there are.
        known: String,
    },
}
