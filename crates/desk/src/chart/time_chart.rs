//! One chart of a set that shares a time axis: a line of read-outs, curves, a cursor.

use super::bands::{BandRun, band};
use super::envelope::{self, envelope, is_dense};
use super::gestures;
pub use super::gestures::Wheel;
use super::graph::{self, Below, Dash, Drawn, Graph};
use super::pick::Height;
use super::points::{Join, Run, runs};
use super::ticks::{self, Tick};
use super::time_axis::TimeAxis;
use super::values::{extent, value_at};
use super::view::View;
use crate::parts::{Glyph, control, words};
use crate::theme::{self, tokens};
use bench::trace::Trace;
use egui::{Align2, Color32, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, vec2};
use units::Timestamp;

/// One curve with its name and its latest value in words.
pub struct Curve<'a> {
    /// Name in the line of read-outs.
    pub name: &'a str,
    /// Name where there is little room.
    pub short: &'a str,
    /// The values.
    pub trace: &'a Trace,
    /// What the values are multiplied by to be shown: 1, or from one unit to another.
    pub scale: f64,
    /// Ink.
    pub ink: Color32,
    /// How the line is broken up.
    pub dash: Dash,
    /// How values are joined.
    pub join: Join,
    /// From a value to the words of the read-out.
    pub say: fn(f64) -> String,
}

/// A stretch that is marked: a flag or an exclusion.
#[derive(Clone, Debug, PartialEq)]
pub struct Marked {
    /// Beginning.
    pub from: Timestamp,
    /// End.
    pub to: Timestamp,
    /// Shape above it.
    pub glyph: Glyph,
    /// Ink of the shape and of the hatching.
    pub ink: Color32,
    /// The words, shown when the pointer is on it.
    pub words: String,
    /// How it is marked.
    pub style: MarkStyle,
}

/// How a stretch is marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkStyle {
    /// Hatched, with its shape above: something is not as it should be.
    Hatched,
    /// Between two lines: this is the place that was asked for.
    Framed,
}

/// What one chart shows.
pub struct TimeChart<'a> {
    /// Unique within the page.
    pub id: &'a str,
    /// What is shown, with its unit.
    pub title: &'a str,
    /// Height with everything, points.
    pub height: f32,
    /// Bottom and top as they usually are; a height that was chosen goes before.
    pub y: [f64; 2],
    /// Whether marks at the left carry their sign.
    pub signs: Signs,
    /// Whether times stand below.
    pub below: Below,
    /// Curves, back to front.
    pub curves: Vec<Curve<'a>>,
    /// Half-width of a tolerance band around zero.
    pub tolerance: Option<f64>,
    /// A band around the curve of this index.
    pub band: Option<(&'a Trace, &'a Trace)>,
    /// Marked stretches.
    pub marked: Vec<Marked>,
    /// What the wheel does.
    pub wheel: Wheel,
}

/// Whether numbers at the left carry a plus.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Signs {
    /// Amounts.
    Without,
    /// Differences.
    With,
}

/// Height of the line of read-outs.
pub const HEAD: f32 = 3.0 * tokens::GRID;

/// A curve as it is drawn.
enum Figure {
    /// A line through every value.
    Line(Vec<Run>),
    /// A strip between the extremes of every pixel column.
    Strip(Vec<BandRun>),
}

/// Lowest and highest value in a stretch, as they are shown.
pub(crate) fn scaled_extent(curve: &Curve<'_>, from: Timestamp, to: Timestamp) -> Option<[f64; 2]> {
    extent(curve.trace, from, to).map(|ends| ends.map(|end| end * curve.scale))
}

fn figure(curve: &Curve<'_>, view: &View) -> Figure {
    if is_dense(curve.trace, view) {
        let mut runs = envelope(curve.trace, view);
        for [_, low, high] in runs.iter_mut().flatten() {
            *low *= curve.scale;
            *high *= curve.scale;
        }
        Figure::Strip(runs)
    } else {
        let mut runs = runs(curve.trace, view, curve.join);
        for [_, y] in runs.iter_mut().flatten() {
            *y *= curve.scale;
        }
        Figure::Line(runs)
    }
}

