//! Writes one session, from its first row to its end seal.

use crate::about::About;
use crate::chain::{Chain, NewRow, SealKind};
use crate::error::{At, Error, Result};
use crate::row::{EventRow, SourceInfo};
use crate::schema;
use rusqlite::{Connection, OpenFlags, TransactionBehavior};
use std::collections::BTreeSet;
use std::fs::OpenOptions;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use units::{Packet, SourceId, Timestamp};

/// Writes one session.
///
/// Rows wait in memory until [`Recorder::commit`]; what is committed survives the end of the
/// program and of the power supply. A commit that fails changes nothing and loses nothing: the
/// rows still wait, so it can be tried again. Dropping a recorder without [`Recorder::close`]
/// leaves an interrupted recording: complete up to the last commit, open to [`crate::recover`].
#[derive(Debug)]
pub struct Recorder {
    path: PathBuf,
    db: Connection,
    chain: Chain,
    waiting: Vec<NewRow>,
    sources: BTreeSet<SourceId>,
    files: BTreeSet<String>,
    life: Life,
}

/// What a closed session is known by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Closed {
    /// Number of blocks.
    pub blocks: i64,
    /// Number of rows in all of them.
    pub rows: i64,
    /// SHA-256 of the last block: whoever has it can tell this session from any other.
    pub head_sha256: String,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Life {
    Recording,
    /// The end seal is committed; the file may still have companions.
    Sealed,
}

impl Recorder {
    /// Creates the file and seals its opening block: what `about` says and the sources known
    /// so far are fixed from here on.
    ///
    /// # Errors
    /// [`Error::Exists`] if there is a file of that name, [`Error::Taken`] if two sources have
    /// the same id, [`Error::Io`], [`Error::DiskFull`]. No file is left behind then.
    pub fn create(path: &Path, about: &About, sources: &[SourceInfo]) -> Result<Self> {
        // Claimed first, in one step, so that no other program's file can slip in between.
        OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(path)
            .map_err(|source| {
                let path = path.to_owned();
                match source.kind() {
                    ErrorKind::AlreadyExists => Error::Exists { path },
                    _ => Error::Io {
                        path,
                        doing: "create",
                        source,
                    },
                }
            })?;
        Self::begin(path, about, sources).inspect_err(|_| {
            // The file is ours and nothing was recorded. What cannot be removed is an empty
            // file, which no session is mistaken for.
            for suffix in ["", "-wal", "-shm", "-journal"] {
                let mut name = path.as_os_str().to_owned();
                name.push(suffix);
                let _ = std::fs::remove_file(name);
            }
        })
    }

    fn begin(path: &Path, about: &About, sources: &[SourceInfo]) -> Result<Self> {
        const DOING: &str = "begin recording to";
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let db = Connection::open_with_flags(path, flags).at(path, DOING)?;
        schema::configure(&db).at(path, DOING)?;
        db.pragma_update(None, "synchronous", "FULL")
            .at(path, DOING)?;
        let mut recorder = Self {
            path: path.to_owned(),
            db,
            chain: Chain::new(),
            waiting: Vec::new(),
            sources: BTreeSet::new(),
            files: BTreeSet::new(),
            life: Life::Recording,
        };
        for (key, value) in about.to_rows() {
            recorder.waiting.push(NewRow::About { key, value });
        }
        for source in sources {
            recorder.add_source(source)?;
        }
        let tx = recorder.db.unchecked_transaction().at(path, DOING)?;
        schema::create(&tx).at(path, DOING)?;
        let mut chain = recorder.chain.clone();
        for row in &recorder.waiting {
            chain.append(&tx, row).at(path, DOING)?;
        }
        chain.seal(&tx, SealKind::Opening).at(path, DOING)?;
        tx.commit().at(path, DOING)?;
        recorder.chain = chain;
        recorder.waiting.clear();
        // Only now, so that everything above is one transaction. A file system that cannot do
        // it answers with the mode it keeps, which is as safe and only slower.
        recorder
            .db
            .pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get::<_, String>(0))
            .at(path, DOING)?;
        Ok(recorder)
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// How many rows wait for the next commit.
    pub fn waiting(&self) -> usize {
        self.waiting.len()
    }

    /// Adds an instrument that joined late.
    ///
    /// # Errors
    /// [`Error::Taken`] if the session has a source with this id, [`Error::Closed`].
    pub fn add_source(&mut self, source: &SourceInfo) -> Result<()> {
        self.must_be_recording()?;
        if !self.sources.insert(source.id) {
            let what = format!("a source {}", source.id.0);
            return Err(Error::Taken {
                path: self.path.clone(),
                what,
            });
        }
        self.waiting.push(NewRow::source(source));
        Ok(())
    }

    /// Adds a packet.
    ///
    /// # Errors
    /// [`Error::UnknownSource`] if the session has no such source, [`Error::Closed`].
    pub fn append_packet(&mut self, packet: &Packet) -> Result<()> {
        self.must_be_recording()?;
        if !self.sources.contains(&packet.source) {
            return Err(Error::UnknownSource {
                path: self.path.clone(),
                source_id: packet.source,
            });
        }
        self.waiting.push(NewRow::Packet(packet.clone()));
        Ok(())
    }

    /// Adds an event.
    ///
    /// # Errors
    /// [`Error::Closed`].
    pub fn append_event(&mut self, event: &EventRow) -> Result<()> {
        self.must_be_recording()?;
        self.waiting.push(NewRow::event(event));
        Ok(())
    }

