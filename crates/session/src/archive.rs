//! Reads one session and never writes to it.

use crate::about::About;
use crate::chain::Seal;
use crate::error::{At, Error, Result};
use crate::row::{self, Entry, EntryRef, EventRow, PacketRef, SourceInfo};
use crate::scan::{Statements, Table};
use crate::schema;
use rusqlite::{Connection, OptionalExtension, params};
use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use units::{Packet, Span, Timestamp};

const READING: &str = "read";

/// A session opened for reading. It may still be recorded meanwhile: each call sees what was
/// committed when it began. Nothing is verified here beyond what reading needs.
#[derive(Debug)]
pub struct Archive {
    path: PathBuf,
    db: Connection,
    format: i64,
}

/// A file kept in the session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileInfo {
    /// Its name.
    pub name: String,
    /// When it was added.
    pub at: Timestamp,
    /// Its length in bytes.
    pub length_bytes: i64,
}

impl Archive {
    /// Opens a session of this or any earlier format version.
    ///
    /// # Errors
    /// [`Error::Missing`], [`Error::NotASession`], [`Error::NewerFormat`], [`Error::Damaged`] if
    /// its tables are not those of its format, [`Error::Interrupted`] if it cannot be read before
    /// it is recovered, [`Error::Sqlite`] if the system does not allow it.
    pub fn open(path: &Path) -> Result<Self> {
        let (db, format) = schema::open_read_only(path)?;
        let difference = schema::difference(&db).at(path, READING)?;
        if let Some(table) = difference.tables.first() {
            return Err(Error::Damaged {
                path: path.to_owned(),
                place: table.clone(),
                found: format!("it is not that of format version {format}"),
            });
        }
        Ok(Self {
            path: path.to_owned(),
            db,
            format,
        })
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The format version of the file.
    pub fn format_version(&self) -> i64 {
        self.format
    }

    /// What the session says about itself.
    ///
    /// # Errors
    /// [`Error::Damaged`] if a row is missing or does not read.
    pub fn about(&self) -> Result<About> {
        let mut rows = BTreeMap::new();
        self.each(Table::About, |row| {
            let key = row::text(&self.path, row, "about", 1)?.to_owned();
            rows.insert(key, row::text(&self.path, row, "about", 2)?.to_owned());
            Ok(())
        })?;
        About::from_rows(rows).map_err(|(key, found)| Error::Damaged {
            path: self.path.clone(),
            place: format!("about {key:?}"),
            found,
        })
    }

    /// The instruments, in the order they were added.
    ///
    /// # Errors
    /// [`Error::Damaged`] if a row does not read.
    pub fn sources(&self) -> Result<Vec<SourceInfo>> {
        let mut sources = Vec::new();
        self.each(Table::Source, |row| {
            sources.push(row::source(&self.path, row)?);
            Ok(())
        })?;
        Ok(sources)
    }

    /// How many packets there are.
    ///
    /// # Errors
    /// [`Error::Damaged`] if the table does not read.
    pub fn packet_count(&self) -> Result<i64> {
        self.db
            .query_row("SELECT count(*) FROM packet", [], |row| row.get(0))
            .at(&self.path, READING)
    }

    /// Earliest and latest time of any packet or event; `None` if there is neither.
    ///
    /// # Errors
    /// [`Error::Damaged`] if the tables do not read.
    pub fn time_range(&self) -> Result<Option<(Timestamp, Timestamp)>> {
        // The seals know it for what they cover; only the rest is looked through.
        let sql = "WITH tail(at_ns) AS (
                       SELECT at_ns FROM packet
                       WHERE seq > (SELECT ifnull(max(last_seq), 0) FROM seal)
                       UNION ALL SELECT at_ns FROM event
                       WHERE seq > (SELECT ifnull(max(last_seq), 0) FROM seal)
                       UNION ALL SELECT from_ns FROM seal UNION ALL SELECT to_ns FROM seal)
                   SELECT min(at_ns), max(at_ns) FROM tail";
        let moment = |nanos: Option<i64>| nanos.map(Timestamp::from_nanos);
        let (from, to) = self
            .db
            .query_row(sql, [], |row| {
                Ok((moment(row.get(0)?), moment(row.get(1)?)))
            })
            .at(&self.path, READING)?;
        Ok(from.zip(to))
    }