/// Draws a chart. Panning, zooming and the pointer change the shared axis.
pub fn time_chart(ui: &mut Ui, chart: &TimeChart<'_>, axis: &mut TimeAxis, now: Timestamp) {
    let t = theme::tokens(ui);
    let now_s = now.as_secs_f64();
    let shown_at = axis.pick.cursor().unwrap_or(now_s);
    read_outs(ui, chart, shown_at, axis.pick.cursor().is_some());
    let [from, to] = axis.moments(now);
    let x = axis.range(now_s);
    let width = (ui.available_width() - graph::LEFT).max(1.0);
    let pixels = (width * ui.pixels_per_point()).ceil() as usize;
    let view = View {
        from,
        to,
        now,
        pixels,
    };
    let band = chart.band.map(|(centre, half)| band(centre, half, &view));
    let band = band.unwrap_or_default();
    let x_ticks = ticks::time(x, (width / 96.0) as usize);
    let y = height(chart, axis, [from, to]);
    let y_ticks = y_ticks(chart, y);
    let frame = Graph {
        id: chart.id,
        height: (chart.height - HEAD).max(24.0),
        x,
        y,
        x_ticks: &x_ticks,
        y_ticks: &y_ticks,
        below: chart.below,
        sense: Sense::click_and_drag(),
    };
    let tolerance = chart.tolerance;
    let zero = (y[0] < 0.0 && y[1] > 0.0).then_some(Stroke::new(tokens::HAIR, t.edge));
    // Hatching lies under the curves, but where it lies is known only when the graph is laid out.
    let under = ui.painter().add(Shape::Noop);
    let drawn = graph::graph(ui, &frame, move |plot| {
        if let Some(half) = tolerance {
            graph::add_band(
                plot,
                &[[x[0], -half, half], [x[1], -half, half]],
                t.tolerance,
            );
            let edge = Stroke::new(tokens::HAIR, t.edge);
            for y in [-half, half] {
                graph::add_runs(plot, vec![vec![[x[0], y], [x[1], y]]], edge, Dash::Fine);
            }
        }
        for run in band {
            graph::add_band(plot, &run, t.uncertainty);
        }
        if let Some(zero) = zero {
            graph::add_runs(
                plot,
                vec![vec![[x[0], 0.0], [x[1], 0.0]]],
                zero,
                Dash::Solid,
            );
        }
    });
    drawn.response.widget_info(|| {
        WidgetInfo::labeled(Role::Image, true, format!("chart of {}", chart.title))
    });
    let (painter, scale) = (drawn.painter(ui), ui.pixels_per_point());
    for curve in &chart.curves {
        match figure(curve, &view) {
            Figure::Line(runs) => {
                let stroke = Stroke::new(tokens::CURVE, curve.ink);
                graph::paint_runs(&painter, &drawn, &runs, stroke, curve.dash);
            }
            Figure::Strip(runs) => {
                painter.add(envelope::strips(&drawn, &runs, curve.ink, scale));
            }
        }
    }
    let hatched = marks(ui, chart, &drawn);
    let ground = gestures::stretch_ground(ui, &drawn, axis);
    drawn
        .painter(ui)
        .set(under, Shape::Vec(vec![ground, hatched]));
    gestures::overlay(ui, &drawn, axis, chart.id);
    gestures::obey(ui, &drawn, axis, now_s, (chart.id, chart.wheel));
}

/// Bottom and top: what a box has chosen, or as close as the curves allow, or as usual.
fn height(chart: &TimeChart<'_>, axis: &TimeAxis, [from, to]: [Timestamp; 2]) -> [f64; 2] {
    match axis.pick.height(chart.id) {
        Some(Height::Held(y)) => y,
        Some(Height::Close) => {
            let extents = chart
                .curves
                .iter()
                .filter_map(|curve| scaled_extent(curve, from, to));
            let extent = extents.reduce(|[a, b], [c, d]| [a.min(c), b.max(d)]);
            extent.map_or(chart.y, |[low, high]| {
                let room = (0.08 * (high - low)).max(0.01 * high.abs()).max(0.1);
                [low - room, high + room]
            })
        }
        None => chart.y,
    }
}

fn y_ticks(chart: &TimeChart<'_>, y: [f64; 2]) -> Vec<Tick> {
    let most = ((chart.height - 48.0) / 32.0).clamp(3.0, 6.0) as usize;
    match chart.signs {
        Signs::Without => ticks::numbers(y, most),
        Signs::With => ticks::signed(y, most),
    }
}

