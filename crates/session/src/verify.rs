//! Says whether a session file is what was recorded, and if not, where.

use crate::chain::{BlockDigest, NO_BLOCK, Seal, sha256_hex};
use crate::error::{At, Result};
use crate::scan::{Merge, Statements, Table};
use crate::schema;
use rusqlite::{Connection, OptionalExtension};
use std::fmt;
use std::path::Path;
use units::Timestamp;

/// More lines of SQLite's own check say nothing more.
const DATABASE_FAULTS: usize = 20;

/// What was found in a session file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct VerifyReport {
    /// The format version.
    pub format: i64,
    /// The conclusion.
    pub state: SealState,
    /// How many seals there are.
    pub blocks: i64,
    /// How many packets the good blocks and the tail hold.
    pub packets: i64,
    /// How many events the good blocks and the tail hold.
    pub events: i64,
    /// The recorded SHA-256 of the last block, which the session is known by.
    pub head_sha256: Option<String>,
    /// Everything that is wrong, in the order it was found; the first bad block comes first
    /// among blocks. Empty unless the state is [`SealState::Broken`].
    pub faults: Vec<Fault>,
    /// What is odd but changes nothing that was recorded.
    pub notes: Vec<String>,
}

/// The conclusion of a verification.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SealState {
    /// Closed, and every row is as it was sealed.
    Sealed,
    /// Every sealed row is as it was sealed, but the recording was not closed: it goes on, or it
    /// was interrupted.
    UnsealedTail {
        /// How many rows no seal covers.
        rows: i64,
        /// Earliest and latest packet or event among them.
        times: Option<(Timestamp, Timestamp)>,
    },
    /// Something is not as it was written.
    Broken,
}

/// Something that is not as it was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fault {
    /// SQLite's own check of the file found something.
    Database {
        /// In SQLite's words.
        found: String,
    },
    /// A table or trigger is not that of the format version.
    Definition {
        /// Such as `trigger packet_no_update`.
        name: String,
    },
    /// A block is not as it was sealed.
    Block {
        /// Number of the block, from 1.
        block: i64,
        /// First and last place in the session's order that it covers.
        seqs: (i64, i64),
        /// Earliest and latest packet or event in it, as its seal says.
        times: Option<(Timestamp, Timestamp)>,
        /// What is wrong with it.
        what: BlockFault,
    },
    /// There are rows that no block covers where there can be none.
    Tail {
        /// First and last place of these rows.
        seqs: (i64, i64),
        /// What is wrong with them.
        found: &'static str,
    },
    /// A text in `about` does not have the SHA-256 that stands beside it.
    Document {
        /// Its key.
        key: String,
    },
}

/// What is wrong with a block.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum BlockFault {
    /// Its seal is gone.
    NoSeal,
    /// Its seal does not continue the block before it.
    OutOfChain,
    /// The row at this place is missing, or there is one too many before it.
    Rows {
        /// The place.
        seq: i64,
    },
    /// Content or seal were changed.
    Changed,
    /// It cannot be read.
    Unreadable {
        /// In SQLite's words.
        found: String,
    },
}

/// Checks a session file: SQLite's integrity check, marks and definitions, and the chain of
/// seals over every row.
///
/// # Errors
/// If the file cannot be opened as a session at all: [`crate::Error::Missing`],
/// [`crate::Error::NotASession`], [`crate::Error::NewerFormat`], [`crate::Error::Damaged`],
/// [`crate::Error::Interrupted`], [`crate::Error::Sqlite`].
pub fn verify(path: &Path) -> Result<VerifyReport> {
    let (db, format) = schema::open_read_only(path)?;
    // One snapshot for all of it: the session may still be recorded.
    let tx = db.unchecked_transaction().at(path, "verify")?;
    Ok(inspect(&tx, format))
}

/// Checks a session through an open connection, inside the caller's transaction. What goes wrong
/// while reading is a finding, not an error.
pub(crate) fn inspect(db: &Connection, format: i64) -> VerifyReport {
    let mut report = VerifyReport {
        format,
        state: SealState::Broken,
        blocks: 0,
        packets: 0,
        events: 0,
        head_sha256: None,
        faults: Vec::new(),
        notes: Vec::new(),
    };
    let database = |error: rusqlite::Error| Fault::Database {
        found: error.to_string(),
    };
    if let Err(error) = check_database(db, &mut report) {
        report.faults.push(database(error));
    }
    match check_definitions(db, &mut report) {
        Err(error) => report.faults.push(database(error)),
        // Rows of tables that are not ours are not ours to judge.
        Ok(Readable::No) => {}
        Ok(Readable::Yes) => {
            match Walk::along(db, &mut report) {
                Err(error) => report.faults.push(database(error)),
                Ok(state) => report.state = state,
            }
            if let Err(error) = check_about(db, &mut report) {
                report.faults.push(database(error));
            }
        }
    }
    if !report.faults.is_empty() {
        report.state = SealState::Broken;
    }
    report
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Readable {
    Yes,
    No,
}

fn check_database(db: &Connection, report: &mut VerifyReport) -> rusqlite::Result<()> {
    let mut statement = db.prepare(&format!("PRAGMA integrity_check({DATABASE_FAULTS})"))?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let found: String = row.get(0)?;
        if found != "ok" {
            report.faults.push(Fault::Database { found });
        }
    }
    Ok(())
}

