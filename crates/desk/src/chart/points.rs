//! From a curve, a stretch of time and a width in pixels to the points that are drawn.
//!
//! Where a pixel column holds few values every one of them is drawn, held from one to the next.
//! Where it holds many, the column gets its smallest and largest value, so no peak and no drop-out
//! is lost. A gap ends one run of points and begins the next; nothing is drawn across it and no
//! not-a-number stands for it.
//!
//! What is absent, on purpose: colours, screens, and any memory from one frame to the next.

use super::columns::columns;
use super::values::count_between;
use super::view::View;
use bench::trace::{Point, Trace};
use units::{Span, Timestamp};

/// An unbroken line: pairs of seconds since the session began and value.
pub type Run = Vec<[f64; 2]>;

/// How neighbouring values are joined.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Join {
    /// A value holds until the next one: what an instrument reports.
    Held,
    /// A straight line: values computed at single moments.
    Straight,
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
    use crate::chart::sample::{trace, view};
    use crate::chart::values::extent;
    use proptest::prelude::*;

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
