//! Repeats of one change of target, laid over each other on a common grid.

use crate::examinations::integral::usual_interval_s;
use crate::examinations::targets::TargetChange;
use crate::stats::order::exceeds;
use crate::stats::two_samples::Summary;
use units::{Series, Timestamp};

/// Grid of the ensemble, s. Steps at random phase to one-second reports average to this.
pub(super) const GRID_S: f64 = 0.25;
/// What is looked at around the command, s.
pub(super) const BEFORE_S: f64 = 6.0;
pub(super) const LONGEST_S: f64 = 40.0;
/// Fewest repeats: one step says nothing, three begin to.
pub(super) const LEAST_REPEATS: usize = 3;
/// Samples further apart than this are not joined, s.
const JOIN_S: f64 = 2.6;

pub(super) fn mean_size(group: &[TargetChange]) -> f64 {
    group.iter().map(TargetChange::size_w).sum::<f64>() / group.len() as f64
}

/// Repeats of one change on a common grid from before the command to the shortest end.
pub(super) struct Ensemble {
    /// Times of the grid; zero is the sending of the command.
    pub(super) t: Vec<f64>,
    /// One row per repeat, scaled so that the mean before is zero and the mean at the end one.
    pub(super) rows: Vec<Vec<f64>>,
    /// Grid index of the command.
    pub(super) command: usize,
    /// Size of the change as this instrument saw it, W.
    pub(super) size_w: f64,
    /// Standard deviation between repeats once settled, as a share of the change.
    pub(super) scatter: f64,
    /// Standard uncertainty of every moment, s: straight lines between reports blur an edge by
    /// a triangle, whose effect on a time is of this size.
    pub(super) grain_s: f64,
}

impl Ensemble {
    /// `None` where the instrument saw no change in the direction of the target.
    pub(super) fn new(series: &Series, late_s: f64, group: &[TargetChange]) -> Option<Self> {
        let end_s = group
            .iter()
            .map(|c| c.until_s - c.at_s)
            .fold(LONGEST_S, f64::min);
        let command = (BEFORE_S / GRID_S) as usize;
        let count = command + (end_s / GRID_S) as usize;
        let t: Vec<f64> = (0..count).map(|i| i as f64 * GRID_S - BEFORE_S).collect();
        let raw: Vec<Vec<f64>> = group
            .iter()
            .filter_map(|change| {
                let mut cursor = Cursor::new(series, change.at_s - BEFORE_S - late_s);
                t.iter()
                    .map(|t| cursor.at(change.at_s + t - late_s))
                    .collect()
            })
            .collect();
        if raw.len() < LEAST_REPEATS {
            return None;
        }
        let last = count - (count - command) / 3;
        let over = |from: usize, to: usize| {
            let n = (raw.len() * (to - from)) as f64;
            raw.iter().flat_map(|row| &row[from..to]).sum::<f64>() / n
        };
        let (initial, size_w) = {
            // The last report before the command may already reach into the change.
            let initial = over(0, command.saturating_sub(2));
            (initial, over(last, count) - initial)
        };
        let wanted = mean_size(group);
        if !exceeds(size_w / wanted, 0.3) {
            return None;
        }
        let rows: Vec<Vec<f64>> = raw
            .iter()
            .map(|row| row.iter().map(|value| (value - initial) / size_w).collect())
            .collect();
        let scatter = {
            let columns = (last..count).step_by(4).filter_map(|i| {
                let column: Vec<f64> = rows.iter().map(|row| row[i]).collect();
                Summary::of(&column).map(|s| s.variance)
            });
            let variances: Vec<f64> = columns.collect();
            (variances.iter().sum::<f64>() / variances.len().max(1) as f64).sqrt()
        };
        let grain_s = usual_interval_s(series).unwrap_or(1.0) / 24f64.sqrt();
        Some(Self {
            t,
            rows,
            command,
            size_w,
            scatter,
            grain_s,
        })
    }

    /// Mean of the repeats from the command on, and the means with one repeat left out.
    pub(super) fn means(&self) -> (Vec<f64>, Vec<Vec<f64>>) {
        let n = self.rows.len() as f64;
        let mut sums = vec![0.0; self.t.len() - self.command];
        for row in &self.rows {
            for (sum, value) in sums.iter_mut().zip(&row[self.command..]) {
                *sum += value;
            }
        }
        let without = self
            .rows
            .iter()
            .map(|row| {
                let rest = sums.iter().zip(&row[self.command..]);
                rest.map(|(sum, value)| (sum - value) / (n - 1.0)).collect()
            })
            .collect();
        (sums.iter().map(|sum| sum / n).collect(), without)
    }

    pub(super) fn after(&self) -> &[f64] {
        &self.t[self.command..]
    }

    /// Scatter of the ensemble's mean before the command as a share of the change: noise, or an
    /// oscillation that all repeats share.
    pub(super) fn unsteady_before(&self) -> f64 {
        let n = self.rows.len() as f64;
        let before: Vec<f64> = (0..self.command.saturating_sub(2))
            .map(|i| self.rows.iter().map(|row| row[i]).sum::<f64>() / n)
            .collect();
        Summary::of(&before).map_or(0.0, |s| s.variance.sqrt())
    }
}

/// Reads a series by straight lines between neighbouring samples, forward only.
struct Cursor<'a> {
    series: &'a Series,
    index: usize,
}

impl<'a> Cursor<'a> {
    fn new(series: &'a Series, from_s: f64) -> Self {
        let from = Timestamp::from_secs_f64(from_s);
        let index = series
            .times()
            .partition_point(|t| *t <= from)
            .saturating_sub(1);
        Self { series, index }
    }

    fn at(&mut self, at_s: f64) -> Option<f64> {
        let times = self.series.times();
        while times.get(self.index + 1)?.as_secs_f64() <= at_s {
            self.index += 1;
        }
        let (a, b) = (
            times[self.index].as_secs_f64(),
            times[self.index + 1].as_secs_f64(),
        );
        if at_s < a || b - a > JOIN_S {
            return None;
        }
        let values = self.series.values();
        let share = (at_s - a) / (b - a);
        Some(values[self.index] + share * (values[self.index + 1] - values[self.index]))
    }
}