fn check_definitions(db: &Connection, report: &mut VerifyReport) -> rusqlite::Result<Readable> {
    let difference = schema::difference(db)?;
    let readable = if difference.tables.is_empty() {
        Readable::Yes
    } else {
        Readable::No
    };
    for name in difference.tables.into_iter().chain(difference.triggers) {
        report.faults.push(Fault::Definition { name });
    }
    for name in difference.extra {
        report
            .notes
            .push(format!("{name} is not part of the format"));
    }
    Ok(readable)
}

fn check_about(db: &Connection, report: &mut VerifyReport) -> rusqlite::Result<()> {
    let value = |key: &str| -> rusqlite::Result<Option<String>> {
        db.query_row("SELECT value FROM about WHERE key = ?1", [key], |row| {
            row.get(0)
        })
        .optional()
    };
    if value("format")? != Some(report.format.to_string()) {
        report.faults.push(Fault::Document {
            key: "format".to_owned(),
        });
    }
    for key in ["script", "claims", "decision_rule"] {
        let digest = value(key)?.map(|text| sha256_hex(text.as_bytes()));
        if digest != value(&format!("{key}_sha256"))? {
            report.faults.push(Fault::Document {
                key: key.to_owned(),
            });
        }
    }
    Ok(())
}

/// The walk along the chain, one block after the other.
struct Walk<'s, 'r> {
    rows: Merge<'s>,
    report: &'r mut VerifyReport,
    block: i64,
    next_seq: i64,
    sha256: String,
}

impl Walk<'_, '_> {
    fn along(db: &Connection, report: &mut VerifyReport) -> rusqlite::Result<SealState> {
        let mut seals = db.prepare(Seal::SELECT)?;
        let mut seals = seals.query([])?;
        let mut statements = Statements::prepare(db, &Table::ALL)?;
        let rows = statements.merge_after(i64::MIN)?;
        let mut walk = Walk {
            rows,
            report,
            block: 1,
            next_seq: 1,
            sha256: NO_BLOCK.to_owned(),
        };
        let mut last = None;
        while let Some(row) = seals.next()? {
            let seal = Seal::from_row(row)?;
            walk.block(&seal);
            last = Some(seal);
        }
        let closed = last.as_ref().is_some_and(Seal::is_closing);
        walk.report.head_sha256 = last.map(|seal| seal.sha256);
        walk.tail(closed)
    }

    fn block(&mut self, seal: &Seal) {
        if seal.block != self.block {
            let seqs = (self.next_seq, seal.first_seq.saturating_sub(1));
            let block = self.block;
            self.report.faults.push(Fault::Block {
                block,
                seqs,
                times: None,
                what: BlockFault::NoSeal,
            });
        }
        if let Err(what) = self.judge(seal) {
            self.report.faults.push(Fault::Block {
                block: seal.block,
                seqs: (seal.first_seq, seal.last_seq),
                times: moments(seal.from_ns.zip(seal.to_ns)),
                what,
            });
        }
        // The blocks after a bad one are judged by what its seal says, so that each fault is
        // found where it is.
        self.report.blocks += 1;
        self.block = seal.block.saturating_add(1);
        self.next_seq = seal.last_seq.saturating_add(1);
        self.sha256.clone_from(&seal.sha256);
    }

