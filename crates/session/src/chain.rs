//! Writing rows in the session's one order, and the chain of digests over blocks of them.
//!
//! The bytes that are digested are described in the crate's documentation. Writing digests the
//! values it is given and reading digests the values it finds; that both come to the same is what
//! verification tests.

use crate::row::{EventRow, SourceInfo};
use crate::scan::{Statements, Table};
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension, Row, params};
use sha2::{Digest, Sha256};
use units::Packet;

/// What the first block has for the digest of the block before it.
pub(crate) const NO_BLOCK: &str =
    "0000000000000000000000000000000000000000000000000000000000000000";

/// A block is sealed when it has this many rows …
const ROWS_PER_BLOCK: i64 = 1024;

/// … or has seen this many commits: every ten seconds when a commit comes every 250 ms.
const COMMITS_PER_BLOCK: u32 = 40;

/// Digested in portions, because a call for each small column costs more than its digest.
const PORTION_BYTES: usize = 4096;

/// Why a block was sealed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum SealKind {
    /// What is known before the first sample.
    Opening,
    /// The recording goes on.
    Block,
    /// The recording was closed.
    End,
    /// The recording was interrupted and is closed now.
    Recovery,
    /// Something was added to a closed recording.
    Annotation,
}

/// A row of `seal`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Seal {
    pub block: i64,
    pub kind: String,
    pub first_seq: i64,
    pub last_seq: i64,
    pub row_count: i64,
    pub from_ns: Option<i64>,
    pub to_ns: Option<i64>,
    pub previous_sha256: String,
    pub sha256: String,
}

/// A row on its way into the file.
#[derive(Clone, Debug)]
pub(crate) enum NewRow {
    About {
        key: String,
        value: String,
    },
    Source {
        info: Box<SourceInfo>,
        identity: String,
        calibration: String,
    },
    Packet(Packet),
    Event {
        at_ns: i64,
        kind: String,
        body: String,
    },
    File {
        at_ns: i64,
        name: String,
        bytes: Vec<u8>,
    },
}

/// The digest of a block that is not sealed yet.
#[derive(Clone, Debug)]
pub(crate) struct BlockDigest {
    sha: Sha256,
    waiting: Vec<u8>,
}

/// The open end of the chain: where the next row goes and what the open block holds so far.
#[derive(Clone, Debug)]
pub(crate) struct Chain {
    block: i64,
    first_seq: i64,
    row_count: i64,
    from_ns: Option<i64>,
    to_ns: Option<i64>,
    previous_sha256: String,
    digest: BlockDigest,
    commits: u32,
}

impl SealKind {
    /// The word in the table.
    pub fn word(self) -> &'static str {
        match self {
            Self::Opening => "opening",
            Self::Block => "block",
            Self::End => "end",
            Self::Recovery => "recovery",
            Self::Annotation => "annotation",
        }
    }
}

impl Seal {
    /// All seals, in order.
    pub const SELECT: &str = "SELECT block, kind, first_seq, last_seq, row_count, from_ns, to_ns, \
                              previous_sha256, sha256 FROM seal ORDER BY block";

    /// The newest seal.
    pub fn last(db: &Connection) -> rusqlite::Result<Option<Self>> {
        let sql = format!("{} DESC LIMIT 1", Self::SELECT);
        db.query_row(&sql, [], Self::from_row).optional()
    }

    /// The seal that ended the recording.
    pub fn end(db: &Connection) -> rusqlite::Result<Option<Self>> {
        let sql = Self::SELECT.replace("ORDER BY", "WHERE kind IN (?1, ?2) ORDER BY");
        let kinds = [SealKind::End.word(), SealKind::Recovery.word()];
        db.query_row(&format!("{sql} LIMIT 1"), kinds, Self::from_row)
            .optional()
    }

    /// The oldest seal.
    pub fn first(db: &Connection) -> rusqlite::Result<Option<Self>> {
        let sql = format!("{} LIMIT 1", Self::SELECT);
        db.query_row(&sql, [], Self::from_row).optional()
    }

    /// From a row of [`Seal::SELECT`].
    pub fn from_row(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            block: row.get(0)?,
            kind: row.get(1)?,
            first_seq: row.get(2)?,
            last_seq: row.get(3)?,
            row_count: row.get(4)?,
            from_ns: row.get(5)?,
            to_ns: row.get(6)?,
            previous_sha256: row.get(7)?,
            sha256: row.get(8)?,
        })
    }

    /// Whether the session was complete when this was its last seal.
    pub fn is_closing(&self) -> bool {
        [SealKind::End, SealKind::Recovery, SealKind::Annotation]
            .iter()
            .any(|kind| kind.word() == self.kind)
    }

    fn insert(&self, db: &Connection) -> rusqlite::Result<()> {
        db.prepare_cached("INSERT INTO seal VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)")?
            .execute(params![
                self.block,
                self.kind,
                self.first_seq,
                self.last_seq,
                self.row_count,
                self.from_ns,
                self.to_ns,
                self.previous_sha256,
                self.sha256,
            ])?;
        Ok(())
    }
}

