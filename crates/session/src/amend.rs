//! What may be added to a session after its recording: a seal for an interrupted one, a note to
//! a closed one. Old rows stay as they are.

use crate::chain::{Chain, NewRow, Seal, SealKind};
use crate::error::{At, Error, Result};
use crate::row::EventRow;
use crate::{schema, verify};
use rusqlite::{Connection, Transaction, TransactionBehavior};
use std::path::Path;
use units::Timestamp;

/// The kind of the event that [`recover`] adds. Its body says how many rows no seal covered.
pub const RECOVERED: &str = "recovered";

/// What [`recover`] found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Recovery {
    /// The recording had been closed; nothing was added.
    AlreadyClosed,
    /// The recording had been interrupted and is closed now.
    Recovered {
        /// How many rows no seal had covered.
        unsealed_rows: i64,
    },
}

/// Closes a recording that was interrupted: everything committed stays, an event says what
/// happened, a seal covers both, and the file is single again.
///
/// # Errors
/// [`Error::InUse`] if anybody has the file open, the recorder above all; [`Error::Damaged`] if
/// what was sealed is not as it was; nothing is added then. And as [`crate::verify`].
pub fn recover(path: &Path) -> Result<Recovery> {
    const DOING: &str = "recover";
    let (mut db, format) = open_alone(path)?;
    let tx = begin(&mut db, path, DOING)?;
    if Seal::last(&tx)
        .at(path, DOING)?
        .is_some_and(|seal| seal.is_closing())
    {
        return Ok(Recovery::AlreadyClosed);
    }
    if let Some(fault) = verify::inspect(&tx, format).faults.first() {
        return Err(Error::Damaged {
            path: path.to_owned(),
            place: "what was sealed".to_owned(),
            found: fault.to_string(),
        });
    }
    let chain = Chain::resume(&tx).at(path, DOING)?;
    let unsealed_rows = chain.open_rows();
    let at_ns = match chain.open_times_ns() {
        Some((_, to_ns)) => to_ns,
        None => Seal::last(&tx)
            .at(path, DOING)?
            .and_then(|seal| seal.to_ns)
            .unwrap_or(0),
    };
    let event = EventRow {
        at: Timestamp::from_nanos(at_ns),
        kind: RECOVERED.to_owned(),
        body: serde_json::json!({ "unsealed_rows": unsealed_rows }),
    };
    finish(tx, chain, &event, SealKind::Recovery).at(path, DOING)?;
    Ok(Recovery::Recovered { unsealed_rows })
}

/// Adds an event to a closed recording, in a block of its own.
///
/// # Errors
/// [`Error::NotClosed`] if it was never closed, [`Error::InUse`] if it is being recorded, and as
/// [`crate::Archive::open`].
pub fn annotate(path: &Path, event: &EventRow) -> Result<()> {
    const DOING: &str = "annotate";
    let (mut db, _) = open_alone(path)?;
    let tx = begin(&mut db, path, DOING)?;
    if !Seal::last(&tx)
        .at(path, DOING)?
        .is_some_and(|seal| seal.is_closing())
    {
        return Err(Error::NotClosed {
            path: path.to_owned(),
        });
    }
    let chain = Chain::resume(&tx).at(path, DOING)?;
    if chain.open_rows() > 0 {
        return Err(Error::Damaged {
            path: path.to_owned(),
            place: format!("row {}", chain.rows()),
            found: "there are rows after the end of the recording".to_owned(),
        });
    }
    finish(tx, chain, event, SealKind::Annotation).at(path, DOING)
}

/// Opens a session that nobody else has open: leaving the mode of a running recording is
/// possible for nobody while a recorder lives, so this is also the lock against it.
fn open_alone(path: &Path) -> Result<(Connection, i64)> {
    let (db, format) = schema::open_read_write(path)?;
    let difference = schema::difference(&db).at(path, "read")?;
    if let Some(table) = difference.tables.first() {
        return Err(Error::Damaged {
            path: path.to_owned(),
            place: table.clone(),
            found: format!("it is not that of format version {format}"),
        });
    }
    schema::leave_single_file(&db, path)?;
    db.pragma_update(None, "synchronous", "FULL")
        .at(path, "open")?;
    Ok((db, format))
}

fn begin<'c>(db: &'c mut Connection, path: &Path, doing: &'static str) -> Result<Transaction<'c>> {
    db.transaction_with_behavior(TransactionBehavior::Exclusive)
        .at(path, doing)
}

fn finish(
    tx: Transaction<'_>,
    mut chain: Chain,
    event: &EventRow,
    kind: SealKind,
) -> rusqlite::Result<()> {
    chain.append(&tx, &NewRow::event(event))?;
    chain.seal(&tx, kind)?;
    tx.commit()
}
