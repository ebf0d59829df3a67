//! The layers of a plot, one drawing each.

use super::canvas::{Canvas, Pen, num};
use super::glyph;
use super::inks::dashes;
use super::thin::thin;
use super::ticks::Kind;
use analysis::outcome::{Ink, Layer};
use std::collections::HashSet;

/// From the units of the axes to places in the picture.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Frame {
    /// Left, top, right and bottom of the plot's area.
    pub(crate) area: [f64; 4],
    /// Range of the horizontal axis.
    pub(crate) x: [f64; 2],
    /// Range of the vertical axis.
    pub(crate) y: [f64; 2],
    /// Pixels across the area, for thinning.
    pub(crate) columns: usize,
    /// Size of the text relative to 13.
    pub(crate) unit: f64,
    /// What the numbers of the horizontal axis are.
    pub(crate) x_kind: Kind,
}

impl Frame {
    pub(crate) fn at_x(&self, x: f64) -> f64 {
        let [left, _, right, _] = self.area;
        let [low, high] = self.x;
        let share = match self.x_kind {
            Kind::Logarithmic if low > 0.0 => {
                (x.max(f64::MIN_POSITIVE) / low).ln() / (high / low).ln()
            }
            _ => (x - low) / (high - low),
        };
        left + share * (right - left)
    }

    pub(crate) fn at_y(&self, y: f64) -> f64 {
        let [_, top, _, bottom] = self.area;
        bottom - (y - self.y[0]) / (self.y[1] - self.y[0]) * (bottom - top)
    }

    fn at(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        [self.at_x(x), self.at_y(y)]
    }
}

/// Above so many points each is drawn as a faint dot.
const MANY: usize = 250;

/// Width of a line: thin where several runs share their x, as repeats and envelopes do.
pub(crate) fn weight(ink: Ink, runs: &[Vec<[f64; 2]>]) -> f64 {
    let ends = |run: &Vec<[f64; 2]>| Some((run.first()?[0], run.last()?[0]));
    let overlaps = runs
        .windows(2)
        .any(|pair| match (ends(&pair[0]), ends(&pair[1])) {
            (Some((a0, a1)), Some((b0, b1))) => a0 < b1 && b0 < a1,
            _ => false,
        });
    match ink {
        Ink::Tolerance => 1.0,
        _ if overlaps => 0.8,
        Ink::UnderTest | Ink::Reference | Ink::SecondReference => 1.7,
        _ => 1.4,
    }
}

/// The fill of a band.
pub(crate) fn band_fill(canvas: &Canvas, ink: Ink) -> &'static str {
    match ink {
        Ink::Tolerance | Ink::Target | Ink::Excluded => canvas.inks.tolerance,
        _ => canvas.inks.uncertainty,
    }
}

/// Draws what lies behind the grid: bands.
pub(crate) fn behind(canvas: &mut Canvas, frame: &Frame, layer: &Layer) {
    let Layer::Band { ink, low, high, .. } = layer else {
        return;
    };
    if !low.is_finite() || !high.is_finite() {
        return;
    }
    let [left, top, right, bottom] = frame.area;
    let from = frame.at_y(low.max(*high)).clamp(top, bottom);
    let to = frame.at_y(low.min(*high)).clamp(top, bottom);
    canvas.rect(
        [left, from, right - left, to - from],
        band_fill(canvas, *ink),
    );
    if *ink == Ink::Tolerance {
        let pen = Pen::new(canvas.inks.edge, frame.unit);
        for edge in [*low, *high] {
            if edge >= frame.y[0] && edge <= frame.y[1] {
                let y = frame.at_y(edge);
                canvas.line([left, y], [right, y], pen);
            }
        }
    }
}

/// Draws what lies over the grid: lines, points, intervals and levels.
/// `turn` counts the layers of marks of one ink: each has its own shape.
pub(crate) fn over(canvas: &mut Canvas, frame: &Frame, layer: &Layer, turn: usize) {
    match layer {
        Layer::Line { ink, runs, .. } => line(canvas, frame, *ink, runs),
        Layer::Points { ink, points, .. } => marks(canvas, frame, (*ink, turn), points),
        Layer::Intervals { ink, intervals, .. } => bars(canvas, frame, (*ink, turn), intervals),
        Layer::Level { ink, at, .. } if at.is_finite() => {
            let [left, _, right, _] = frame.area;
            let y = frame.at_y(*at);
            let color = if *ink == Ink::Reference {
                canvas.inks.edge
            } else {
                canvas.inks.of(*ink)
            };
            let pen = Pen::new(color, 1.25 * frame.unit).dashed(dashes(*ink));
            canvas.line([left, y], [right, y], pen);
        }
        Layer::Level { .. } | Layer::Band { .. } | Layer::Span { .. } => {}
    }
}

fn line(canvas: &mut Canvas, frame: &Frame, ink: Ink, runs: &[Vec<[f64; 2]>]) {
    let drawn: Vec<Vec<[f64; 2]>> = runs
        .iter()
        .flat_map(|run| run.split(|[x, y]| !x.is_finite() || !y.is_finite()))
        .filter(|run| !run.is_empty())
        .map(|run| {
            thin(run, frame.x, frame.columns)
                .into_iter()
                .map(|p| frame.at(p))
                .collect()
        })
        .collect();
    let dense = drawn.iter().map(Vec::len).sum::<usize>() > 2 * frame.columns;
    // A long raw line over another one is thin, so that both are seen.
    let width = match (dense, ink) {
        (true, Ink::UnderTest) => 1.7,
        (true, _) => 0.7,
        (false, _) => weight(ink, runs),
    };
    let width = width * frame.unit;
    let pen = Pen::new(canvas.inks.of(ink), width).dashed(dashes(ink));
    canvas.polyline(&drawn, pen);
}

