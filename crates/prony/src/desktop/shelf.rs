//! The saved sessions as rows, and what can be done with them. Never on the window's thread.

use super::jobs::Reins;
use crate::shelving::{self, Shelf};
use anyhow::{Context, Result};
use crossbeam_channel::{Receiver, Sender, TryRecvError, bounded};
use desk::{By, Interrupted, Order, ShelfRow};
use session::shelf::{Direction, Query, Remark, ShelfItem, SortBy, Thumbnail};
use std::path::Path;
use std::sync::Arc;
use units::Span;

/// Looks and questions that may wait; the newest is what counts.
const WAITING: usize = 16;

/// What a look at the shelf found.
#[derive(Clone, Default)]
pub struct Look {
    /// The sessions.
    pub rows: Vec<ShelfRow>,
    /// What is known of each of them.
    pub items: Vec<ShelfItem>,
    /// Those that were not closed and are not to be left as they are.
    pub interrupted: Vec<Interrupted>,
}

/// A thread that keeps looking: the list is there at once, verdicts and thumbnails follow one by
/// one while nobody waits for them.
pub struct Looking {
    again: Option<Sender<Vec<String>>>,
    looks: Receiver<Result<Look>>,
}

impl Looking {
    /// Starts to look. Interrupted sessions whose keys are in `left` are not offered.
    ///
    /// # Errors
    /// If no thread can be started.
    pub fn start(left: Vec<String>, screen: egui::Context) -> Result<Self> {
        let (again, asked) = bounded(WAITING);
        let (tell, looks) = bounded(WAITING);
        // A new channel takes its first entry.
        let _ = again.try_send(left);
        std::thread::Builder::new()
            .name("shelf".to_owned())
            .spawn(move || {
                let say = |look| {
                    let heard = tell.send(look).is_ok();
                    screen.request_repaint();
                    heard
                };
                if let Err(error) = look(&asked, &say) {
                    say(Err(error));
                }
            })?;
        Ok(Self {
            again: Some(again),
            looks,
        })
    }

    /// Looks again.
    pub fn again(&self, left: Vec<String>) {
        if let Some(again) = &self.again {
            // Where so many questions wait, the next look answers this one as well.
            let _ = again.try_send(left);
        }
    }

    /// The newest look since the last call.
    pub fn newest(&self) -> Option<Result<Look>> {
        self.looks.try_iter().last()
    }
}

fn look(asked: &Receiver<Vec<String>>, say: &dyn Fn(Result<Look>) -> bool) -> Result<()> {
    let Ok(mut left) = asked.recv() else {
        return Ok(());
    };
    let mut shelf = Shelf::open(None)?;
    let mut rows = Rows::default();
    loop {
        if !say(Ok(rows.look(&shelf, &left))) {
            return Ok(());
        }
        // Judging goes on until somebody asks to look again.
        loop {
            match asked.try_recv() {
                Ok(newest) => {
                    left = asked.try_iter().last().unwrap_or(newest);
                    // Another folder may have been chosen meanwhile.
                    shelf = Shelf::open(None)?;
                    break;
                }
                Err(TryRecvError::Disconnected) => return Ok(()),
                Err(TryRecvError::Empty) => {}
            }
            match shelf.judge_next()?.cloned() {
                Some(judged) => {
                    rows.forget(&judged);
                    if !say(Ok(rows.look(&shelf, &left))) {
                        return Ok(());
                    }
                }
                None => {
                    let Ok(newest) = asked.recv() else {
                        return Ok(());
                    };
                    left = newest;
                    shelf = Shelf::open(None)?;
                    break;
                }
            }
        }
    }
}

/// Rows that were made, so that a thousand of them are not made anew for one that changed.
#[derive(Default)]
struct Rows(std::collections::HashMap<(String, i64), ShelfRow>);

impl Rows {
    fn look(&mut self, shelf: &Shelf, left: &[String]) -> Look {
        let now_ns = shelving::now_ns();
        let rows = shelf.items().iter().map(|item| self.row(item, now_ns));
        let rows = rows.collect();
        let interrupted = shelf
            .interrupted()
            .into_iter()
            .map(|item| self.row(item, now_ns))
            .filter(|row| !left.contains(&row.key))
            .map(|row| Interrupted {
                title: format!("{}, {}", row.title, row.started),
                key: row.key,
            })
            .collect();
        Look {
            rows,
            items: shelf.items().to_vec(),
            interrupted,
        }
    }

