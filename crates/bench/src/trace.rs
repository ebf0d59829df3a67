//! A growing curve that can be handed to the screen without copying it.
//!
//! Full chunks are shared and never change; only the last few points are copied when a snapshot is
//! taken. Each chunk knows its extremes, so a ten-hour curve can be drawn without visiting every
//! point.

use std::sync::Arc;
use units::{Span, Timestamp};

/// Points per shared chunk: small enough to copy a tail thirty times a second, large enough that
/// ten hours at 4 Hz are a few hundred chunks.
const CHUNK: usize = 512;

/// Points per block inside a chunk: at 4 Hz a few seconds, well below a pixel of a ten-hour view.
const BLOCK: usize = 16;

/// One point of a curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// When the value was reported.
    pub at: Timestamp,
    /// The value, in the unit of the trace.
    pub value: f64,
    /// Whether there is a gap between the previous point and this one.
    pub after_gap: bool,
}

/// A full, unchanging piece of a curve with its extremes.
#[derive(Debug, PartialEq)]
pub struct Chunk {
    /// The points in order of time; never empty.
    pub points: Vec<Point>,
    /// Smallest value.
    pub low: f64,
    /// Largest value.
    pub high: f64,
    /// Whether any point but the first comes after a gap.
    pub has_gap: bool,
    /// Extremes of each sixteen points in order, so that a column of pixels that holds many points
    /// need not visit them.
    pub blocks: Vec<Block>,
}

/// The extremes of a few neighbouring points of a chunk.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Block {
    /// Index of its first point in the chunk.
    pub start: usize,
    /// Index after its last point.
    pub end: usize,
    /// When its first point was reported; here, so that the points themselves stay untouched.
    pub first_at: Timestamp,
    /// When its last point was reported.
    pub last_at: Timestamp,
    /// Smallest value.
    pub low: f64,
    /// Largest value.
    pub high: f64,
    /// Whether any of its points, the first one included, comes after a gap.
    pub has_gap: bool,
}

/// A growing curve; cloning it is cheap.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    chunks: Vec<Arc<Chunk>>,
    tail: Vec<Point>,
    hold: Span,
}

impl Trace {
    /// An empty curve whose values are held for at most `hold`.
    pub fn new(hold: Span) -> Self {
        Self {
            chunks: Vec::new(),
            tail: Vec::new(),
            hold,
        }
    }

    /// How long a value is held at most; a point later than that comes after a gap.
    pub fn hold(&self) -> Span {
        self.hold
    }

    /// Adds a point. Points that are not later than the last one, or not finite, are dropped: the
    /// curve is for looking at, the series beside it is the measurement.
    pub fn push(&mut self, at: Timestamp, value: f64) {
        let last = self.last();
        if !value.is_finite() || last.is_some_and(|last| at <= last.at) {
            return;
        }
        let after_gap = last.is_some_and(|last| at - last.at > self.hold);
        self.tail.push(Point {
            at,
            value,
            after_gap,
        });
        if self.tail.len() == CHUNK {
            let points = std::mem::replace(&mut self.tail, Vec::with_capacity(CHUNK));
            let (low, high) = extremes(&points);
            let has_gap = points.iter().skip(1).any(|point| point.after_gap);
            let blocks = (0..points.len())
                .step_by(BLOCK)
                .map(|start| block(&points, start));
            let blocks = blocks.collect();
            self.chunks.push(Arc::new(Chunk {
                points,
                low,
                high,
                has_gap,
                blocks,
            }));
        }
    }

    /// The last point.
    pub fn last(&self) -> Option<Point> {
        self.tail
            .last()
            .or_else(|| self.chunks.last()?.points.last())
            .copied()
    }

    /// The first point.
    pub fn first(&self) -> Option<Point> {
        self.chunks
            .first()
            .map_or(self.tail.first(), |chunk| chunk.points.first())
            .copied()
    }

    /// Number of points.
    pub fn len(&self) -> usize {
        self.chunks.len() * CHUNK + self.tail.len()
    }

    /// Whether there is no point.
    pub fn is_empty(&self) -> bool {
        self.chunks.is_empty() && self.tail.is_empty()
    }

    /// The full chunks, in order of time.
    pub fn chunks(&self) -> &[Arc<Chunk>] {
        &self.chunks
    }

    /// The points after the last full chunk.
    pub fn tail(&self) -> &[Point] {
        &self.tail
    }