fn marks(canvas: &mut Canvas, frame: &Frame, (ink, turn): (Ink, usize), points: &[[f64; 2]]) {
    let finite = points
        .iter()
        .filter(|[x, y]| x.is_finite() && y.is_finite());
    let placed: Vec<[f64; 2]> = finite.map(|point| frame.at(*point)).collect();
    if placed.len() <= MANY {
        for at in placed {
            glyph::point(canvas, (ink, turn), at, 3.2 * frame.unit);
        }
        return;
    }
    // One dot per half unit is all that can be seen.
    let mut seen = HashSet::new();
    let dots: Vec<[f64; 2]> = placed
        .into_iter()
        .filter(|[x, y]| seen.insert(((2.0 * x).round() as i64, (2.0 * y).round() as i64)))
        .collect();
    canvas.raw("<g opacity=\"0.55\">\n");
    canvas.dots(&dots, Pen::new(canvas.inks.of(ink), 2.6 * frame.unit));
    canvas.raw("</g>\n");
}

/// How far apart bars are put that share their x, and how far at most from it.
const APART: f64 = 7.0;
const FARTHEST: f64 = 21.0;

/// How far each bar is moved sideways, so that bars of one x stand beside each other.
fn aside(intervals: &[[f64; 4]]) -> Vec<f64> {
    let same = |a: f64, b: f64| (a - b).abs() <= 1e-6 * a.abs().max(b.abs()).max(1e-9);
    let mut groups: Vec<(f64, usize)> = Vec::new();
    let mut places = Vec::with_capacity(intervals.len());
    for [x, ..] in intervals {
        match groups
            .iter_mut()
            .enumerate()
            .find(|(_, (at, _))| same(*at, *x))
        {
            Some((group, (_, count))) => {
                places.push((group, *count));
                *count += 1;
            }
            None => {
                places.push((groups.len(), 0));
                groups.push((*x, 1));
            }
        }
    }
    let move_by = |(group, place): (usize, usize)| {
        let others = groups.get(group).map_or(0, |(_, count)| count - 1) as f64;
        let apart = if others > 0.0 {
            APART.min(2.0 * FARTHEST / others)
        } else {
            0.0
        };
        (place as f64 - 0.5 * others) * apart
    };
    places.into_iter().map(move_by).collect()
}

fn bars(canvas: &mut Canvas, frame: &Frame, (ink, turn): (Ink, usize), intervals: &[[f64; 4]]) {
    let [_, top, _, bottom] = frame.area;
    let color = canvas.inks.of(ink);
    let crowded = intervals.len() > MANY;
    let unit = frame.unit;
    let pen = Pen::new(color, if crowded { 0.6 } else { 1.25 } * unit);
    let cap = if crowded { 0.0 } else { 3.0 * unit };
    let aside = if crowded {
        vec![0.0; intervals.len()]
    } else {
        aside(intervals)
    };
    for (interval, aside) in intervals.iter().zip(aside) {
        if interval.iter().any(|value| !value.is_finite()) {
            continue;
        }
        let [x, low, middle, high] = *interval;
        let x = frame.at_x(x) + aside * unit;
        let (low, high) = (frame.at_y(low), frame.at_y(high));
        let (from, to) = (low.clamp(top, bottom), high.clamp(top, bottom));
        canvas.line([x, from], [x, to], pen);
        // An end that leaves the plot is an arrow head, not a cap.
        end(canvas, [x, from], (low - from).abs() > 0.01, cap, 1.0, pen);
        end(canvas, [x, to], (high - to).abs() > 0.01, cap, -1.0, pen);
        let radius = if crowded { 1.6 } else { 3.2 } * unit;
        glyph::point(canvas, (ink, turn), [x, frame.at_y(middle)], radius);
    }
}

fn end(canvas: &mut Canvas, [x, y]: [f64; 2], leaves: bool, cap: f64, down: f64, pen: Pen) {
    if cap <= 0.0 {
        return;
    }
    if leaves {
        let back = y - 1.5 * cap * down;
        let path = format!(
            "M{} {}L{} {}L{} {}",
            num(x - cap),
            num(back),
            num(x),
            num(y),
            num(x + cap),
            num(back)
        );
        canvas.path(&path, "none", Some(pen));
    } else {
        canvas.line([x - cap, y], [x + cap, y], pen);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_of_one_place_stand_beside_each_other() {
        let at = |x: f64| [x, 0.0, 1.0, 2.0];
        assert_eq!(aside(&[at(200.0), at(100.0), at(200.0)]), [-3.5, 0.0, 3.5]);
        let many = aside(&[at(90.0); 50]);
        assert!(many.iter().all(|by| by.abs() <= FARTHEST + 1e-9));
    }

    #[test]
    fn a_logarithmic_axis_gives_every_decade_the_same_room() {
        let frame = Frame {
            area: [0.0, 0.0, 300.0, 100.0],
            x: [1.0, 1000.0],
            y: [0.0, 1.0],
            columns: 300,
            unit: 1.0,
            x_kind: Kind::Logarithmic,
        };
        assert!((frame.at_x(10.0) - 100.0).abs() < 1e-9);
        assert!((frame.at_x(100.0) - 200.0).abs() < 1e-9);
        assert!(frame.at_x(0.0).is_finite());
    }
}
