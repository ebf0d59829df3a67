//! A time series of one quantity, sampled when the instrument chose to, with explicit gaps.
//!
//! Between samples the last value is *held*: an instrument that reports once a second is taken to
//! mean its value until the next report. Nothing is held for longer than the series' hold limit,
//! or across a break that somebody declared (a lost link, say); what is not covered is a gap, and
//! a gap is never filled. Every average is weighted by the time each value was held.

use crate::time::{Span, Timestamp};
use std::ops::Range;

/// Samples of one quantity in order of time.
///
/// Invariants: times strictly increase, values are finite.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    times: Vec<Timestamp>,
    values: Vec<f64>,
    /// When the hold of a sample was cut short: (index of the sample, moment), in index order.
    breaks: Vec<(usize, Timestamp)>,
    hold_limit: Span,
}

/// A time-weighted mean and how much of its window was covered by held values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WindowMean {
    /// The mean over the covered part of the window.
    pub value: f64,
    /// Covered time; never longer than the window.
    pub covered: Span,
}

/// Why a sample was not added.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PushError {
    /// The sample is not later than the last one.
    #[error("the sample is not later than the one before it")]
    NotLater,
    /// The value is not a finite number.
    #[error("the value is not a finite number")]
    NotFinite,
}

impl Series {
    /// How long a value is held when nothing else is said. From the project's design: long
    /// enough for one lost packet at 1 Hz, short enough that a drop-out shows.
    pub const DEFAULT_HOLD: Span = Span::from_millis(2500);

    /// An empty series with the usual hold limit.
    pub fn new() -> Self {
        Self::with_hold(Self::DEFAULT_HOLD)
    }

    /// An empty series whose values are held for at most `hold_limit`.
    pub fn with_hold(hold_limit: Span) -> Self {
        Self {
            times: Vec::new(),
            values: Vec::new(),
            breaks: Vec::new(),
            hold_limit,
        }
    }

    /// A series from pairs of seconds and values, for tests and imports.
    ///
    /// # Errors
    /// As [`Series::push`], for the first pair that does not fit.
    pub fn from_pairs(
        pairs: impl IntoIterator<Item = (f64, f64)>,
        hold_limit: Span,
    ) -> Result<Self, PushError> {
        let mut series = Self::with_hold(hold_limit);
        for (secs, value) in pairs {
            series.push(Timestamp::from_secs_f64(secs), value)?;
        }
        Ok(series)
    }

    /// Adds a sample.
    ///
    /// # Errors
    /// [`PushError`] if the sample is not later than the last one or not finite; the series is
    /// then unchanged.
    pub fn push(&mut self, at: Timestamp, value: f64) -> Result<(), PushError> {
        if !value.is_finite() {
            return Err(PushError::NotFinite);
        }
        if self.times.last().is_some_and(|&last| at <= last) {
            return Err(PushError::NotLater);
        }
        self.times.push(at);
        self.values.push(value);
        Ok(())
    }

    /// Declares that the last value stopped being valid at `at`: nothing is held beyond it.
    /// Does nothing in an empty series; an earlier break of the same sample stays.
    pub fn break_at(&mut self, at: Timestamp) {
        let Some(index) = self.times.len().checked_sub(1) else {
            return;
        };
        if self
            .breaks
            .last()
            .is_some_and(|&(broken, _)| broken == index)
        {
            return;
        }
        self.breaks.push((index, at.max(self.times[index])));
    }

    /// Number of samples.
    pub fn len(&self) -> usize {
        self.times.len()
    }

    /// Whether there is no sample.
    pub fn is_empty(&self) -> bool {
        self.times.is_empty()
    }

    /// The times of the samples, strictly increasing.
    pub fn times(&self) -> &[Timestamp] {
        &self.times
    }