    /// From the earliest to the latest packet or event.
    ///
    /// # Errors
    /// As [`Archive::time_range`].
    pub fn duration(&self) -> Result<Span> {
        Ok(self
            .time_range()?
            .map_or(Span::ZERO, |(from, to)| to - from))
    }

    /// Whether the recording was closed: by itself, or by recovery. Cheap, because no digest is
    /// computed; whether the content is still what was sealed, only [`crate::verify`] says.
    ///
    /// # Errors
    /// [`Error::Damaged`] if the table does not read.
    pub fn is_closed(&self) -> Result<bool> {
        Ok(Seal::last(&self.db)
            .at(&self.path, READING)?
            .is_some_and(|seal| seal.is_closing()))
    }

    /// The recorded SHA-256 of the last block, which the session is known by.
    ///
    /// # Errors
    /// [`Error::Damaged`] if the table does not read.
    pub fn head_sha256(&self) -> Result<Option<String>> {
        Ok(Seal::last(&self.db)
            .at(&self.path, READING)?
            .map(|seal| seal.sha256))
    }

    /// The recorded SHA-256 of the block that ended the recording, by itself or by recovery; `None`
    /// while it goes on. Notes that were added later have blocks of their own and do not change it.
    ///
    /// # Errors
    /// [`Error::Damaged`] if the table does not read.
    pub fn end_sha256(&self) -> Result<Option<String>> {
        Ok(Seal::end(&self.db)
            .at(&self.path, READING)?
            .map(|seal| seal.sha256))
    }

    /// The recorded SHA-256 of the first block. It never changes, and no two sessions have one in
    /// common: it covers the session's identifier and all that was fixed before the first sample.
    ///
    /// # Errors
    /// [`Error::Damaged`] if the table does not read.
    pub fn opening_sha256(&self) -> Result<Option<String>> {
        Ok(Seal::first(&self.db)
            .at(&self.path, READING)?
            .map(|seal| seal.sha256))
    }