    fn judge(&mut self, seal: &Seal) -> std::result::Result<(), BlockFault> {
        let in_chain = seal.previous_sha256 == self.sha256
            && seal.block == self.block
            && seal.first_seq == self.next_seq
            && seal.last_seq.checked_sub(seal.first_seq) == Some(seal.row_count - 1)
            && (seal.kind == "opening") == (seal.block == 1);
        let mut digest = BlockDigest::after(&seal.previous_sha256);
        let mut expected = seal.first_seq;
        let mut bad_row = None;
        let (mut packets, mut events) = (0, 0);
        let unreadable = |e: rusqlite::Error| BlockFault::Unreadable {
            found: e.to_string(),
        };
        // All its rows are read even when it is bad already, so that the next block starts right.
        while self
            .rows
            .peek()
            .map_err(unreadable)?
            .is_some_and(|seq| seq <= seal.last_seq)
        {
            let Some((table, seq, row)) = self.rows.next().map_err(unreadable)? else {
                break;
            };
            let misplaced = seq != expected || (table == Table::About && seal.block != 1);
            if misplaced && bad_row.is_none() {
                bad_row = Some(expected);
            }
            expected = seq.saturating_add(1);
            digest.stored_row(table, row).map_err(unreadable)?;
            match table {
                Table::Packet => packets += 1,
                Table::Event => events += 1,
                Table::About | Table::Source | Table::File => {}
            }
        }
        if !in_chain {
            return Err(BlockFault::OutOfChain);
        }
        if expected != self.next_seq_after(seal) && bad_row.is_none() {
            bad_row = Some(expected);
        }
        if let Some(seq) = bad_row {
            return Err(BlockFault::Rows { seq });
        }
        if digest.finish(seal) != seal.sha256 {
            return Err(BlockFault::Changed);
        }
        self.report.packets += packets;
        self.report.events += events;
        Ok(())
    }

    fn next_seq_after(&self, seal: &Seal) -> i64 {
        seal.last_seq.saturating_add(1)
    }

    fn tail(mut self, closed: bool) -> rusqlite::Result<SealState> {
        let first_seq = self.next_seq;
        let (mut last_seq, mut in_order) = (first_seq.saturating_sub(1), true);
        let mut times: Option<(i64, i64)> = None;
        while let Some((table, seq, row)) = self.rows.next()? {
            in_order &= last_seq.checked_add(1) == Some(seq) && table != Table::About;
            last_seq = seq;
            match table {
                Table::Packet => self.report.packets += 1,
                Table::Event => self.report.events += 1,
                Table::About | Table::Source | Table::File => continue,
            }
            let at: i64 = row.get(1)?;
            times = Some(times.map_or((at, at), |(from, to)| (from.min(at), to.max(at))));
        }
        let rows = last_seq.saturating_sub(first_seq).saturating_add(1);
        let found = if self.block == 1 {
            Some("there is no opening block")
        } else if !in_order {
            Some("rows are missing or too many")
        } else if closed && rows > 0 {
            Some("there are rows after the end of the recording")
        } else {
            None
        };
        if let Some(found) = found {
            self.report.faults.push(Fault::Tail {
                seqs: (first_seq, last_seq),
                found,
            });
        }
        Ok(if closed {
            SealState::Sealed
        } else {
            SealState::UnsealedTail {
                rows,
                times: moments(times),
            }
        })
    }
}

fn moments(times: Option<(i64, i64)>) -> Option<(Timestamp, Timestamp)> {
    times.map(|(from, to)| (Timestamp::from_nanos(from), Timestamp::from_nanos(to)))
}

/// The conclusion in a few words.
impl fmt::Display for SealState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Sealed => f.write_str("sealed"),
            Self::UnsealedTail { rows, times } => {
                write!(f, "not closed, unsealed tail of {rows} rows")?;
                times.map_or(Ok(()), |(from, to)| write!(f, " ({from} to {to})"))
            }
            Self::Broken => f.write_str("broken"),
        }
    }
}

/// The fault in one line.
impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Database { found } => write!(f, "the database: {found}"),
            Self::Definition { name } => write!(f, "{name} is missing or was changed"),
            Self::Block {
                block,
                seqs: (first, last),
                times,
                what,
            } => {
                write!(f, "block {block}, rows {first} to {last}")?;
                if let Some((from, to)) = times {
                    write!(f, ", {from} to {to}")?;
                }
                write!(f, ": {what}")
            }
            Self::Tail {
                seqs: (first, last),
                found,
            } if first > last => f.write_str(found),
            Self::Tail {
                seqs: (first, last),
                found,
            } => {
                write!(f, "rows {first} to {last}: {found}")
            }
            Self::Document { key } => write!(f, "about {key:?} does not have its digest"),
        }
    }
}

impl fmt::Display for BlockFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoSeal => f.write_str("its seal is missing"),
            Self::OutOfChain => f.write_str("its seal does not continue the block before"),
            Self::Rows { seq } => write!(f, "row {seq} is missing or out of place"),
            Self::Changed => f.write_str("content or seal were changed"),
            Self::Unreadable { found } => write!(f, "cannot be read: {found}"),
        }
    }
}
