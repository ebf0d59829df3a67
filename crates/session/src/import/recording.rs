//! One recording on the clock of its recorder.

use super::columns::Columns;
use super::error::ImportError;
use super::moment::Began;
use crate::row::Identity;
use units::{Series, Span, Timestamp};

/// A pause in a recording is longer than this many usual intervals.
const GAP_INTERVALS: f64 = 1.5;
/// A value is held for this many usual intervals: one lost record is no gap.
const HOLD_INTERVALS: f64 = 2.5;
/// Nothing is held for longer than this, however rarely the recorder wrote.
const LONGEST_HOLD: Span = Span::from_secs(10);
/// More remarks of one kind say nothing more.
const MOST_REMARKS: usize = 50;

/// The format of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// FIT activity.
    Fit,
    /// TCX.
    Tcx,
    /// Text in columns.
    Csv,
}

impl Format {
    /// The name of the format.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Fit => "FIT",
            Self::Tcx => "TCX",
            Self::Csv => "CSV",
        }
    }
}

/// A recording made elsewhere. Its clock stands at zero at its first record.
#[derive(Clone, Debug, PartialEq)]
pub struct Recording {
    /// Name of the file.
    pub name: String,
    /// Format of the file.
    pub format: Format,
    /// What the recorder's calendar said at its first record.
    pub began: Began,
    /// What the file says about the recorder or the instrument.
    pub identity: Identity,
    /// When each record was made, in order.
    pub records: Vec<Timestamp>,
    /// Power, W; records without power have no sample.
    pub power_w: Series,
    /// Cadence, rpm.
    pub cadence_rpm: Series,
    /// Speed, km/h.
    pub speed_kmh: Series,
    /// How the columns were read; CSV only.
    pub columns: Option<Columns>,
    /// What is imperfect, in words.
    pub remarks: Vec<String>,
}

/// One record as a format gives it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Row {
    /// Moment, ns on any clock.
    pub at_ns: i64,
    /// Power, W.
    pub power_w: Option<f64>,
    /// Cadence, rpm.
    pub cadence_rpm: Option<f64>,
    /// Speed, km/h.
    pub speed_kmh: Option<f64>,
}

impl Recording {
    /// A recording from its rows in the order of the file. Rows that are not later than the one
    /// before are left out and counted in a remark.
    pub(super) fn from_rows(
        name: &str,
        format: Format,
        began: Began,
        rows: &[Row],
        mut remarks: Vec<String>,
    ) -> Result<Self, ImportError> {
        if rows.iter().all(|row| row.power_w.is_none()) {
            return Err(ImportError::NoPower {
                name: name.to_owned(),
                records: rows.len(),
            });
        }
        let zero_ns = rows.first().map_or(0, |row| row.at_ns);
        let mut kept: Vec<Row> = Vec::with_capacity(rows.len());
        let mut disordered = 0_usize;
        for row in rows {
            if kept.last().is_some_and(|last| row.at_ns <= last.at_ns) {
                disordered += 1;
            } else {
                kept.push(*row);
            }
        }
        if disordered > 0 {
            remarks.push(format!(
                "{disordered} records are not later than the one before them and were left out"
            ));
        }
        remarks.truncate(MOST_REMARKS);
        let at = |row: &Row| Timestamp::from_nanos(row.at_ns.saturating_sub(zero_ns));
        let hold = hold(&kept);
        let series = |pick: fn(&Row) -> Option<f64>| {
            let mut series = Series::with_hold(hold);
            for row in &kept {
                match pick(row) {
                    // Refused is only what is not finite; times rise by construction.
                    Some(value) => drop(series.push(at(row), value)),
                    // A record without a value says that there was none.
                    None => series.break_at(at(row)),
                }
            }
            series
        };
        Ok(Self {
            name: name.to_owned(),
            format,
            began,
            identity: Identity::default(),
            power_w: series(|row| row.power_w),
            cadence_rpm: series(|row| row.cadence_rpm),
            speed_kmh: series(|row| row.speed_kmh),
            records: kept.iter().map(at).collect(),
            columns: None,
            remarks,
        })
    }

    /// Usual interval between records, s; zero with fewer than two.
    pub fn interval_s(&self) -> f64 {
        median_interval(&self.records).as_secs_f64()
    }

    /// Pauses: from which record to which, wherever the interval is longer than usual.
    pub fn gaps(&self) -> Vec<(Timestamp, Timestamp)> {
        let limit = Span::from_secs_f64(GAP_INTERVALS * self.interval_s());
        self.records
            .windows(2)
            .filter(|pair| pair[1] - pair[0] > limit)
            .map(|pair| (pair[0], pair[1]))
            .collect()
    }

    /// From the first record to the last.
    pub fn length(&self) -> Span {
        self.records
            .last()
            .map_or(Span::ZERO, |last| *last - Timestamp::ZERO)
    }

    /// Mean of the recorded powers, each record counted once, W.
    pub fn mean_power_w(&self) -> f64 {
        self.power_w.values().iter().sum::<f64>() / self.power_w.len().max(1) as f64
    }
}

fn hold(rows: &[Row]) -> Span {
    let times: Vec<Timestamp> = rows
        .iter()
        .map(|row| Timestamp::from_nanos(row.at_ns))
        .collect();
    let usual = HOLD_INTERVALS * median_interval(&times).as_secs_f64();
    Span::from_secs_f64(usual).clamp(Series::DEFAULT_HOLD, LONGEST_HOLD)
}

fn median_interval(times: &[Timestamp]) -> Span {
    let mut intervals: Vec<Span> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    intervals.sort_unstable();
    intervals
        .get(intervals.len() / 2)
        .copied()
        .unwrap_or(Span::ZERO)
}
