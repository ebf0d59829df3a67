//! What a curve holds: its values in a stretch of time, and the one at a moment.

use bench::trace::{Chunk, Point, Trace};
use std::sync::Arc;
use units::Timestamp;

/// Smallest and largest value in a stretch of time, one neighbour on each side included.
pub fn extent(trace: &Trace, from: Timestamp, to: Timestamp) -> Option<[f64; 2]> {
    let mut found: Option<[f64; 2]> = None;
    let mut widen = |low: f64, high: f64| {
        found = Some(found.map_or([low, high], |[l, h]| [l.min(low), h.max(high)]));
    };
    let visible = visible_chunks(trace, from, to);
    for (index, chunk) in visible.iter().enumerate() {
        if index > 0 && index + 1 < visible.len() {
            widen(chunk.low, chunk.high);
        } else {
            for point in chunk.points.iter().filter(|p| p.at >= from && p.at <= to) {
                widen(point.value, point.value);
            }
        }
    }
    for point in trace
        .tail()
        .iter()
        .filter(|point| point.at >= from && point.at <= to)
    {
        widen(point.value, point.value);
    }
    found
}

/// The value held at a moment, if the last report is not too old.
pub fn value_at(trace: &Trace, at: Timestamp) -> Option<f64> {
    let point = trace
        .between(at, at)
        .take_while(|point| point.at <= at)
        .last()?;
    (at - point.at <= trace.hold()).then_some(point.value)
}

/// Number of points in a stretch of time. Only the two chunks at its ends are looked into: a view of
/// ten hours spans hundreds, and fetching each from memory costs more than drawing them.
pub(super) fn count_between(trace: &Trace, from: Timestamp, to: Timestamp) -> usize {
    let inside = |points: &[Point]| {
        let start = points.partition_point(|point| point.at < from);
        points
            .partition_point(|point| point.at <= to)
            .saturating_sub(start)
    };
    let in_chunks = match visible_chunks(trace, from, to) {
        [] => 0,
        [only] => inside(&only.points),
        [first, between @ .., last] => {
            let whole: usize = between.iter().map(|chunk| chunk.points.len()).sum();
            inside(&first.points) + whole + inside(&last.points)
        }
    };
    in_chunks + inside(trace.tail())
}

/// The chunks that reach into a stretch of time, in order; all but the first and the last of them
/// lie wholly inside.
pub(super) fn visible_chunks(trace: &Trace, from: Timestamp, to: Timestamp) -> &[Arc<Chunk>] {
    let chunks = trace.chunks();
    let start =
        chunks.partition_point(|chunk| chunk.points.last().is_some_and(|last| last.at < from));
    let end =
        chunks.partition_point(|chunk| chunk.points.first().is_some_and(|first| first.at <= to));
    &chunks[start..end.max(start)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::sample::trace;

    #[test]
    fn what_is_held_can_be_read_and_what_is_old_cannot() {
        let trace = trace([(0, 1.0), (1000, 2.0)]);
        assert_eq!(value_at(&trace, Timestamp::from_millis(500)), Some(1.0));
        assert_eq!(value_at(&trace, Timestamp::from_millis(3400)), Some(2.0));
        assert_eq!(value_at(&trace, Timestamp::from_millis(3600)), None);
        assert_eq!(value_at(&trace, Timestamp::from_millis(-1)), None);
        assert_eq!(
            extent(&trace, Timestamp::ZERO, Timestamp::from_secs(9)),
            Some([1.0, 2.0])
        );
        assert_eq!(
            extent(&trace, Timestamp::from_secs(5), Timestamp::from_secs(9)),
            None
        );
    }
}