impl NewRow {
    /// The row of a source.
    pub fn source(info: &SourceInfo) -> Self {
        let identity =
            serde_json::to_string(&info.identity).expect("a struct of texts always has a text");
        Self::Source {
            info: Box::new(info.clone()),
            identity,
            calibration: info.calibration.to_string(),
        }
    }

    /// The row of an event. A JSON value always has a text.
    pub fn event(event: &EventRow) -> Self {
        Self::Event {
            at_ns: event.at.as_nanos(),
            kind: event.kind.clone(),
            body: event.body.to_string(),
        }
    }

    /// When it happened, for rows whose time counts for the block's.
    fn at_ns(&self) -> Option<i64> {
        match self {
            Self::Packet(packet) => Some(packet.at.as_nanos()),
            Self::Event { at_ns, .. } => Some(*at_ns),
            _ => None,
        }
    }
}

impl BlockDigest {
    /// The digest of a block that follows the block with digest `previous_sha256`.
    pub fn after(previous_sha256: &str) -> Self {
        let mut sha = Sha256::new();
        sha.update(previous_sha256.as_bytes());
        Self {
            sha,
            waiting: Vec::new(),
        }
    }

    /// A row as it lies in the file.
    pub fn stored_row(&mut self, table: Table, row: &Row<'_>) -> rusqlite::Result<()> {
        self.row(table.letter());
        for column in 0..table.columns() {
            match row.get_ref(column)? {
                ValueRef::Null => self.waiting.push(b'n'),
                ValueRef::Integer(value) => self.integer(value),
                // No table has such a column; it must still change the digest.
                ValueRef::Real(value) => {
                    self.waiting.push(b'r');
                    self.waiting
                        .extend_from_slice(&value.to_bits().to_le_bytes());
                }
                ValueRef::Text(value) => self.content(b't', value),
                ValueRef::Blob(value) => self.content(b'b', value),
            }
        }
        Ok(())
    }

    /// Ends the block: the digest that its seal must have.
    pub fn finish(mut self, seal: &Seal) -> String {
        self.row(b'z');
        self.integer(seal.block);
        self.text(&seal.kind);
        self.integer(seal.first_seq);
        self.integer(seal.last_seq);
        self.integer(seal.row_count);
        for moment in [seal.from_ns, seal.to_ns] {
            match moment {
                Some(nanos) => self.integer(nanos),
                None => self.waiting.push(b'n'),
            }
        }
        self.text(&seal.previous_sha256);
        self.sha.update(&self.waiting);
        hex(&self.sha.finalize())
    }

    fn row(&mut self, letter: u8) {
        self.flush(PORTION_BYTES);
        self.waiting.push(letter);
    }

    fn integer(&mut self, value: i64) {
        self.waiting.push(b'i');
        self.waiting.extend_from_slice(&value.to_le_bytes());
    }

    fn text(&mut self, value: &str) {
        self.content(b't', value.as_bytes());
    }

    fn content(&mut self, letter: u8, value: &[u8]) {
        self.waiting.push(letter);
        self.waiting
            .extend_from_slice(&(value.len() as u64).to_le_bytes());
        if value.len() < PORTION_BYTES {
            self.waiting.extend_from_slice(value);
        } else {
            self.flush(0);
            self.sha.update(value);
        }
    }

    fn flush(&mut self, above: usize) {
        if self.waiting.len() > above {
            self.sha.update(&self.waiting);
            self.waiting.clear();
        }
    }
}

impl Chain {
    /// The chain of a new session.
    pub fn new() -> Self {
        Self::after_block(0, NO_BLOCK, 1)
    }

    /// The chain as it lies in a file, with the rows that no seal covers in its open block.
    pub fn resume(db: &Connection) -> rusqlite::Result<Self> {
        let mut chain = match Seal::last(db)? {
            Some(seal) => Self::after_block(seal.block, &seal.sha256, seal.last_seq + 1),
            None => Self::new(),
        };
        let mut statements = Statements::prepare(db, &Table::ALL)?;
        let mut rows = statements.merge_after(chain.first_seq - 1)?;
        while let Some((table, _, row)) = rows.next()? {
            chain.digest.stored_row(table, row)?;
            let at_ns = match table {
                Table::Packet | Table::Event => Some(row.get(1)?),
                Table::About | Table::Source | Table::File => None,
            };
            chain.count(at_ns);
        }
        Ok(chain)
    }

    fn after_block(block: i64, sha256: &str, first_seq: i64) -> Self {
        Self {
            block: block + 1,
            first_seq,
            row_count: 0,
            from_ns: None,
            to_ns: None,
            previous_sha256: sha256.to_owned(),
            digest: BlockDigest::after(sha256),
            commits: 0,
        }
    }

    /// How many rows the open block has.
    pub fn open_rows(&self) -> i64 {
        self.row_count
    }

    /// How many blocks are sealed.
    pub fn sealed_blocks(&self) -> i64 {
        self.block - 1
    }

