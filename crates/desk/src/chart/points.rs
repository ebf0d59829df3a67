//! From a curve, a stretch of time and a width in pixels to the points that are drawn.
//!
//! Where a pixel column holds few values every one of them is drawn, held from one to the next.
//! Where it holds many, the column gets its smallest and largest value, so no peak and no drop-out
//! is lost. Columns are counted from the beginning of the session and not from the edge of the
//! view, so a curve does not shimmer while it moves. A gap ends one run of points and begins the
//! next; nothing is drawn across it and no not-a-number stands for it.
//!
//! What is absent, on purpose: colours, screens, and any memory from one frame to the next.

use bench::trace::{Chunk, Point, Trace};
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
    fn column_ns(&self) -> i64 {
        let pixels = i64::try_from(self.pixels.max(1)).unwrap_or(i64::MAX);
        ((self.to - self.from).as_nanos() / pixels).max(1)
    }

    fn is_empty(&self) -> bool {
        self.to <= self.from
    }
}

/// The points that show `trace` in `view`, one list for each unbroken stretch.
pub fn runs(trace: &Trace, view: &View, join: Join) -> Vec<Run> {
    if view.is_empty() || trace.is_empty() {
        return Vec::new();
    }
    if count_between(trace, view.from, view.to) > view.pixels {
        columns(trace, view, join)
    } else {
        every_point(trace, view, join)
    }
}

/// The band `centre ± half` in `view`. Both curves have their values at the same moments; a moment
/// that only one of them has is left out.
pub fn band(centre: &Trace, half: &Trace, view: &View) -> Vec<BandRun> {
    if view.is_empty() {
        return Vec::new();
    }
    let mut halves = half.between(view.from, view.to).peekable();
    let mut out = Vec::new();
    let mut run: BandRun = Vec::new();
    let width = view.column_ns();
    let mut column = None;
    for point in centre.between(view.from, view.to) {
        while halves.next_if(|half| half.at < point.at).is_some() {}
        let Some(half) = halves.next_if(|half| half.at == point.at) else {
            continue;
        };
        if point.after_gap && !run.is_empty() {
            out.push(std::mem::take(&mut run));
            column = None;
        }
        let edges = [
            point.value - half.value.abs(),
            point.value + half.value.abs(),
        ];
        let here = point.at.as_nanos().div_euclid(width);
        match run.last_mut() {
            Some(last) if column == Some(here) => {
                last[1] = last[1].min(edges[0]);
                last[2] = last[2].max(edges[1]);
            }
            _ => run.push([point.at.as_secs_f64(), edges[0], edges[1]]),
        }
        column = Some(here);
    }
    if !run.is_empty() {
        out.push(run);
    }
    out
}

/// Smallest and largest value in a stretch of time, one neighbour on each side included.
pub fn extent(trace: &Trace, from: Timestamp, to: Timestamp) -> Option<[f64; 2]> {
    let mut found: Option<[f64; 2]> = None;
    let mut widen = |low: f64, high: f64| {
        found = Some(found.map_or([low, high], |[l, h]| [l.min(low), h.max(high)]));
    };
    for chunk in visible_chunks(trace, from, to) {
        let inside = chunk.points.first().is_some_and(|first| first.at >= from)
            && chunk.points.last().is_some_and(|last| last.at <= to);
        if inside {
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

/// Number of points in a stretch of time, counted without visiting them all.
fn count_between(trace: &Trace, from: Timestamp, to: Timestamp) -> usize {
    let inside = |points: &[Point]| {
        let start = points.partition_point(|point| point.at < from);
        points
            .partition_point(|point| point.at <= to)
            .saturating_sub(start)
    };
    visible_chunks(trace, from, to)
        .map(|chunk| inside(&chunk.points))
        .sum::<usize>()
        + inside(trace.tail())
}

fn visible_chunks(trace: &Trace, from: Timestamp, to: Timestamp) -> impl Iterator<Item = &Chunk> {
    let chunks = trace.chunks();
    let start = chunks
        .partition_point(|chunk| chunk.points.last().is_some_and(|last| last.at < from))
        .min(chunks.len());
    chunks[start..]
        .iter()
        .map(AsRef::as_ref)
        .take_while(move |chunk| chunk.points.first().is_some_and(|first| first.at <= to))
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
    out
}

/// Collects the extremes of one pixel column after another.
struct Columns {
    width_ns: i64,
    column: i64,
    extremes: Option<[f64; 2]>,
    last: Option<Point>,
    run: Run,
    out: Vec<Run>,
}

impl Columns {
    fn flush(&mut self) {
        let Some([low, high]) = self.extremes.take() else {
            return;
        };
        let x = (self.column as f64 + 0.5) * self.width_ns as f64 / 1e9;
        let from_above = self
            .run
            .last()
            .is_some_and(|[_, y]| (y - high).abs() < (y - low).abs());
        let (first, second) = if from_above { (high, low) } else { (low, high) };
        self.run.push([x, first]);
        if first != second {
            self.run.push([x, second]);
        }
    }

    fn add(&mut self, column: i64, low: f64, high: f64) {
        if column != self.column {
            self.flush();
            self.column = column;
        }
        self.extremes = Some(
            self.extremes
                .map_or([low, high], |[l, h]| [l.min(low), h.max(high)]),
        );
    }

    fn point(&mut self, point: Point, hold: Span, join: Join) {
        if point.after_gap
            && let Some(last) = self.last
        {
            self.end_run(last, hold, point.at, join);
        }
        self.add(
            point.at.as_nanos().div_euclid(self.width_ns),
            point.value,
            point.value,
        );
        self.last = Some(point);
    }

    fn end_run(&mut self, last: Point, hold: Span, limit: Timestamp, join: Join) {
        self.flush();
        if join == Join::Held {
            let x = held_until(last, hold, limit);
            if self.run.last().is_none_or(|end| end[0] < x) {
                self.run.push([x, last.value]);
            }
        }
        if !self.run.is_empty() {
            self.out.push(std::mem::take(&mut self.run));
        }
    }
}

fn columns(trace: &Trace, view: &View, join: Join) -> Vec<Run> {
    let width_ns = view.column_ns();
    let mut columns = Columns {
        width_ns,
        column: i64::MIN,
        extremes: None,
        last: None,
        run: Vec::new(),
        out: Vec::new(),
    };
    let hold = trace.hold();
    // One pixel more on each side, so that the line reaches both edges.
    let margin = Span::from_nanos(width_ns);
    let (from, to) = (view.from - margin, view.to + margin);
    let column_of = |point: &Point| point.at.as_nanos().div_euclid(width_ns);
    for chunk in visible_chunks(trace, from, to) {
        for block in &chunk.blocks {
            let points = &chunk.points[block.start..block.end];
            let (Some(first), Some(last)) = (points.first(), points.last()) else {
                continue;
            };
            if last.at < from || first.at > to {
                continue;
            }
            let column = column_of(first);
            if !block.has_gap && column == column_of(last) {
                columns.add(column, block.low, block.high);
                columns.last = Some(*last);
            } else {
                points
                    .iter()
                    .for_each(|point| columns.point(*point, hold, join));
            }
        }
    }
    for point in trace
        .tail()
        .iter()
        .filter(|point| point.at >= from && point.at <= to)
    {
        columns.point(*point, hold, join);
    }
    if let Some(last) = columns.last {
        columns.end_run(last, hold, view.now.max(last.at), join);
    }
    columns.out
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
            vec![vec![[0.0, 0.5, 2.5]], vec![[9.0, 2.0, 4.0]]]
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
