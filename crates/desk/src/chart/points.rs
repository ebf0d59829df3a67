//! From a curve, a stretch of time and a width in pixels to the points that are drawn.
//!
//! Where a pixel column holds few values every one of them is drawn, held from one to the next.
//! Where it holds many, the column gets its smallest and largest value, so no peak and no drop-out
//! is lost. Columns are counted from the beginning of the session and not from the edge of the
//! view, so a curve does not shimmer while it moves. A gap ends one run of points and begins the
//! next; nothing is drawn across it and no not-a-number stands for it.
//!
//! What is absent, on purpose: colours, screens, and any memory from one frame to the next.

use bench::trace::{Block, Chunk, Point, Trace};
use std::sync::Arc;
use units::{Span, Timestamp};

/// An unbroken line: pairs of seconds since the session began and value.
pub type Run = Vec<[f64; 2]>;

/// An unbroken band: seconds since the session began, lower edge, upper edge.
pub type BandRun = Vec<[f64; 3]>;

/// The stretch of time that is looked at, and how finely.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// Left edge.
    pub from: Timestamp,
    /// Right edge.
    pub to: Timestamp,
    /// The present moment: nothing is held beyond it.
    pub now: Timestamp,
    /// Width in physical pixels.
    pub pixels: usize,
}

/// How neighbouring values are joined.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Join {
    /// A value holds until the next one: what an instrument reports.
    Held,
    /// A straight line: values computed at single moments.
    Straight,
}

impl View {
    /// Width of one pixel column in nanoseconds, at least one.
    pub(super) fn column_ns(&self) -> i64 {
        let pixels = i64::try_from(self.pixels.max(1)).unwrap_or(i64::MAX);
        ((self.to - self.from).as_nanos() / pixels).max(1)
    }

    pub(super) fn is_empty(&self) -> bool {
        self.to <= self.from
    }
}

/// The points that show `trace` in `view`, one list for each unbroken stretch.
pub fn runs(trace: &Trace, view: &View, join: Join) -> Vec<Run> {
    if view.is_empty() || trace.is_empty() {
        return Vec::new();
    }
    if count_between(trace, view.from, view.to) > view.pixels {
        run_of_columns(trace, view, join)
    } else {
        every_point(trace, view, join)
    }
}

/// The band `centre ± half` in `view`. Both curves have their values at the same moments; a moment
/// that only one of them has is left out. Where many values share a pixel column, the column gets
/// the widest edges of all of them.
pub fn band(centre: &Trace, half: &Trace, view: &View) -> Vec<BandRun> {
    if view.is_empty() {
        Vec::new()
    } else if count_between(centre, view.from, view.to) > view.pixels {
        band_of_columns(
            &columns(centre, view),
            &columns(half, view),
            view.column_ns(),
        )
    } else {
        band_of_points(centre, half, view)
    }
}

fn band_of_points(centre: &Trace, half: &Trace, view: &View) -> Vec<BandRun> {
    let mut halves = half.between(view.from, view.to).peekable();
    let mut out = vec![Vec::new()];
    for point in centre.between(view.from, view.to) {
        while halves.next_if(|half| half.at < point.at).is_some() {}
        let Some(half) = halves.next_if(|half| half.at == point.at) else {
            continue;
        };
        if point.after_gap {
            out.push(Vec::new());
        }
        let size = half.value.abs();
        if let Some(run) = out.last_mut() {
            run.push([
                point.at.as_secs_f64(),
                point.value - size,
                point.value + size,
            ]);
        }
    }
    out.retain(|run| !run.is_empty());
    out
}

fn band_of_columns(centres: &[Column<'_>], halves: &[Column<'_>], width_ns: i64) -> Vec<BandRun> {
    let mut halves = halves.iter().peekable();
    let mut out = vec![Vec::new()];
    for centre in centres {
        while halves.next_if(|half| half.index < centre.index).is_some() {}
        let here = halves.clone().take_while(|half| half.index == centre.index);
        let size = here
            .map(|half| half.low.abs().max(half.high.abs()))
            .reduce(f64::max);
        let Some(size) = size else { continue };
        if centre.after_gap {
            out.push(Vec::new());
        }
        if let Some(run) = out.last_mut() {
            run.push([
                centre.middle_s(width_ns),
                centre.low - size,
                centre.high + size,
            ]);
        }
    }
    out.retain(|run: &BandRun| !run.is_empty());
    out
}

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
fn visible_chunks(trace: &Trace, from: Timestamp, to: Timestamp) -> &[Arc<Chunk>] {
    let chunks = trace.chunks();
    let start =
        chunks.partition_point(|chunk| chunk.points.last().is_some_and(|last| last.at < from));
    let end =
        chunks.partition_point(|chunk| chunk.points.first().is_some_and(|first| first.at <= to));
    &chunks[start..end.max(start)]
}