    /// The points with `from <= at <= to`, with one more on each side so that lines reach the edge.
    pub fn between(&self, from: Timestamp, to: Timestamp) -> impl Iterator<Item = Point> + '_ {
        let first_chunk = self
            .chunks
            .partition_point(|chunk| chunk.points.last().is_some_and(|last| last.at < from))
            .saturating_sub(1);
        self.chunks[first_chunk.min(self.chunks.len())..]
            .iter()
            .take_while(move |chunk| chunk.points[0].at <= to)
            .flat_map(|chunk| chunk.points.iter())
            .chain(self.tail.iter())
            .copied()
            .scan(false, move |beyond, point| {
                if *beyond {
                    return None;
                }
                *beyond = point.at > to;
                Some(point)
            })
            .skip_while_but_one(from)
    }
}

fn extremes(points: &[Point]) -> (f64, f64) {
    points
        .iter()
        .fold((f64::MAX, f64::MIN), |(low, high), point| {
            (low.min(point.value), high.max(point.value))
        })
}

fn block(points: &[Point], start: usize) -> Block {
    let end = (start + BLOCK).min(points.len());
    let (first_at, last_at) = (points[start].at, points[end - 1].at);
    let (low, high) = extremes(&points[start..end]);
    let has_gap = points[start..end].iter().any(|point| point.after_gap);
    Block {
        start,
        end,
        first_at,
        last_at,
        low,
        high,
        has_gap,
    }
}

/// Drops points before a moment, except the last of them.
trait SkipWhileButOne: Iterator<Item = Point> + Sized {
    fn skip_while_but_one(self, from: Timestamp) -> ButOne<Self>;
}

impl<I: Iterator<Item = Point>> SkipWhileButOne for I {
    fn skip_while_but_one(self, from: Timestamp) -> ButOne<Self> {
        ButOne {
            inner: self,
            from,
            pending: None,
            started: false,
        }
    }
}

struct ButOne<I> {
    inner: I,
    from: Timestamp,
    pending: Option<Point>,
    started: bool,
}

impl<I: Iterator<Item = Point>> Iterator for ButOne<I> {
    type Item = Point;

    fn next(&mut self) -> Option<Point> {
        if let Some(point) = self.pending.take() {
            return Some(point);
        }
        if self.started {
            return self.inner.next();
        }
        self.started = true;
        let mut before = None;
        for point in self.inner.by_ref() {
            if point.at >= self.from {
                self.pending = Some(point);
                break;
            }
            before = Some(point);
        }
        before.or_else(|| self.pending.take())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn filled(count: i64) -> Trace {
        let mut trace = Trace::new(Span::from_millis(2500));
        for i in 0..count {
            trace.push(Timestamp::from_millis(i * 250), i as f64);
        }
        trace
    }

    #[test]
    fn a_slice_has_one_neighbour_on_each_side() {
        let trace = filled(2000);
        let times: Vec<_> = trace
            .between(Timestamp::from_secs(200), Timestamp::from_secs(201))
            .map(|point| point.at.as_nanos() / 1_000_000)
            .collect();
        assert_eq!(
            times,
            vec![
                199_750, 200_000, 200_250, 200_500, 200_750, 201_000, 201_250
            ]
        );
        assert_eq!(
            trace
                .between(Timestamp::from_secs(-9), Timestamp::MAX)
                .count(),
            2000
        );
        assert_eq!(trace.len(), 2000);
    }

    #[test]
    fn blocks_know_the_extremes_of_their_points() {
        let mut trace = Trace::new(Span::from_millis(2500));
        for i in 0..CHUNK as i64 {
            let silence = if i >= 100 { 10_000 } else { 0 };
            trace.push(Timestamp::from_millis(i * 250 + silence), (i % 37) as f64);
        }
        let chunk = &trace.chunks()[0];
        assert_eq!(chunk.blocks.len(), CHUNK / BLOCK);
        for block in &chunk.blocks {
            let points = &chunk.points[block.start..block.end];
            assert!(
                points
                    .iter()
                    .all(|p| (block.low..=block.high).contains(&p.value))
            );
            assert_eq!(block.has_gap, (block.start..block.end).contains(&100));
        }
        assert_eq!((chunk.low, chunk.high, chunk.has_gap), (0.0, 36.0, true));
    }

    #[test]
    fn a_long_silence_is_a_gap_and_a_snapshot_does_not_change() {
        let mut trace = filled(4);
        let before = trace.clone();
        trace.push(Timestamp::from_secs(10), 1.0);
        assert!(trace.last().unwrap().after_gap);
        assert_eq!(before.len(), 4);
    }
}
