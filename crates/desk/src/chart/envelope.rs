//! Curves with more values than pixel columns, as the strip between the extremes of every column.
//!
//! A line through the extremes would turn at each of them; the strip looks the same and is a
//! quarter of the work for whoever draws it, thirty times a second. What is true of the points is
//! true of the strip: no peak is lost, and a gap ends one strip and begins the next.

use super::bands::BandRun;
use super::columns::columns;
use super::graph::Drawn;
use super::values::count_between;
use super::view::View;
use crate::theme::tokens;
use bench::trace::Trace;
use egui::{Color32, Mesh, Shape, pos2};

/// Where values stand closer than this many to a pixel, their steps can no longer be seen.
const DENSE: f64 = 0.6;

/// Whether a curve is better drawn as a strip than as a line.
pub fn is_dense(trace: &Trace, view: &View) -> bool {
    let count = count_between(trace, view.from, view.to);
    !view.is_empty() && count as f64 > DENSE * view.pixels as f64
}

/// The strips that show `trace` in `view`, one for each unbroken stretch: seconds since the session
/// began, lowest and highest value.
pub fn envelope(trace: &Trace, view: &View) -> Vec<BandRun> {
    let width_ns = view.column_ns();
    let mut out: Vec<BandRun> = Vec::new();
    for column in columns(trace, view) {
        let mut edges = [column.low, column.high];
        match out.last_mut().filter(|_| !column.after_gap) {
            Some(run) => {
                // A jump between two columns is part of the curve.
                if let Some([_, low, high]) = run.last() {
                    edges = [edges[0].min(*high), edges[1].max(*low)];
                }
                run.push([column.middle_s(width_ns), edges[0], edges[1]]);
            }
            None => out.push(vec![[column.middle_s(width_ns), edges[0], edges[1]]]),
        }
    }
    out
}

/// Draws strips with soft edges, as thick as a curve where their extremes are close.
pub fn strips(drawn: &Drawn, runs: &[BandRun], ink: Color32, pixels_per_point: f32) -> Shape {
    let soft = 0.5 / pixels_per_point;
    let inner = 0.5 * tokens::CURVE - soft;
    let outer = 0.5 * tokens::CURVE + soft;
    let strip = |run: &BandRun| {
        let mut mesh = Mesh::default();
        mesh.reserve_vertices(4 * run.len() + 4);
        mesh.reserve_triangles(6 * run.len());
        let mut add = |x: f32, top: f32, bottom: f32| {
            for (y, ink) in [
                (top - outer, Color32::TRANSPARENT),
                (top - inner, ink),
                (bottom + inner, ink),
                (bottom + outer, Color32::TRANSPARENT),
            ] {
                mesh.colored_vertex(pos2(x, y), ink);
            }
            let end = mesh.vertices.len() as u32;
            if let Some(here) = end.checked_sub(8) {
                for edge in here..here + 3 {
                    mesh.add_triangle(edge, edge + 1, edge + 4);
                    mesh.add_triangle(edge + 1, edge + 4, edge + 5);
                }
            }
        };
        for [x, low, high] in run {
            add(drawn.x(*x), drawn.y(*high), drawn.y(*low));
        }
        // A column that stands alone would be a strip without width.
        if let [[x, low, high]] = run.as_slice() {
            add(drawn.x(*x) + tokens::CURVE, drawn.y(*high), drawn.y(*low));
        }
        Shape::mesh(mesh)
    };
    Shape::Vec(runs.iter().map(strip).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use units::{Span, Timestamp};

    fn trace(points: impl IntoIterator<Item = (i64, f64)>) -> Trace {
        let mut trace = Trace::new(Span::from_millis(2500));
        for (millis, value) in points {
            trace.push(Timestamp::from_millis(millis), value);
        }
        trace
    }

    fn view(to_s: i64, pixels: usize) -> View {
        let to = Timestamp::from_secs(to_s);
        View {
            from: Timestamp::ZERO,
            to,
            now: to,
            pixels,
        }
    }

    #[test]
    fn a_jump_is_whole_and_a_gap_is_empty() {
        let jump = trace((0..80).map(|i| (i * 250, if i < 40 { 100.0 } else { 300.0 })));
        let strips = envelope(&jump, &view(20, 10));
        assert_eq!(strips.len(), 1);
        let heights: Vec<_> = strips[0]
            .iter()
            .map(|[_, low, high]| (*low, *high))
            .collect();
        assert_eq!(heights[4], (100.0, 100.0));
        assert_eq!(heights[5], (100.0, 300.0));
        assert_eq!(heights[6], (300.0, 300.0));
        let gap = trace(
            (0..80)
                .filter(|i| !(20..60).contains(i))
                .map(|i| (i * 250, 100.0)),
        );
        assert_eq!(envelope(&gap, &view(20, 10)).len(), 2);
    }

    #[test]
    fn few_values_are_no_strip() {
        let few = trace((0..20).map(|i| (i * 1000, 1.0)));
        assert!(!is_dense(&few, &view(20, 100)));
        assert!(is_dense(&few, &view(20, 20)));
        assert!(!is_dense(&few, &view(0, 1)));
    }

    proptest! {
        /// The extremes of the whole are those of the strips, and there are no more columns than
        /// pixels.
        #[test]
        fn no_peak_is_lost(
            steps in proptest::collection::vec((50i64..4000, -50.0f64..900.0), 1..2000),
            pixels in 1usize..300,
        ) {
            let mut millis = 0;
            let points: Vec<_> = steps.iter().map(|&(step, value)| {
                millis += step;
                (millis, value)
            }).collect();
            let values = || points.iter().map(|point| point.1);
            let to = Timestamp::from_millis(millis);
            let view = View { from: Timestamp::ZERO, to, now: to, pixels };
            let strips = envelope(&trace(points.iter().copied()), &view);
            let all = || strips.iter().flatten();
            prop_assert_eq!(all().map(|s| s[1]).fold(f64::MAX, f64::min), values().fold(f64::MAX, f64::min));
            prop_assert_eq!(all().map(|s| s[2]).fold(f64::MIN, f64::max), values().fold(f64::MIN, f64::max));
            let gaps = strips.len();
            prop_assert!(all().count() <= pixels + 2 + gaps);
            prop_assert!(strips.iter().all(|run| run.windows(2).all(|two| two[0][0] <= two[1][0])));
        }
    }
}