    fn row(&mut self, item: &ShelfItem, now_ns: i64) -> ShelfRow {
        let key = (item.path.display().to_string(), item.written_ns);
        if !item.is_interrupted(now_ns)
            && let Some(row) = self.0.get(&key)
        {
            return row.clone();
        }
        let row = row(item, now_ns);
        self.0.insert(key, row.clone());
        row
    }

    fn forget(&mut self, item: &ShelfItem) {
        self.0
            .remove(&(item.path.display().to_string(), item.written_ns));
    }
}

fn row(item: &ShelfItem, now_ns: i64) -> ShelfRow {
    let script = item.script.as_deref().unwrap_or(if item.imported {
        "imported"
    } else {
        "no script"
    });
    let title = match &item.device {
        Some(device) => format!("{device} · {script}"),
        None => item.name.clone(),
    };
    let firmware = item
        .firmware
        .as_ref()
        .map(|firmware| format!("firmware {firmware}"));
    let references = match item.references.as_slice() {
        [] => None,
        names => Some(format!("against {}", names.join(", "))),
    };
    let details = [firmware, item.serial.clone(), references];
    ShelfRow {
        details: details
            .into_iter()
            .flatten()
            .collect::<Vec<_>>()
            .join(" · "),
        key: item.path.display().to_string(),
        title,
        started: item
            .started
            .map(|started| started.format("%Y-%m-%d %H:%M").to_string())
            .unwrap_or_default(),
        started_s: item.started.map_or(0, |started| started.timestamp()),
        length: Span::from_secs_f64(item.length_s.round())
            .to_string()
            .trim_end_matches(".0")
            .to_owned(),
        length_s: item.length_s,
        verdict: item.verdict().map(str::to_owned),
        state: item.state_words(now_ns).to_owned(),
        tags: item.tags.clone(),
        note: item
            .notes
            .iter()
            .map(|note| note.words.as_str())
            .collect::<Vec<_>>()
            .join(" · "),
        thumbnail: item
            .judgement
            .as_ref()
            .map(|judged| points(&judged.thumbnail))
            .unwrap_or_default(),
    }
}

/// The places of the sessions that fit words, in an order.
pub fn found(items: &[ShelfItem], words: &str, order: Order) -> Vec<usize> {
    let by = match order.by {
        By::Ridden => SortBy::Date,
        By::Device => SortBy::Device,
        By::Firmware => SortBy::Firmware,
        By::Script => SortBy::Script,
        By::Length => SortBy::Length,
        By::Verdict => SortBy::Verdict,
    };
    let direction = match order.falling {
        true => Direction::Falling,
        false => Direction::Rising,
    };
    let query = Query::parse(words);
    session::shelf::found(items, &query, by, direction, shelving::now_ns())
}

/// Power of the reference, 0 to 1 of its largest; what is missing is drawn as nothing.
fn points(thumbnail: &Thumbnail) -> Arc<[f32]> {
    let most = thumbnail
        .reference_w
        .iter()
        .flatten()
        .copied()
        .max()
        .unwrap_or(0);
    if most <= 0 {
        return Arc::default();
    }
    thumbnail
        .reference_w
        .iter()
        .map(|watts| watts.unwrap_or(0).max(0) as f32 / most as f32)
        .collect()
}

/// Closes interrupted sessions and says in a sentence what came of it.
///
/// # Errors
/// If one of them cannot be closed; those before it are.
pub fn recover(keys: &[String], reins: &Reins) -> Result<String> {
    for (index, key) in keys.iter().enumerate() {
        if reins.is_given_up() {
            break;
        }
        shelving::recover(Path::new(key))?;
        reins.done(index + 1, keys.len());
    }
    Ok(match keys.len() {
        1 => "The interrupted session is closed and sealed; everything committed is there."
            .to_owned(),
        n => format!("{n} interrupted sessions are closed and sealed."),
    })
}

/// Adds to a session what changed about its tags, and a note if there are words for one. Nothing
/// that was written before is altered.
///
/// # Errors
/// If the session is not closed, or cannot be written.
pub fn remark(key: &str, before: &[String], tags: &[String], note: &str) -> Result<()> {
    let path = Path::new(key);
    let add = |remark: Remark| {
        shelving::remark(path, &remark).with_context(|| format!("cannot write to {key}"))
    };
    for tag in before.iter().filter(|tag| !tags.contains(tag)) {
        add(Remark::Untag(tag.clone()))?;
    }
    for tag in tags.iter().filter(|tag| !before.contains(tag)) {
        add(Remark::Tag(tag.clone()))?;
    }
    if !note.trim().is_empty() {
        add(Remark::Note(note.trim().to_owned()))?;
    }
    Ok(())
}