/// Until when the last value of a run is shown.
fn held_until(point: Point, hold: Span, limit: Timestamp) -> f64 {
    (point.at + hold).min(limit).max(point.at).as_secs_f64()
}

fn every_point(trace: &Trace, view: &View, join: Join) -> Vec<Run> {
    let mut out = Vec::new();
    let mut run: Run = Vec::new();
    let mut before: Option<Point> = None;
    for point in trace.between(view.from, view.to) {
        let x = point.at.as_secs_f64();
        match before {
            Some(last) if point.after_gap => {
                if join == Join::Held {
                    run.push([held_until(last, trace.hold(), point.at), last.value]);
                }
                out.push(std::mem::take(&mut run));
            }
            Some(last) if join == Join::Held => run.push([x, last.value]),
            _ => {}
        }
        run.push([x, point.value]);
        before = Some(point);
    }
    if let Some(last) = before {
        if join == Join::Held {
            run.push([
                held_until(last, trace.hold(), view.now.max(last.at)),
                last.value,
            ]);
        }
        out.push(run);
    }
    if join == Join::Held {
        cut(&mut out, view);
    }
    out
}

/// Held values are level, so a line that begins or ends far outside can begin or end just outside
/// the view. A dashed line would otherwise be dashed for hours where nobody sees it.
fn cut(runs: &mut [Run], view: &View) {
    let margin = Span::from_nanos(view.column_ns());
    let from = (view.from - margin).as_secs_f64();
    let to = (view.to + margin).as_secs_f64();
    for [x, _] in runs.iter_mut().flatten() {
        *x = x.clamp(from, to);
    }
}

/// The part of a pixel column that cannot be seen: a column is one physical pixel.
const UNSEEN: i64 = 4;

/// The values of one pixel column, or those of them on one side of a gap.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Column<'a> {
    /// Number of the column, counted from the beginning of the session.
    index: i64,
    pub(super) low: f64,
    pub(super) high: f64,
    /// When the first of its values was reported.
    first_at: Timestamp,
    /// The last of its values. Only looked at where a run ends: fetching every one of them from
    /// memory would cost more than all the rest.
    last: &'a Point,
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

fn run_of_columns(trace: &Trace, view: &View, join: Join) -> Vec<Run> {
    let width_ns = view.column_ns();
    let mut out = Vec::new();
    let mut run: Run = Vec::new();
    let mut before: Option<&Point> = None;
    for column in columns(trace, view) {
        if let Some(last) = before.filter(|_| column.after_gap) {
            end_run(&mut run, *last, trace.hold(), column.first_at, join);
            out.push(std::mem::take(&mut run));
        }
        let x = column.middle_s(width_ns);
        let (low, high) = (column.low, column.high);
        let from_above = run
            .last()
            .is_some_and(|[_, y]| (y - high).abs() < (y - low).abs());
        let (first, second) = if from_above { (high, low) } else { (low, high) };
        run.push([x, first]);
        if first != second {
            run.push([x, second]);
        }
        before = Some(column.last);
    }
    if let Some(last) = before {
        end_run(&mut run, *last, trace.hold(), view.now.max(last.at), join);
        out.push(run);
    }
    out
}

