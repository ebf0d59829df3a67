//! The rows of a session as callers see them, and how they are read from the tables.

use crate::error::{Error, Result};
use rusqlite::Row;
use serde::{Deserialize, Serialize};
use std::path::Path;
use units::{Characteristic, Packet, SourceId, Timestamp};

/// An instrument of the session.
#[derive(Clone, Debug, PartialEq)]
pub struct SourceInfo {
    /// How packets refer to it.
    pub id: SourceId,
    /// What it is called on screen and in the report.
    pub name: String,
    /// What it is for in this session, in the words of the caller.
    pub role: String,
    /// Where it measures: pedals, crank, hub, …
    pub place: String,
    /// What it says about itself.
    pub identity: Identity,
    /// Its calibration record; `Null` if there is none.
    pub calibration: serde_json::Value,
    /// Whether no real instrument stands behind it.
    pub simulated: bool,
}

/// What an instrument says about itself (device information service), as far as it does.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Identity {
    /// Manufacturer name.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub maker: Option<String>,
    /// Model number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub model: Option<String>,
    /// Serial number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub serial: Option<String>,
    /// Firmware revision.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub firmware: Option<String>,
    /// Hardware revision.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hardware: Option<String>,
    /// Software revision.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub software: Option<String>,
}

/// Something that happened: a step, a write and its reply, a link change, a gap, a mark, a flag.
#[derive(Clone, Debug, PartialEq)]
pub struct EventRow {
    /// When, on the session's one clock.
    pub at: Timestamp,
    /// What sort of event, in the words of the caller.
    pub kind: String,
    /// The rest of it.
    pub body: serde_json::Value,
}

/// A packet still lying in the file's page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PacketRef<'a> {
    /// Place in the session's one order.
    pub seq: i64,
    /// When the value was received.
    pub at: Timestamp,
    /// The instrument it came from.
    pub source: SourceId,
    /// How many links to this instrument there had been.
    pub epoch: u32,
    /// The characteristic whose value this is.
    pub characteristic: Characteristic,
    /// The value, uninterpreted.
    pub bytes: &'a [u8],
}

/// An event still lying in the file's page; its body is not parsed yet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EventRef<'a> {
    /// Place in the session's one order.
    pub seq: i64,
    /// When it happened.
    pub at: Timestamp,
    /// What sort of event.
    pub kind: &'a str,
    /// The rest of it, as JSON text.
    pub body: &'a str,
}

/// A packet or an event, in the order they were recorded.
#[derive(Clone, Debug, PartialEq)]
pub enum Entry {
    /// A value from an instrument.
    Packet(Packet),
    /// Something that happened.
    Event(EventRow),
}

/// A packet or an event still lying in the file's page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EntryRef<'a> {
    /// A value from an instrument.
    Packet(PacketRef<'a>),
    /// Something that happened.
    Event(EventRef<'a>),
}

impl PacketRef<'_> {
    /// A packet of its own.
    pub fn to_packet(&self) -> Packet {
        Packet {
            at: self.at,
            source: self.source,
            epoch: self.epoch,
            characteristic: self.characteristic,
            bytes: self.bytes.to_vec(),
        }
    }
}

impl EventRef<'_> {
    /// An event of its own, with its body parsed.
    ///
    /// # Errors
    /// If the body is not JSON.
    pub fn to_event(&self) -> serde_json::Result<EventRow> {
        Ok(EventRow {
            at: self.at,
            kind: self.kind.to_owned(),
            body: serde_json::from_str(self.body)?,
        })
    }
}

/// Reads a row of `packet`, all columns in the order of the table.
pub(crate) fn packet<'r>(path: &Path, row: &'r Row<'_>) -> Result<PacketRef<'r>> {
    let seq = integer(path, row, "packet", 0)?;
    let narrow = |column: usize, what: &str| Error::Damaged {
        path: path.to_owned(),
        place: format!("packet {seq}, column {}", column + 1),
        found: format!("not {what}"),
    };
    let source = integer(path, row, "packet", 2)?;
    let epoch = integer(path, row, "packet", 3)?;
    let characteristic = text(path, row, "packet", 4)?;
    let bytes = row.get_ref(5).ok().and_then(|value| value.as_blob().ok());
    Ok(PacketRef {
        seq,
        at: Timestamp::from_nanos(integer(path, row, "packet", 1)?),
        source: SourceId(
            source
                .try_into()
                .map_err(|_| narrow(2, "a source number"))?,
        ),
        epoch: epoch
            .try_into()
            .map_err(|_| narrow(3, "a number of links"))?,
        characteristic: u16::from_str_radix(characteristic, 16)
            .map(Characteristic)
            .map_err(|_| narrow(4, "an assigned number"))?,
        bytes: bytes.ok_or_else(|| narrow(5, "bytes"))?,
    })
}

/// Reads a row of `event`, all columns in the order of the table.
pub(crate) fn event<'r>(path: &Path, row: &'r Row<'_>) -> Result<EventRef<'r>> {
    Ok(EventRef {
        seq: integer(path, row, "event", 0)?,
        at: Timestamp::from_nanos(integer(path, row, "event", 1)?),
        kind: text(path, row, "event", 2)?,
        body: text(path, row, "event", 3)?,
    })
}

/// Reads a row of `source`, all columns in the order of the table.
pub(crate) fn source(path: &Path, row: &Row<'_>) -> Result<SourceInfo> {
    let id = integer(path, row, "source", 1)?;
    let bad = |what: String| Error::Damaged {
        path: path.to_owned(),
        place: format!("source {id}"),
        found: what,
    };
    let json = |column| text(path, row, "source", column);
    Ok(SourceInfo {
        id: SourceId(
            id.try_into()
                .map_err(|_| bad("its id is not a source number".into()))?,
        ),
        name: text(path, row, "source", 2)?.to_owned(),
        role: text(path, row, "source", 3)?.to_owned(),
        place: text(path, row, "source", 4)?.to_owned(),
        identity: serde_json::from_str(json(5)?)
            .map_err(|e| bad(format!("its identity does not read: {e}")))?,
        calibration: serde_json::from_str(json(6)?)
            .map_err(|e| bad(format!("its calibration does not read: {e}")))?,
        simulated: integer(path, row, "source", 7)? != 0,
    })
}

pub(crate) fn integer(path: &Path, row: &Row<'_>, table: &str, column: usize) -> Result<i64> {
    let value = row
        .get_ref(column)
        .ok()
        .and_then(|value| value.as_i64().ok());
    value.ok_or_else(|| odd(path, row, table, column, "not an integer"))
}

pub(crate) fn text<'r>(
    path: &Path,
    row: &'r Row<'_>,
    table: &str,
    column: usize,
) -> Result<&'r str> {
    let value = row
        .get_ref(column)
        .ok()
        .and_then(|value| value.as_str().ok());
    value.ok_or_else(|| odd(path, row, table, column, "not text"))
}

fn odd(path: &Path, row: &Row<'_>, table: &str, column: usize, found: &str) -> Error {
    let seq = row.get_ref(0).ok().and_then(|value| value.as_i64().ok());
    let row = seq.map_or_else(|| "without number".to_owned(), |seq| seq.to_string());
    Error::Damaged {
        path: path.to_owned(),
        place: format!("{table} {row}, column {}", column + 1),
        found: found.to_owned(),
    }
}