/// Names and values of the curves at one moment, each with a piece of its line before it.
fn read_outs(ui: &mut Ui, chart: &TimeChart<'_>, at_s: f64, at_pointer: bool) {
    let t = theme::tokens(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), HEAD), Sense::hover());
    let at = Timestamp::from_secs_f64(at_s);
    let values: Vec<_> = chart
        .curves
        .iter()
        .map(|curve| {
            let value = value_at(curve.trace, at).map(|value| value * curve.scale);
            (
                curve,
                value.map_or_else(|| words::NOTHING.to_owned(), curve.say),
            )
        })
        .collect();
    response.widget_info(|| {
        let said = values
            .iter()
            .map(|(curve, value)| format!("{} {value}", curve.name));
        let said = said.collect::<Vec<_>>().join(", ");
        WidgetInfo::labeled(Role::Label, true, format!("{}: {said}", chart.title))
    });
    let font = theme::regular(tokens::BODY);
    let painter = ui.painter();
    let middle = rect.center().y;
    let title = painter.text(
        egui::pos2(rect.left(), middle),
        Align2::LEFT_CENTER,
        chart.title,
        theme::bold(tokens::BODY),
        t.text,
    );
    let mut right = rect.right();
    if at_pointer {
        let clock = words::clock(at_s);
        let at = egui::pos2(right, middle);
        right = painter
            .text(at, Align2::RIGHT_CENTER, clock, font.clone(), t.quiet)
            .left()
            - 24.0;
    }
    let width = |text: &str| control::text_width(ui, text, font.clone());
    // So that values stand still while their digits change.
    let value_width = |curve: &Curve<'_>| width(&(curve.say)(-888.0));
    let full: f32 = values
        .iter()
        .map(|(curve, _)| width(curve.name) + value_width(curve) + 48.0)
        .sum();
    let has_room = full <= right - title.right();
    // From the right, the front curve last.
    for (curve, value) in values.iter().rev() {
        let name_words = if has_room { curve.name } else { curve.short };
        let (name_width, value_width) = (width(name_words), value_width(curve));
        let left = right - value_width - name_width - 32.0;
        if left < title.right() + 16.0 {
            break;
        }
        let piece = [egui::pos2(left, middle), egui::pos2(left + 16.0, middle)];
        let stroke = Stroke::new(2.0, curve.ink);
        match curve.dash {
            Dash::Solid => drop(painter.line_segment(piece, stroke)),
            Dash::Dashed => painter.extend(egui::Shape::dashed_line(&piece, stroke, 6.0, 4.0)),
            Dash::Fine => painter.extend(egui::Shape::dashed_line(&piece, stroke, 3.0, 3.0)),
        }
        let name = egui::pos2(left + 24.0, middle);
        painter.text(name, Align2::LEFT_CENTER, name_words, font.clone(), t.quiet);
        let value_at = egui::pos2(right, middle);
        painter.text(value_at, Align2::RIGHT_CENTER, value, font.clone(), t.text);
        right = left - 16.0;
    }
}

/// Draws the shapes above marked stretches and gives their hatching.
fn marks(ui: &mut Ui, chart: &TimeChart<'_>, drawn: &Drawn) -> Shape {
    let mut hatched = Vec::new();
    let painter = drawn.painter(ui);
    let pointer = drawn.response.hover_pos();
    let mut under_pointer = None;
    for marked in &chart.marked {
        let left = drawn.x(marked.from.as_secs_f64());
        let right = drawn.x(marked.to.as_secs_f64()).max(left + 2.0);
        if right < drawn.area.left() || left > drawn.area.right() {
            continue;
        }
        let rect = Rect::from_x_y_ranges(left..=right, drawn.area.y_range());
        if marked.style == MarkStyle::Framed {
            let line = Stroke::new(tokens::HAIR, marked.ink);
            painter.vline(left, rect.y_range(), line);
            painter.vline(right, rect.y_range(), line);
            painter.hline(
                rect.x_range(),
                rect.top() + 1.0,
                Stroke::new(3.0, marked.ink),
            );
            continue;
        }
        hatched.push(graph::hatching(rect, marked.ink.gamma_multiply(0.35)));
        let (first, last) = (drawn.area.left() + 8.0, drawn.area.right() - 8.0);
        let x = graph::between((left + right) / 2.0, first, last);
        let center = egui::pos2(x, drawn.area.top() + 8.0);
        marked.glyph.paint(&painter, center, 5.0, marked.ink);
        if pointer.is_some_and(|at| rect.expand(2.0).contains(at)) {
            under_pointer = Some(marked.words.as_str());
        }
    }
    if let Some(words) = under_pointer {
        drawn.response.clone().on_hover_text_at_pointer(words);
    }
    Shape::Vec(hatched)
}
