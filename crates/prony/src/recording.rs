//! The thread that writes the session file.
//!
//! The engine must never wait for a disk while a rider is loaded, so rows travel through a bounded
//! channel to a thread of their own. It commits every 150 ms or so; what was received
//! earlier than that is on the disk even if the program is killed. When the disk fails, the engine
//! is told, and the bench releases the brake: the record is the product.

use crate::clock::instant_now;
use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, bounded};
use session::{About, EventRow, Recorder, SourceInfo};
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};
use std::thread::JoinHandle;
use std::time::Duration;
use units::Packet;

/// Longest time between a row's arrival in the channel and its commit, less one fsync.
const COMMIT_EVERY: Duration = Duration::from_millis(150);

/// Rows that may wait. At the rate of five instruments this is minutes of a stalled disk; in a
/// rehearsal on the virtual clock it is the brake that keeps the simulation from running away.
const WAITING_ROWS: usize = 65_536;

enum Row {
    Packet(Packet),
    Event(EventRow),
}

/// A running recording.
pub struct Recording {
    rows: Option<Sender<Row>>,
    watch: Watch,
    thread: Option<JoinHandle<Result<(), session::Error>>>,
}

/// How a recording is doing.
#[derive(Clone, Debug, Default)]
pub struct Watch {
    failed: Arc<OnceLock<String>>,
    waiting: Arc<AtomicUsize>,
}

impl Watch {
    /// Why the recording failed, if it did.
    pub fn failure(&self) -> Option<&str> {
        self.failed.get().map(String::as_str)
    }

    /// Rows that waited for the disk when the last one was handed over.
    pub fn waiting(&self) -> usize {
        self.waiting.load(Ordering::Relaxed)
    }
}

impl Recording {
    /// Creates the file and starts the thread.
    ///
    /// # Errors
    /// If the file cannot be created or the thread cannot be started.
    pub fn start(path: &Path, about: &About, sources: &[SourceInfo]) -> anyhow::Result<Self> {
        let recorder = Recorder::create(path, about, sources)?;
        let (rows, inbox) = bounded(WAITING_ROWS);
        let failed = Arc::new(OnceLock::new());
        let thread = std::thread::Builder::new()
            .name("recorder".to_owned())
            .spawn({
                let failed = Arc::clone(&failed);
                move || {
                    let outcome = write_rows(recorder, &inbox);
                    if let Err(error) = &outcome {
                        // The engine reads this at its next step; a second failure changes nothing.
                        let _ = failed.set(error.to_string());
                        for _ in inbox.iter() {}
                    }
                    outcome
                }
            })?;
        Ok(Self {
            rows: Some(rows),
            watch: Watch {
                failed,
                waiting: Arc::default(),
            },
            thread: Some(thread),
        })
    }

    /// Hands over a packet. Blocks only if the disk is minutes behind.
    pub fn packet(&self, packet: Packet) {
        self.send(Row::Packet(packet));
    }

    /// Hands over an event.
    pub fn event(&self, event: EventRow) {
        self.send(Row::Event(event));
    }

    fn send(&self, row: Row) {
        if let Some(rows) = &self.rows {
            // A closed channel means the thread has ended, and `failure` says why.
            let _ = rows.send(row);
            self.watch.waiting.store(rows.len(), Ordering::Relaxed);
        }
    }

    /// How the recording is doing, for whoever looks from another thread.
    pub fn watch(&self) -> Watch {
        self.watch.clone()
    }

    /// Why the recording failed, if it did.
    pub fn failure(&self) -> Option<&str> {
        self.watch.failure()
    }

    /// Writes everything that waits, seals the file and closes it.
    ///
    /// # Errors
    /// If writing failed, now or earlier.
    pub fn finish(mut self) -> anyhow::Result<()> {
        self.join()
    }

    fn join(&mut self) -> anyhow::Result<()> {
        self.rows = None;
        match self.thread.take().map(JoinHandle::join) {
            None => Ok(()),
            Some(Ok(outcome)) => outcome.map_err(Into::into),
            Some(Err(_)) => {
                anyhow::bail!("the recorder thread panicked; reopen the file to recover it")
            }
        }
    }
}

impl Drop for Recording {
    fn drop(&mut self) {
        // On an early way out the file is still completed; `finish` is the way that reports.
        let _ = self.join();
    }
}

fn write_rows(mut recorder: Recorder, inbox: &Receiver<Row>) -> Result<(), session::Error> {
    let mut oldest_uncommitted = None;
    loop {
        match inbox.recv_timeout(COMMIT_EVERY / 4) {
            Ok(row) => {
                oldest_uncommitted.get_or_insert_with(instant_now);
                match row {
                    Row::Packet(packet) => recorder.append_packet(&packet)?,
                    Row::Event(event) => recorder.append_event(&event)?,
                }
            }
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return recorder.close().map(|_| ()),
        }
        if oldest_uncommitted
            .is_some_and(|since: std::time::Instant| since.elapsed() >= COMMIT_EVERY)
        {
            recorder.commit()?;
            oldest_uncommitted = None;
        }
    }
}