    /// How many rows there are, sealed or not.
    pub fn rows(&self) -> i64 {
        self.first_seq + self.row_count - 1
    }

    /// Earliest and latest time in the open block.
    pub fn open_times_ns(&self) -> Option<(i64, i64)> {
        self.from_ns.zip(self.to_ns)
    }

    /// The digest of the last sealed block.
    pub fn head_sha256(&self) -> &str {
        &self.previous_sha256
    }

    /// Writes a row, inside the caller's transaction, and seals the block when it is full.
    pub fn append(&mut self, db: &Connection, row: &NewRow) -> rusqlite::Result<()> {
        let seq = self.rows() + 1;
        let digest = &mut self.digest;
        match row {
            NewRow::About { key, value } => {
                db.prepare_cached("INSERT INTO about VALUES (?1, ?2, ?3)")?
                    .execute(params![seq, key, value])?;
                digest.row(Table::About.letter());
                digest.integer(seq);
                digest.text(key);
                digest.text(value);
            }
            NewRow::Source {
                info,
                identity,
                calibration,
            } => {
                let simulated = i64::from(info.simulated);
                db.prepare_cached("INSERT INTO source VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)")?
                    .execute(params![
                        seq,
                        info.id.0,
                        info.name,
                        info.role,
                        info.place,
                        identity,
                        calibration,
                        simulated
                    ])?;
                digest.row(Table::Source.letter());
                digest.integer(seq);
                digest.integer(info.id.0.into());
                for text in [&info.name, &info.role, &info.place, identity, calibration] {
                    digest.text(text);
                }
                digest.integer(simulated);
            }
            NewRow::Packet(packet) => {
                let (at_ns, characteristic) =
                    (packet.at.as_nanos(), packet.characteristic.to_string());
                db.prepare_cached("INSERT INTO packet VALUES (?1, ?2, ?3, ?4, ?5, ?6)")?
                    .execute(params![
                        seq,
                        at_ns,
                        packet.source.0,
                        packet.epoch,
                        characteristic,
                        packet.bytes
                    ])?;
                digest.row(Table::Packet.letter());
                digest.integer(seq);
                digest.integer(at_ns);
                digest.integer(packet.source.0.into());
                digest.integer(packet.epoch.into());
                digest.text(&characteristic);
                digest.content(b'b', &packet.bytes);
            }
            NewRow::Event { at_ns, kind, body } => {
                db.prepare_cached("INSERT INTO event VALUES (?1, ?2, ?3, ?4)")?
                    .execute(params![seq, at_ns, kind, body])?;
                digest.row(Table::Event.letter());
                digest.integer(seq);
                digest.integer(*at_ns);
                digest.text(kind);
                digest.text(body);
            }
            NewRow::File { at_ns, name, bytes } => {
                db.prepare_cached("INSERT INTO file VALUES (?1, ?2, ?3, ?4)")?
                    .execute(params![seq, at_ns, name, bytes])?;
                digest.row(Table::File.letter());
                digest.integer(seq);
                digest.integer(*at_ns);
                digest.text(name);
                digest.content(b'b', bytes);
            }
        }
        self.count(row.at_ns());
        if self.row_count >= ROWS_PER_BLOCK {
            self.seal(db, SealKind::Block)?;
        }
        Ok(())
    }

    /// Counts a commit, inside the caller's transaction, and seals the block when it is old.
    pub fn count_commit(&mut self, db: &Connection) -> rusqlite::Result<()> {
        self.commits += 1;
        if self.commits >= COMMITS_PER_BLOCK && self.row_count > 0 {
            self.seal(db, SealKind::Block)?;
        }
        Ok(())
    }

    /// Seals the open block, inside the caller's transaction, and opens the next.
    pub fn seal(&mut self, db: &Connection, kind: SealKind) -> rusqlite::Result<()> {
        let mut seal = Seal {
            block: self.block,
            kind: kind.word().to_owned(),
            first_seq: self.first_seq,
            last_seq: self.rows(),
            row_count: self.row_count,
            from_ns: self.from_ns,
            to_ns: self.to_ns,
            previous_sha256: self.previous_sha256.clone(),
            sha256: String::new(),
        };
        seal.sha256 = self.digest.clone().finish(&seal);
        seal.insert(db)?;
        *self = Self::after_block(seal.block, &seal.sha256, seal.last_seq + 1);
        Ok(())
    }

    fn count(&mut self, at_ns: Option<i64>) {
        self.row_count += 1;
        if let Some(at_ns) = at_ns {
            self.from_ns = Some(self.from_ns.map_or(at_ns, |from| from.min(at_ns)));
            self.to_ns = Some(self.to_ns.map_or(at_ns, |to| to.max(at_ns)));
        }
    }
}

/// SHA-256 of some bytes, as hexadecimal digits.
pub fn sha256_hex(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

fn hex(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    let digit = |nibble: u8| char::from(DIGITS[usize::from(nibble & 15)]);
    bytes
        .iter()
        .flat_map(|&byte| [digit(byte >> 4), digit(byte)])
        .collect()
}
