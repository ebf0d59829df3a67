//! The extremes of every pixel column, gaps kept.
//!
//! Columns are counted from the beginning of the session and not from the edge of the view, so a
//! curve does not shimmer while it moves.

use super::values::visible_chunks;
use super::view::View;
use bench::trace::{Block, Point, Trace};
use units::{Span, Timestamp};

/// The part of a pixel column that cannot be seen: a column is one physical pixel.
const UNSEEN: i64 = 4;

/// The values of one pixel column, or those of them on one side of a gap.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Column<'a> {
    /// Number of the column, counted from the beginning of the session.
    pub(super) index: i64,
    pub(super) low: f64,
    pub(super) high: f64,
    /// When the first of its values was reported.
    pub(super) first_at: Timestamp,
    /// The last of its values. Only looked at where a run ends: fetching every one of them from
    /// memory would cost more than all the rest.
    pub(super) last: &'a Point,
    /// Whether there is a gap before it.
    pub(super) after_gap: bool,
}

impl Column<'_> {
    pub(super) fn middle_s(&self, width_ns: i64) -> f64 {
        (self.index as f64 + 0.5) * width_ns as f64 / 1e9
    }
}

/// Collects columns; knows where the present one ends, so that it divides only when one is passed.
struct Collector<'a> {
    width_ns: i64,
    end: Timestamp,
    out: Vec<Column<'a>>,
}

impl<'a> Collector<'a> {
    /// Index and end of the column that a moment lies in.
    fn column_at(&self, at: Timestamp) -> (i64, Timestamp) {
        let index = at.as_nanos().div_euclid(self.width_ns);
        (
            index,
            Timestamp::from_nanos((index + 1).saturating_mul(self.width_ns)),
        )
    }

    /// Whether a block can be taken as a whole: if it lies in one column, or if it is so much
    /// narrower than one that nobody sees which of two neighbours it was added to. Without the
    /// second, every column of a long view would still visit all points of the block on its edge.
    fn has_room_for(&self, block: &Block) -> bool {
        let first = block.first_at;
        let end = if first < self.end {
            self.end
        } else {
            self.column_at(first).1
        };
        let is_narrow = (block.last_at - first).as_nanos() <= self.width_ns / UNSEEN;
        !block.has_gap && (block.last_at < end || is_narrow)
    }

    fn add_point(&mut self, point: &'a Point) {
        let (low, high) = (point.value, point.value);
        self.add(point.at, point.after_gap, point, low, high);
    }

    /// Adds neighbouring values that lie in one column.
    fn add(&mut self, first_at: Timestamp, after_gap: bool, last: &'a Point, low: f64, high: f64) {
        match self.out.last_mut() {
            Some(column) if first_at < self.end && !after_gap => {
                column.low = column.low.min(low);
                column.high = column.high.max(high);
                column.last = last;
            }
            _ => {
                let (index, end) = self.column_at(first_at);
                self.end = end;
                self.out.push(Column {
                    index,
                    low,
                    high,
                    first_at,
                    last,
                    after_gap,
                });
            }
        }
    }
}

/// Extremes of each pixel column that holds a value, gaps kept. Blocks of points that lie in one
/// column are not visited one by one.
pub(super) fn columns<'a>(trace: &'a Trace, view: &View) -> Vec<Column<'a>> {
    let width_ns = view.column_ns();
    // One pixel more on each side, so that a line reaches both edges.
    let margin = Span::from_nanos(width_ns);
    let (from, to) = (view.from - margin, view.to + margin);
    let end = Timestamp::from_nanos(i64::MIN);
    let mut collector = Collector {
        width_ns,
        end,
        out: Vec::with_capacity(view.pixels + 2),
    };
    for chunk in visible_chunks(trace, from, to) {
        for block in &chunk.blocks {
            if block.last_at < from || block.first_at > to {
                continue;
            }
            let points = &chunk.points[block.start..block.end];
            match points.last().filter(|_| collector.has_room_for(block)) {
                Some(last) => collector.add(block.first_at, false, last, block.low, block.high),
                None => points.iter().for_each(|point| collector.add_point(point)),
            }
        }
    }
    for point in trace
        .tail()
        .iter()
        .filter(|point| point.at >= from && point.at <= to)
    {
        collector.add_point(point);
    }
    collector.out
}