    /// Adds a file, whole.
    ///
    /// # Errors
    /// [`Error::Taken`] if the session has a file of that name, [`Error::Closed`].
    pub fn append_file(&mut self, at: Timestamp, name: &str, bytes: Vec<u8>) -> Result<()> {
        self.must_be_recording()?;
        if !self.files.insert(name.to_owned()) {
            let what = format!("a file {name:?}");
            return Err(Error::Taken {
                path: self.path.clone(),
                what,
            });
        }
        self.waiting.push(NewRow::File {
            at_ns: at.as_nanos(),
            name: name.to_owned(),
            bytes,
        });
        Ok(())
    }

    /// Makes everything so far durable.
    ///
    /// # Errors
    /// [`Error::DiskFull`], [`Error::InUse`] or [`Error::Sqlite`]; the rows then still wait.
    pub fn commit(&mut self) -> Result<()> {
        if self.waiting.is_empty() {
            return Ok(());
        }
        self.write(None)
    }

    /// Commits, seals the rest as the end of the recording, and leaves a single file.
    ///
    /// # Errors
    /// As [`Recorder::commit`]. Also [`Error::InUse`] if another program has the file open: the
    /// recording is then complete and sealed, but keeps its companion files. In both cases it
    /// can be tried again.
    pub fn close(&mut self) -> Result<Closed> {
        if self.life == Life::Recording {
            self.write(Some(SealKind::End))?;
            self.life = Life::Sealed;
        }
        schema::leave_single_file(&self.db, &self.path)?;
        Ok(Closed {
            blocks: self.chain.sealed_blocks(),
            rows: self.chain.rows(),
            head_sha256: self.chain.head_sha256().to_owned(),
        })
    }

    /// Writes what waits and the seal asked for, or nothing at all.
    fn write(&mut self, seal: Option<SealKind>) -> Result<()> {
        const DOING: &str = "record to";
        let path = &self.path;
        let tx = self
            .db
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .at(path, DOING)?;
        let mut chain = self.chain.clone();
        for row in &self.waiting {
            chain.append(&tx, row).at(path, DOING)?;
        }
        match seal {
            Some(kind) => chain.seal(&tx, kind).at(path, DOING)?,
            None => chain.count_commit(&tx).at(path, DOING)?,
        }
        tx.commit().at(path, DOING)?;
        self.chain = chain;
        self.waiting.clear();
        Ok(())
    }

    fn must_be_recording(&self) -> Result<()> {
        match self.life {
            Life::Recording => Ok(()),
            Life::Sealed => Err(Error::Closed {
                path: self.path.clone(),
            }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Archive, Entry, SealState, verify};
    use units::Characteristic;

    fn packet(n: i64) -> Packet {
        Packet {
            at: Timestamp::from_millis(n),
            source: SourceId(1),
            epoch: 1,
            characteristic: Characteristic(0x2A63),
            bytes: vec![n as u8; 400],
        }
    }

    fn source() -> SourceInfo {
        SourceInfo {
            id: SourceId(1),
            name: String::new(),
            role: String::new(),
            place: String::new(),
            identity: Default::default(),
            calibration: serde_json::Value::Null,
            simulated: true,
        }
    }

    /// A disk that fills up in the middle of a recording, by SQLite's own limit on the size of
    /// the file (which gives the very error that a full disk gives).
    #[test]
    fn a_full_disk_loses_nothing_and_recording_goes_on_when_there_is_space() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("full.prony");
        let mut recorder = Recorder::create(&path, &About::default(), &[source()]).unwrap();
        recorder.append_packet(&packet(0)).unwrap();
        recorder.commit().unwrap();
        let pages: i64 = recorder
            .db
            .pragma_query_value(None, "page_count", |row| row.get(0))
            .unwrap();
        let limit = |recorder: &Recorder, pages: i64| {
            recorder
                .db
                .pragma_update_and_check(None, "max_page_count", pages, |_| Ok(()))
                .unwrap();
        };
        limit(&recorder, pages + 2);
        let mut n = 0;
        let error = loop {
            n += 1;
            recorder.append_packet(&packet(n)).unwrap();
            if let Err(error) = recorder.commit() {
                break error;
            }
            assert!(n < 1000, "the limit was never reached");
        };
        assert!(matches!(error, Error::DiskFull { .. }), "{error}");
        assert!(error.to_string().contains("full.prony"), "{error}");
        assert_eq!(recorder.waiting(), 1);
        // What was committed is there, while the disk is still full.
        assert_eq!(Archive::open(&path).unwrap().packet_count().unwrap(), n);
        assert!(matches!(
            verify(&path).unwrap().state,
            SealState::UnsealedTail { .. }
        ));
        assert!(matches!(recorder.commit(), Err(Error::DiskFull { .. })));
        limit(&recorder, 1_000_000);
        recorder.append_packet(&packet(n + 1)).unwrap();
        recorder.close().unwrap();
        let archive = Archive::open(&path).unwrap();
        let expected: Vec<_> = (0..=n + 1).map(|n| Entry::Packet(packet(n))).collect();
        assert_eq!(archive.entries().unwrap(), expected);
        assert_eq!(verify(&path).unwrap().state, SealState::Sealed);
    }

    #[test]
    fn a_session_that_cannot_begin_leaves_no_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("twice.prony");
        let error = Recorder::create(&path, &About::default(), &[source(), source()]);
        assert!(matches!(error, Err(Error::Taken { .. })));
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
        let error = Recorder::create(&path.join("below"), &About::default(), &[]);
        assert!(matches!(error, Err(Error::Io { .. })));
    }
}