    /// The values of the samples, in the order of [`Series::times`].
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// The samples in order.
    pub fn iter(&self) -> impl ExactSizeIterator<Item = (Timestamp, f64)> + '_ {
        self.times.iter().copied().zip(self.values.iter().copied())
    }

    /// The last sample.
    pub fn last(&self) -> Option<(Timestamp, f64)> {
        Some((*self.times.last()?, *self.values.last()?))
    }

    /// How long a value is held at most.
    pub fn hold_limit(&self) -> Span {
        self.hold_limit
    }

    /// Indices of the samples with `from <= time < to`.
    pub fn range(&self, from: Timestamp, to: Timestamp) -> Range<usize> {
        let start = self.times.partition_point(|&t| t < from);
        let end = self.times.partition_point(|&t| t < to);
        start..end.max(start)
    }

    /// Until when the value of sample `index` is held: the next sample, the hold limit or a
    /// declared break, whichever comes first.
    ///
    /// # Panics
    /// If `index` is not below [`Series::len`].
    pub fn held_until(&self, index: usize) -> Timestamp {
        let limit = self.times[index] + self.hold_limit;
        let next = self.times.get(index + 1).copied().unwrap_or(Timestamp::MAX);
        let broken = self
            .breaks
            .binary_search_by_key(&index, |&(broken, _)| broken)
            .map_or(Timestamp::MAX, |found| self.breaks[found].1);
        limit.min(next).min(broken)
    }

    /// Whether there is a gap between sample `index` and the one after it.
    ///
    /// # Panics
    /// If `index` is not below [`Series::len`].
    pub fn gap_after(&self, index: usize) -> bool {
        self.times
            .get(index + 1)
            .is_some_and(|&next| self.held_until(index) < next)
    }

    /// The value held at `at`, if any.
    pub fn value_at(&self, at: Timestamp) -> Option<f64> {
        let index = self.times.partition_point(|&t| t <= at).checked_sub(1)?;
        (at < self.held_until(index) || at == self.times[index]).then(|| self.values[index])
    }

    /// The time-weighted mean over `from..to`, or `None` if nothing of it is covered.
    pub fn mean_over(&self, from: Timestamp, to: Timestamp) -> Option<WindowMean> {
        let mut weighted = 0.0;
        let mut covered = Span::ZERO;
        let first = self.times.partition_point(|&t| t <= from).saturating_sub(1);
        for index in first..self.times.len() {
            if self.times[index] >= to {
                break;
            }
            let begin = self.times[index].max(from);
            let end = self.held_until(index).min(to);
            if end > begin {
                covered += end - begin;
                weighted += self.values[index] * (end - begin).as_secs_f64();
            }
        }
        (covered > Span::ZERO).then(|| WindowMean {
            value: weighted / covered.as_secs_f64(),
            covered,
        })
    }

    /// Unbroken runs of samples: index ranges between which there are gaps.
    pub fn runs(&self) -> impl Iterator<Item = Range<usize>> + '_ {
        let mut start = 0;
        std::iter::from_fn(move || {
            if start >= self.times.len() {
                return None;
            }
            let mut end = start + 1;
            while end < self.times.len() && !self.gap_after(end - 1) {
                end += 1;
            }
            let run = start..end;
            start = end;
            Some(run)
        })
    }

    /// The same samples, all of them later by one span (earlier, if it is negative).
    pub fn shifted(&self, by: Span) -> Self {
        Self {
            times: self.times.iter().map(|&at| at + by).collect(),
            values: self.values.clone(),
            breaks: self
                .breaks
                .iter()
                .map(|&(index, at)| (index, at + by))
                .collect(),
            hold_limit: self.hold_limit,
        }
    }

    /// The same samples on another clock: each moment `t` becomes `map(t)`. Breaks move along.
    ///
    /// # Errors
    /// [`PushError::NotLater`] if `map` does not keep the order.
    pub fn map_time(&self, map: impl Fn(Timestamp) -> Timestamp) -> Result<Self, PushError> {
        let mut moved = Self::with_hold(self.hold_limit);
        let mut breaks = self.breaks.iter().peekable();
        for (index, (at, value)) in self.iter().enumerate() {
            moved.push(map(at), value)?;
            if let Some(&(_, broken)) = breaks.next_if(|(broken, _)| *broken == index) {
                moved.break_at(map(broken));
            }
        }
        Ok(moved)
    }
}

impl Default for Series {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn at(secs: f64) -> Timestamp {
        Timestamp::from_secs_f64(secs)
    }

    fn series(pairs: &[(f64, f64)]) -> Series {
        Series::from_pairs(pairs.iter().copied(), Series::DEFAULT_HOLD).unwrap()
    }

    #[test]
    fn a_value_is_held_until_the_next_but_not_for_ever() {
        let s = series(&[(0.0, 100.0), (1.0, 200.0), (10.0, 300.0)]);
        assert_eq!(s.value_at(at(0.999)), Some(100.0));
        assert_eq!(s.value_at(at(1.0)), Some(200.0));
        assert_eq!(s.value_at(at(3.4)), Some(200.0));
        assert_eq!(s.value_at(at(3.5)), None);
        assert_eq!(s.value_at(at(-0.1)), None);
        assert!(s.gap_after(1));
        assert_eq!(s.runs().collect::<Vec<_>>(), vec![0..2, 2..3]);
    }

    #[test]
    fn a_declared_break_ends_the_hold() {
        let mut s = series(&[(0.0, 100.0)]);
        s.break_at(at(0.5));
        s.push(at(1.0), 50.0).unwrap();
        assert_eq!(s.value_at(at(0.6)), None);
        let mean = s.mean_over(at(0.0), at(2.0)).unwrap();
        assert_eq!(mean.covered, Span::from_millis(1500));
        assert!((mean.value - 100.0 * 0.5 / 1.5 - 50.0 / 1.5).abs() < 1e-12);
        assert_eq!(s.runs().count(), 2);
    }

    #[test]
    fn what_is_not_a_number_or_not_later_is_refused() {
        let mut s = series(&[(1.0, 1.0)]);
        assert_eq!(s.push(at(1.0), 2.0), Err(PushError::NotLater));
        assert_eq!(s.push(at(2.0), f64::NAN), Err(PushError::NotFinite));
        assert_eq!(s.len(), 1);
    }

    #[test]
    fn a_shift_moves_breaks_along() {
        let mut s = series(&[(0.0, 100.0), (1.0, 50.0)]);
        s.break_at(at(1.5));
        s.push(at(3.0), 70.0).unwrap();
        let by = Span::from_millis(-700);
        assert_eq!(Ok(s.shifted(by)), s.map_time(|at| at + by));
    }

    proptest! {
        #[test]
        fn the_mean_of_a_window_is_the_mean_of_its_halves(
            steps in proptest::collection::vec((0.05f64..4.0, -50.0f64..900.0), 1..60),
            cut in 0.1f64..0.9,
        ) {
            let mut secs = 0.0;
            let mut s = Series::new();
            for (step, value) in steps {
                secs += step;
                s.push(at(secs), value).unwrap();
            }
            let (from, to) = (at(0.0), at(secs + 3.0));
            let middle = at((secs + 3.0) * cut);
            let whole = s.mean_over(from, to).unwrap();
            let parts = [s.mean_over(from, middle), s.mean_over(middle, to)];
            let covered: f64 = parts.iter().flatten().map(|m| m.covered.as_secs_f64()).sum();
            let sum: f64 = parts.iter().flatten().map(|m| m.value * m.covered.as_secs_f64()).sum();
            prop_assert!((covered - whole.covered.as_secs_f64()).abs() < 1e-6);
            prop_assert!((sum / covered - whole.value).abs() < 1e-6);
        }
    }
}
