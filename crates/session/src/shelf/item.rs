//! One session of the list.

use super::remark::{self, Note};
use crate::archive::Archive;
use crate::error::Result;
use chrono::{DateTime, FixedOffset};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// A recording that nobody closed and nobody wrote to for this long counts as interrupted, ns.
/// A running one is committed several times a second.
pub const SILENT_AFTER_NS: i64 = 10_000_000_000;

/// What the list says about one session.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ShelfItem {
    /// The file.
    pub path: PathBuf,
    /// Its name without extension.
    pub name: String,
    /// Whether it is whole.
    pub state: ItemState,
    /// When anything was last written to it, ns since 1970-01-01 UTC.
    pub written_ns: i64,
    /// Length of the file, bytes.
    pub size_bytes: u64,
    /// The session's own identifier; empty if it could not be read.
    pub session: String,
    /// Wall clock at the beginning.
    pub started: Option<DateTime<FixedOffset>>,
    /// Length of the recording, s.
    pub length_s: f64,
    /// Name of the device under test.
    pub device: Option<String>,
    /// Serial number of the device under test.
    pub serial: Option<String>,
    /// Firmware of the device under test.
    pub firmware: Option<String>,
    /// Names of the references, primary first.
    pub references: Vec<String>,
    /// Name of the script; `None` for a recording without one.
    pub script: Option<String>,
    /// Alias of the rider.
    pub rider: Option<String>,
    /// Whether no real instrument stands behind it.
    pub simulated: bool,
    /// Whether it was recorded elsewhere and imported.
    pub imported: bool,
    /// Tags in force, in the order they were given.
    pub tags: Vec<String>,
    /// Notes, oldest first.
    pub notes: Vec<Note>,
    /// Verdict and thumbnail, once the program has computed them.
    pub judgement: Option<Judgement>,
}

/// Whether a session is whole.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ItemState {
    /// Closed and sealed.
    Sealed,
    /// Never closed: it is being recorded, or its recording was interrupted.
    Open,
    /// It cannot be read.
    Unreadable {
        /// Why, with the remedy.
        why: String,
    },
}

/// What the program found out about a session, kept so that the list can show it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Judgement {
    /// One of the six verdict words; `None` if the findings could not be computed.
    pub verdict: Option<String>,
    /// The judgement, or the reason for its absence, in one sentence.
    pub sentence: String,
    /// Mean difference over all judged conditions, %.
    pub bias_pct: Option<f64>,
    /// Its expanded uncertainty, %.
    pub expanded_pct: Option<f64>,
    /// The ride at a glance.
    pub thumbnail: Thumbnail,
}

/// Power over time at a glance: means over equal parts of the recording.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Thumbnail {
    /// Length of the part that one point stands for, s.
    pub seconds_per_point: f64,
    /// Device under test, W; `None` where it said nothing.
    pub under_test_w: Vec<Option<i32>>,
    /// Primary reference, W; as many points.
    pub reference_w: Vec<Option<i32>>,
}

impl Thumbnail {
    /// Means of seconds over at most `points` equal parts. Both columns begin at one second.
    pub fn of_seconds(
        under_test_w: &[Option<f64>],
        reference_w: &[Option<f64>],
        points: usize,
    ) -> Self {
        let length = under_test_w.len().max(reference_w.len());
        let part = length.div_ceil(points.max(1)).max(1);
        let column = |seconds: &[Option<f64>]| {
            (0..length.div_ceil(part))
                .map(|point| {
                    let from = (point * part).min(seconds.len());
                    let to = ((point + 1) * part).min(seconds.len());
                    let known: Vec<f64> = seconds[from..to].iter().flatten().copied().collect();
                    let sum: f64 = known.iter().sum();
                    (!known.is_empty()).then(|| (sum / known.len() as f64).round() as i32)
                })
                .collect()
        };
        Self {
            seconds_per_point: part as f64,
            under_test_w: column(under_test_w),
            reference_w: column(reference_w),
        }
    }
}

impl ShelfItem {
    /// Whether the recording was interrupted, as far as the file tells: never closed, and nobody
    /// has written to it for [`SILENT_AFTER_NS`]. `now_ns` is ns since 1970-01-01 UTC.
    pub fn is_interrupted(&self, now_ns: i64) -> bool {
        self.state == ItemState::Open && now_ns.saturating_sub(self.written_ns) >= SILENT_AFTER_NS
    }

    /// The state in a word or two.
    pub fn state_words(&self, now_ns: i64) -> &str {
        match &self.state {
            ItemState::Sealed => "sealed",
            ItemState::Open if self.is_interrupted(now_ns) => "interrupted",
            ItemState::Open => "recording",
            ItemState::Unreadable { .. } => "unreadable",
        }
    }

    /// The verdict, if there is one.
    pub fn verdict(&self) -> Option<&str> {
        self.judgement.as_ref()?.verdict.as_deref()
    }

    /// Reads a session for the list; one that cannot be read is an item as well.
    pub(super) fn read(path: &Path) -> Self {
        let empty = Self {
            path: path.to_owned(),
            name: path
                .file_stem()
                .map(|stem| stem.to_string_lossy().into_owned())
                .unwrap_or_default(),
            state: ItemState::Open,
            written_ns: 0,
            size_bytes: 0,
            session: String::new(),
            started: None,
            length_s: 0.0,
            device: None,
            serial: None,
            firmware: None,
            references: Vec::new(),
            script: None,
            rider: None,
            simulated: false,
            imported: false,
            tags: Vec::new(),
            notes: Vec::new(),
            judgement: None,
        };
        let failed = empty.clone();
        empty.filled(path).unwrap_or_else(|error| Self {
            state: ItemState::Unreadable {
                why: error.to_string(),
            },
            ..failed
        })
    }

    fn filled(mut self, path: &Path) -> Result<Self> {
        let archive = Archive::open(path)?;
        let about = archive.about()?;
        if archive.is_closed()? {
            self.state = ItemState::Sealed;
        }
        self.length_s = archive.duration()?.as_secs_f64();
        for source in archive.sources()? {
            match source.role.as_str() {
                "under-test" if self.device.is_none() => {
                    self.device = Some(source.name);
                    self.serial = source.identity.serial;
                    self.firmware = source.identity.firmware;
                }
                "reference" => self.references.insert(0, source.name),
                "second-reference" => self.references.push(source.name),
                _ => {}
            }
        }
        let remarks = archive.events_of(&[remark::NOTE, remark::TAG, remark::UNTAG])?;
        (self.tags, self.notes) = remark::in_force(&remarks);
        self.imported = !archive.files()?.is_empty();
        self.simulated = about.is_simulated();
        self.session = about.session;
        self.started = about.started;
        self.script = about.script.map(|script| script.name);
        self.rider = about.rider;
        Ok(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_thumbnail_leaves_gaps_open_and_rounds_means() {
        let device = [Some(100.0), Some(101.0), None, None, Some(300.0)];
        let thumbnail = Thumbnail::of_seconds(&device, &[Some(99.6)], 3);
        assert_eq!(thumbnail.seconds_per_point, 2.0);
        assert_eq!(thumbnail.under_test_w, [Some(101), None, Some(300)]);
        assert_eq!(thumbnail.reference_w, [Some(100), None, None]);
        assert!(Thumbnail::of_seconds(&[], &[], 60).under_test_w.is_empty());
    }
}