    /// Hands every packet to `take`, in recorded order, without copying any.
    ///
    /// # Errors
    /// [`Error::Damaged`] at the first packet that does not read; those before it were handed out.
    pub fn for_each_packet(&self, mut take: impl FnMut(PacketRef<'_>)) -> Result<()> {
        self.each(Table::Packet, |row| {
            take(row::packet(&self.path, row)?);
            Ok(())
        })
    }

    /// Hands every packet and event to `take`, in recorded order, until it breaks.
    ///
    /// # Errors
    /// [`Error::Damaged`] at the first row that does not read; those before it were handed out.
    pub fn for_each_entry(
        &self,
        mut take: impl FnMut(EntryRef<'_>) -> ControlFlow<()>,
    ) -> Result<()> {
        let path = &self.path;
        let mut statements =
            Statements::prepare(&self.db, &[Table::Packet, Table::Event]).at(path, READING)?;
        let mut rows = statements.merge_after(0).at(path, READING)?;
        while let Some((table, _, row)) = rows.next().at(path, READING)? {
            let entry = match table {
                Table::Packet => EntryRef::Packet(row::packet(path, row)?),
                _ => EntryRef::Event(row::event(path, row)?),
            };
            if take(entry).is_break() {
                break;
            }
        }
        Ok(())
    }

    /// All packets, in recorded order.
    ///
    /// # Errors
    /// [`Error::Damaged`] if one does not read; use [`Archive::for_each_packet`] for the others.
    pub fn packets(&self) -> Result<Vec<Packet>> {
        let mut packets = Vec::new();
        self.for_each_packet(|packet| packets.push(packet.to_packet()))?;
        Ok(packets)
    }

    /// All events, in recorded order.
    ///
    /// # Errors
    /// [`Error::Damaged`] if one does not read.
    pub fn events(&self) -> Result<Vec<EventRow>> {
        let mut events = Vec::new();
        self.each(Table::Event, |row| {
            events.push(self.parse(&row::event(&self.path, row)?)?);
            Ok(())
        })?;
        Ok(events)
    }

    /// The events of the given kinds, in recorded order.
    ///
    /// # Errors
    /// [`Error::Damaged`] if one does not read.
    pub fn events_of(&self, kinds: &[&str]) -> Result<Vec<EventRow>> {
        // Columns in the order of the table, as everywhere; other bodies are never parsed.
        let sql = format!(
            "SELECT seq, at_ns, kind, body FROM event WHERE kind IN ({}) ORDER BY seq",
            vec!["?"; kinds.len()].join(", ")
        );
        let mut statement = self.db.prepare_cached(&sql).at(&self.path, READING)?;
        let mut rows = statement
            .query(rusqlite::params_from_iter(kinds))
            .at(&self.path, READING)?;
        let mut events = Vec::new();
        while let Some(row) = rows.next().at(&self.path, READING)? {
            events.push(self.parse(&row::event(&self.path, row)?)?);
        }
        Ok(events)
    }

    /// All packets and events, in recorded order.
    ///
    /// # Errors
    /// [`Error::Damaged`] if one does not read.
    pub fn entries(&self) -> Result<Vec<Entry>> {
        let mut entries = Vec::new();
        let mut failure = None;
        self.for_each_entry(|entry| {
            match entry {
                EntryRef::Packet(packet) => entries.push(Entry::Packet(packet.to_packet())),
                EntryRef::Event(event) => match self.parse(&event) {
                    Ok(event) => entries.push(Entry::Event(event)),
                    Err(error) => {
                        failure = Some(error);
                        return ControlFlow::Break(());
                    }
                },
            }
            ControlFlow::Continue(())
        })?;
        failure.map_or(Ok(entries), Err)
    }

    /// The files kept in the session, in the order they were added.
    ///
    /// # Errors
    /// [`Error::Damaged`] if the table does not read.
    pub fn files(&self) -> Result<Vec<FileInfo>> {
        let sql = "SELECT name, at_ns, length(bytes) FROM file ORDER BY seq";
        let read = || {
            let mut statement = self.db.prepare(sql)?;
            let rows = statement.query_map([], |row| {
                Ok(FileInfo {
                    name: row.get(0)?,
                    at: Timestamp::from_nanos(row.get(1)?),
                    length_bytes: row.get(2)?,
                })
            })?;
            rows.collect::<rusqlite::Result<_>>()
        };
        read().at(&self.path, READING)
    }

    /// A file kept in the session, whole; `None` if there is none of that name.
    ///
    /// # Errors
    /// [`Error::Damaged`] if the row does not read.
    pub fn file(&self, name: &str) -> Result<Option<Vec<u8>>> {
        self.db
            .query_row(
                "SELECT bytes FROM file WHERE name = ?1",
                params![name],
                |row| row.get(0),
            )
            .optional()
            .at(&self.path, READING)
    }

    fn parse(&self, event: &row::EventRef<'_>) -> Result<EventRow> {
        event.to_event().map_err(|error| Error::Damaged {
            path: self.path.clone(),
            place: format!("event {}", event.seq),
            found: format!("its body is not JSON: {error}"),
        })
    }

    fn each(
        &self,
        table: Table,
        mut take: impl FnMut(&rusqlite::Row<'_>) -> Result<()>,
    ) -> Result<()> {
        let mut statement = self
            .db
            .prepare_cached(table.select())
            .at(&self.path, READING)?;
        let mut rows = statement.query([0]).at(&self.path, READING)?;
        while let Some(row) = rows.next().at(&self.path, READING)? {
            take(row)?;
        }
        Ok(())
    }
}