/// The last value of a run is shown for as long as it is held.
fn end_run(run: &mut Run, last: Point, hold: Span, limit: Timestamp, join: Join) {
    if join == Join::Straight {
        return;
    }
    let x = held_until(last, hold, limit);
    if run.last().is_none_or(|end| end[0] < x) {
        run.push([x, last.value]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const HOLD: Span = Span::from_millis(2500);

    fn trace(points: impl IntoIterator<Item = (i64, f64)>) -> Trace {
        let mut trace = Trace::new(HOLD);
        for (millis, value) in points {
            trace.push(Timestamp::from_millis(millis), value);
        }
        trace
    }

    fn view(from_s: i64, to_s: i64, pixels: usize) -> View {
        let to = Timestamp::from_secs(to_s);
        View {
            from: Timestamp::from_secs(from_s),
            to,
            now: to,
            pixels,
        }
    }

    #[test]
    fn a_value_is_held_until_the_next_and_then_for_its_hold_time() {
        let trace = trace([(1000, 100.0), (2000, 200.0)]);
        assert_eq!(
            runs(&trace, &view(0, 60, 500), Join::Held),
            vec![vec![[1.0, 100.0], [2.0, 100.0], [2.0, 200.0], [4.5, 200.0]]]
        );
        assert_eq!(
            runs(&trace, &view(0, 60, 500), Join::Straight),
            vec![vec![[1.0, 100.0], [2.0, 200.0]]]
        );
        let early = View {
            now: Timestamp::from_secs(3),
            ..view(0, 60, 500)
        };
        assert_eq!(
            runs(&trace, &early, Join::Held)[0].last(),
            Some(&[3.0, 200.0])
        );
    }

    #[test]
    fn what_was_asked_for_an_hour_ago_begins_at_the_edge_of_the_view() {
        let mut target = Trace::new(Span::MAX);
        target.push(Timestamp::ZERO, 200.0);
        let runs = runs(&target, &view(3600, 3720, 120), Join::Held);
        assert_eq!(runs, vec![vec![[3599.0, 200.0], [3720.0, 200.0]]]);
    }

    #[test]
    fn a_gap_is_drawn_as_a_gap() {
        let trace = trace([(0, 1.0), (1000, 2.0), (9000, 3.0)]);
        let runs = runs(&trace, &view(0, 20, 500), Join::Held);
        assert_eq!(runs.len(), 2);
        assert_eq!(runs[0].last(), Some(&[3.5, 2.0]));
        assert_eq!(runs[1].first(), Some(&[9.0, 3.0]));
    }

    #[test]
    fn a_gap_stays_a_gap_where_many_points_share_a_pixel() {
        let before = (0..4000).map(|i| (i * 250, 200.0 + (i % 7) as f64));
        let after = (0..4000).map(|i| (1_600_000 + i * 250, 210.0));
        let trace = trace(before.chain(after));
        let runs = runs(&trace, &view(0, 2600, 400), Join::Held);
        assert_eq!(runs.len(), 2);
        assert!(runs[0].last().unwrap()[0] <= 1003.0);
        assert!(runs[1].first().unwrap()[0] >= 1600.0);
        let points: usize = runs.iter().map(Vec::len).sum();
        assert!(points <= 2 * 402 + 2, "{points} points for 400 pixels");
    }

    #[test]
    fn a_single_peak_among_a_hundred_thousand_points_is_drawn() {
        let trace = trace((0..144_000).map(|i| (i * 250, if i == 77_777 { 999.0 } else { 200.0 })));
        let runs = runs(&trace, &view(0, 36_000, 1000), Join::Held);
        let top = runs.iter().flatten().map(|p| p[1]).fold(0.0, f64::max);
        assert_eq!(top, 999.0);
    }

    #[test]
    fn columns_stay_where_they_are_while_the_view_moves() {
        let trace = trace((0..20_000).map(|i| (i * 250, ((i * 37) % 101) as f64)));
        let wide = |from| runs(&trace, &view(from, from + 4000, 400), Join::Held);
        let inner = |runs: Vec<Run>| -> Vec<[f64; 2]> {
            runs.into_iter()
                .flatten()
                .filter(|p| p[0] > 500.0 && p[0] < 3000.0)
                .collect()
        };
        let sorted = |mut points: Vec<[f64; 2]>| {
            points.sort_by(|a, b| a.partial_cmp(b).unwrap());
            points
        };
        assert_eq!(sorted(inner(wide(0))), sorted(inner(wide(130))));
    }

    #[test]
    fn a_band_is_split_at_gaps_and_merged_within_a_pixel() {
        let centre = trace([(0, 1.0), (1000, 2.0), (9000, 3.0), (10_000, 4.0)]);
        let half = trace([(0, 0.5), (1000, 0.5), (9000, 1.0)]);
        assert_eq!(
            band(&centre, &half, &view(0, 20, 500)),
            vec![
                vec![[0.0, 0.5, 1.5], [1.0, 1.5, 2.5]],
                vec![[9.0, 2.0, 4.0]]
            ]
        );
        assert_eq!(
            band(&centre, &half, &view(0, 20, 2)),
            vec![vec![[5.0, 0.0, 3.0]], vec![[5.0, 2.0, 4.0]]]
        );
    }

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

    proptest! {
        /// Whatever the data and the width: times never go back within a run, values are finite,
        /// the extremes of the whole are drawn, and the number of points is bounded by the pixels.
        #[test]
        fn nothing_is_lost_and_nothing_is_invented(
            steps in proptest::collection::vec((50i64..4000, -50.0f64..900.0), 1..3000),
            pixels in 1usize..300,
        ) {
            let mut millis = 0;
            let trace = trace(steps.iter().map(|&(step, value)| {
                millis += step;
                (millis, value)
            }));
            let to = Timestamp::from_millis(millis);
            let view = View { from: Timestamp::ZERO, to, now: to, pixels };
            let drawn = runs(&trace, &view, Join::Held);
            for run in &drawn {
                prop_assert!(run.windows(2).all(|pair| pair[0][0] <= pair[1][0] + 1e-9));
                prop_assert!(run.iter().flatten().all(|number| number.is_finite()));
            }
            let [low, high] = extent(&trace, Timestamp::ZERO, to).unwrap();
            let values = || drawn.iter().flatten().map(|p| p[1]);
            prop_assert_eq!(values().fold(f64::MAX, f64::min), low);
            prop_assert_eq!(values().fold(f64::MIN, f64::max), high);
            let gaps = drawn.len();
            let points: usize = drawn.iter().map(Vec::len).sum();
            prop_assert!(points <= 4 * pixels + 8 + 3 * gaps);
        }
    }
}
