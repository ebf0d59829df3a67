//! Reads several tables as one, in the session's one order.

use rusqlite::fallible_streaming_iterator::FallibleStreamingIterator;
use rusqlite::{Connection, Row, Rows, Statement};

/// A table whose rows have a place in the session's one order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Table {
    About,
    Source,
    Packet,
    Event,
    File,
}

impl Table {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::About,
        Self::Source,
        Self::Packet,
        Self::Event,
        Self::File,
    ];

    /// The letter that stands for the table in a block's digest.
    pub fn letter(self) -> u8 {
        match self {
            Self::About => b'a',
            Self::Source => b's',
            Self::Packet => b'p',
            Self::Event => b'e',
            Self::File => b'f',
        }
    }

    /// How many columns a row has.
    pub fn columns(self) -> usize {
        match self {
            Self::About => 3,
            Self::Source => 8,
            Self::Packet => 6,
            Self::Event | Self::File => 4,
        }
    }

    /// All rows after place `?1`, in order, all columns in the order of the table.
    pub fn select(self) -> &'static str {
        match self {
            Self::About => "SELECT seq, key, value FROM about WHERE seq > ?1 ORDER BY seq",
            Self::Source => {
                "SELECT seq, id, name, role, place, identity, calibration, simulated \
                 FROM source WHERE seq > ?1 ORDER BY seq"
            }
            Self::Packet => {
                "SELECT seq, at_ns, source, link_epoch, characteristic, bytes \
                 FROM packet WHERE seq > ?1 ORDER BY seq"
            }
            Self::Event => "SELECT seq, at_ns, kind, body FROM event WHERE seq > ?1 ORDER BY seq",
            Self::File => "SELECT seq, at_ns, name, bytes FROM file WHERE seq > ?1 ORDER BY seq",
        }
    }
}

/// The prepared statements that a [`Merge`] reads from.
pub(crate) struct Statements<'db>(Vec<(Table, Statement<'db>)>);

/// Rows of several tables in one order.
pub(crate) struct Merge<'s> {
    cursors: Vec<Cursor<'s>>,
    /// The cursor whose row was handed out last; it moves on when the next row is asked for.
    current: Option<usize>,
}

struct Cursor<'s> {
    table: Table,
    rows: Rows<'s>,
    head: Option<i64>,
}

impl<'db> Statements<'db> {
    /// Prepares to read `tables`.
    pub fn prepare(db: &'db Connection, tables: &[Table]) -> rusqlite::Result<Self> {
        let prepare = |&table: &Table| Ok((table, db.prepare(table.select())?));
        Ok(Self(
            tables
                .iter()
                .map(prepare)
                .collect::<rusqlite::Result<_>>()?,
        ))
    }

    /// Starts to read behind place `after`.
    pub fn merge_after(&mut self, after: i64) -> rusqlite::Result<Merge<'_>> {
        let mut cursors = Vec::new();
        for (table, statement) in &mut self.0 {
            let mut cursor = Cursor {
                table: *table,
                rows: statement.query([after])?,
                head: None,
            };
            cursor.step()?;
            cursors.push(cursor);
        }
        Ok(Merge {
            cursors,
            current: None,
        })
    }
}

impl<'s> Merge<'s> {
    /// The place of the row that comes next.
    pub fn peek(&mut self) -> rusqlite::Result<Option<i64>> {
        self.settle()?;
        Ok(self.cursors.iter().filter_map(|cursor| cursor.head).min())
    }

    /// The next row with its table and place.
    pub fn next(&mut self) -> rusqlite::Result<Option<(Table, i64, &Row<'s>)>> {
        self.settle()?;
        let heads = self.cursors.iter().enumerate();
        let first = heads
            .filter_map(|(i, cursor)| Some((cursor.head?, i)))
            .min();
        let Some((seq, index)) = first else {
            return Ok(None);
        };
        self.current = Some(index);
        let cursor = &self.cursors[index];
        Ok(cursor.rows.get().map(|row| (cursor.table, seq, row)))
    }

    fn settle(&mut self) -> rusqlite::Result<()> {
        match self.current.take() {
            Some(index) => self.cursors[index].step(),
            None => Ok(()),
        }
    }
}

impl Cursor<'_> {
    fn step(&mut self) -> rusqlite::Result<()> {
        self.head = None;
        self.head = self.rows.next()?.map(|row| row.get(0)).transpose()?;
        Ok(())
    }
}
