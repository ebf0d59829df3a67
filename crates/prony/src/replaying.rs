//! A recorded session pushed through the bench again.
//!
//! Findings are never stored: they are what the bench says at the end of a replay. What the bench
//! concludes on the way is compared with what it concluded during the ride, so that a file and a
//! program that do not belong together are noticed.

use crate::setup;
use anyhow::{Context, Result};
use bench::{Bench, Happening, Input, Output};
use report::SessionFacts;
use session::{Archive, EntryRef};
use std::ops::ControlFlow;
use std::path::Path;
use units::Timestamp;

/// A session that was replayed to its end.
pub struct Replayed {
    /// The bench as it stood at the end.
    pub bench: Bench,
    /// What the session says about itself.
    pub about: session::About,
    /// The instruments as the file keeps them.
    pub sources: Vec<session::SourceInfo>,
    /// Whether the recording was closed properly.
    pub is_closed: bool,
    /// SHA-256 of the block that ended the recording.
    pub end_sha256: Option<String>,
    /// The last moment of the recording.
    pub end: Timestamp,
    /// What was concluded on the way, this time.
    pub concluded: Vec<(Timestamp, Happening)>,
    /// What was concluded on the way when the session was ridden.
    pub recorded: Vec<(Timestamp, Happening)>,
}

impl Replayed {
    /// What a document needs besides the findings.
    pub fn facts(&self) -> SessionFacts {
        let sealed = match self.is_closed {
            true => "closed",
            false => "recording was interrupted",
        };
        SessionFacts {
            about: self.about.clone(),
            sources: self.sources.clone(),
            sealed: Some(sealed.to_owned()),
            seal_sha256: self.end_sha256.clone(),
        }
    }
}

/// Replays a session file.
///
/// # Errors
/// If the file cannot be read, or holds no script or events that this version understands.
pub fn replay(path: &Path) -> Result<Replayed> {
    let archive = Archive::open(path)?;
    let plan = setup::from_archive(&archive)
        .with_context(|| format!("cannot replay {}", path.display()))?;
    let mut bench = Bench::new(plan);
    let mut concluded = Vec::new();
    let mut recorded = Vec::new();
    let mut end = Timestamp::ZERO;
    let mut trouble = None;
    archive.for_each_entry(|entry| {
        let (at, input) = match entry {
            EntryRef::Packet(packet) => (packet.at, Some(Input::Packet(packet.to_packet()))),
            EntryRef::Event(event) => {
                let row = match event.to_event() {
                    Ok(row) => row,
                    Err(error) => {
                        trouble = Some(error.to_string());
                        return ControlFlow::Break(());
                    }
                };
                match Happening::from_row(&row.kind, &row.body) {
                    Ok(happening) => {
                        let input = Input::from_happening(&happening);
                        if input.is_none() {
                            recorded.push((row.at, happening));
                        }
                        (row.at, input)
                    }
                    // A note added by a later version is no reason not to read the ride.
                    Err(_) => (row.at, None),
                }
            }
        };
        end = end.max(at);
        if let Some(input) = input {
            bench.handle(at, input);
            drain(&mut bench, &mut concluded);
        }
        ControlFlow::Continue(())
    })?;
    if let Some(words) = trouble {
        anyhow::bail!(
            "{}: an event cannot be read: {words}; run `prony verify` on it",
            path.display()
        );
    }
    bench.handle(end, Input::Tick);
    drain(&mut bench, &mut concluded);
    Ok(Replayed {
        bench,
        about: archive.about()?,
        sources: archive.sources()?,
        is_closed: archive.is_closed()?,
        end_sha256: archive.end_sha256()?,
        end,
        concluded,
        recorded,
    })
}

fn drain(bench: &mut Bench, concluded: &mut Vec<(Timestamp, Happening)>) {
    while let Some(output) = bench.poll_output() {
        if let Output::Event { at, happening } = output {
            concluded.push((at, happening));
        }
    }
}
