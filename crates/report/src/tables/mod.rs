//! The tables of a session for other people's tools, each described once: what its columns are
//! called, what type they have, whether they may be empty, and where their values come from.
//!
//! [`crate::csv`] and [`crate::parquet`] render a table; neither knows what is in it. The columns
//! are described for readers in `CSV.md`, the types in `PARQUET.md`, both beside this crate.

mod conditions;
mod course;
mod recording;
mod table;

pub use conditions::{budget, cells, windows};
pub use course::{alignment, dropouts, exclusions, seconds};
pub use recording::{Origin, Recorded, events, raw, sessions};
pub use table::{Asked, Column, Presence, SCHEMA, Table, Values};

use analysis::findings::Findings;

/// Every table of a session. `sessions` comes last: where it lies, the others lie as well.
pub fn all<'a>(recorded: &'a Recorded<'a>, findings: &'a Findings) -> Vec<Table<'a>> {
    vec![
        seconds(findings),
        windows(findings),
        cells(findings),
        budget(findings),
        exclusions(findings),
        dropouts(findings),
        alignment(findings),
        raw(recorded.evidence),
        events(recorded.events),
        sessions(recorded, findings),
    ]
}
