//! The uniform grid that all streams of a session share, and what is put on it.

use crate::evidence::Evidence;
use std::borrow::Cow;
use units::{Series, Timestamp};

/// Spacing of the uniform grid, s.
pub(crate) const STEP_S: f64 = 0.5;
/// Fewest grid points that a segment needs: half a minute.
pub(crate) const MIN_POINTS: usize = 60;
/// Standard uncertainty that interpolation leaves at 1 Hz, s (project's check list, section 7).
pub(crate) const INTERPOLATION_U_S: f64 = 0.002;

/// The uniform grid that all streams of a session share.
#[derive(Clone, Copy, Debug)]
pub(crate) struct TimeGrid {
    /// Moment of the first point, s.
    pub(crate) from_s: f64,
    /// Number of points.
    pub(crate) points: usize,
}

impl TimeGrid {
    pub(super) fn of(evidence: &Evidence) -> Self {
        let series = evidence.streams.iter().flat_map(|stream| {
            [&stream.power_w, &stream.cadence_rpm]
                .into_iter()
                .filter_map(|series| Some((series.times().first()?, series.times().last()?)))
        });
        let (first, last) = series.fold(
            (Timestamp::MAX, Timestamp::from_nanos(i64::MIN)),
            |(first, last), (begin, end)| (first.min(*begin), last.max(*end)),
        );
        if first > last {
            return Self {
                from_s: 0.0,
                points: 0,
            };
        }
        let from_s = (first.as_secs_f64() / STEP_S).floor() * STEP_S;
        // A clock that jumped by days must not ask for the memory of days.
        let length_s = (last.as_secs_f64() - from_s).min(48.0 * 3600.0);
        Self {
            from_s,
            points: (length_s / STEP_S) as usize + 1,
        }
    }
}

/// Power without its zeros, which are gaps for the search: a drop-out is the steepest change of a
/// ride and would be matched with whatever change it finds.
pub(super) fn without_zeros(series: &Series) -> Cow<'_, Series> {
    if series.values().iter().all(|value| *value > 0.0) {
        return Cow::Borrowed(series);
    }
    let mut kept = Series::with_hold(series.hold_limit());
    for (index, (at, value)) in series.iter().enumerate() {
        if value <= 0.0 {
            kept.break_at(at);
        } else if kept.push(at, value).is_ok() && series.gap_after(index) {
            kept.break_at(series.held_until(index));
        }
    }
    Cow::Owned(kept)
}
