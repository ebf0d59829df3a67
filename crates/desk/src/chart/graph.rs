//! A pair of axes with room for curves, drawn the same way everywhere: hair lines for a grid,
//! quiet numbers, no frame. Grid, bands and the curves of single plots are `egui_plot`'s.

use super::ticks::Tick;
use crate::theme::{self, tokens};
use egui::{
    Align2, Color32, Painter, Pos2, Rect, Response, Sense, Shape, Stroke, Ui, UiBuilder, vec2,
};
use egui_plot::{
    FilledArea, HLine, Line, LineStyle, Plot, PlotPoint, PlotPoints, PlotTransform, PlotUi, Points,
    VLine,
};

/// Room for the numbers at the left, points.
pub const LEFT: f32 = 6.0 * tokens::GRID;
/// Room for the numbers below, points.
pub const BELOW: f32 = 3.0 * tokens::GRID;

/// What a graph looks like before anything is drawn on it.
pub struct Graph<'a> {
    /// Unique within the page.
    pub id: &'a str,
    /// Height with the numbers below, points.
    pub height: f32,
    /// Left and right end.
    pub x: [f64; 2],
    /// Bottom and top.
    pub y: [f64; 2],
    /// Marks below.
    pub x_ticks: &'a [Tick],
    /// Marks at the left.
    pub y_ticks: &'a [Tick],
    /// Whether the marks below are labelled.
    pub below: Below,
    /// What the pointer can do.
    pub sense: Sense,
}

/// Whether the marks below a graph are labelled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Below {
    /// They are.
    Labelled,
    /// They are not: another graph with the same axis stands below.
    Bare,
}

/// A graph that was drawn.
pub struct Drawn {
    /// What the pointer did on it.
    pub response: Response,
    /// From values to points on the screen and back.
    pub transform: PlotTransform,
    /// Where the curves are.
    pub area: Rect,
}

impl Drawn {
    /// A painter that keeps within the curves' area.
    pub fn painter(&self, ui: &Ui) -> Painter {
        ui.painter()
            .with_clip_rect(self.area.intersect(ui.clip_rect()))
    }

    /// The horizontal place of a value.
    pub fn x(&self, value: f64) -> f32 {
        self.transform.position_from_point_x(value)
    }

    /// The vertical place of a value.
    pub fn y(&self, value: f64) -> f32 {
        self.transform.position_from_point_y(value)
    }

    /// The value under the pointer, if the pointer is on the graph.
    pub fn pointer(&self) -> Option<PlotPoint> {
        let at = self.response.hover_pos()?;
        Some(self.transform.value_from_position(at))
    }
}

/// Draws the axes and what `curves` adds.
pub fn graph<'a>(
    ui: &mut Ui,
    graph: &Graph<'_>,
    curves: impl FnOnce(&mut PlotUi<'a>) + 'a,
) -> Drawn {
    let t = theme::tokens(ui);
    let size = vec2(ui.available_width(), graph.height);
    let (outer, _) = ui.allocate_exact_size(size, Sense::hover());
    let below = match graph.below {
        Below::Labelled => BELOW,
        Below::Bare => 0.0,
    };
    let area = Rect::from_min_max(
        egui::pos2(outer.left() + LEFT, outer.top() + 1.0),
        egui::pos2(
            (outer.right() - 1.0).max(outer.left() + LEFT + 8.0),
            (outer.bottom() - below).max(outer.top() + 8.0),
        ),
    );
    let ([x0, x1], [y0, y1]) = (graph.x, graph.y);
    let rule = Stroke::new(tokens::HAIR, t.rule);
    let (xs, ys): (Vec<f64>, Vec<f64>) = (
        graph.x_ticks.iter().map(|tick| tick.at).collect(),
        graph.y_ticks.iter().map(|tick| tick.at).collect(),
    );
    let plot = Plot::new(graph.id)
        .show_axes(false)
        .show_grid(false)
        .show_background(false)
        .show_crosshair(false)
        .show_x(false)
        .show_y(false)
        .label_formatter(|_| None)
        .allow_drag(false)
        .allow_zoom(false)
        .allow_scroll(false)
        .allow_boxed_zoom(false)
        .allow_axis_zoom_drag(false)
        .allow_double_click_reset(false)
        .sense(graph.sense)
        .min_size(egui::Vec2::ZERO)
        .width(area.width())
        .height(area.height())
        .auto_bounds(false)
        .set_margin_fraction(egui::Vec2::ZERO);
    // A child that leaves the cursor of the page alone: the room was allocated above.
    let mut inner = ui.new_child(UiBuilder::new().max_rect(area));
    let drawn = plot.show(&mut inner, move |plot| {
        plot.set_plot_bounds_x(x0..=x1);
        plot.set_plot_bounds_y(y0..=y1);
        for x in xs {
            plot.vline(VLine::new("", x).stroke(rule).allow_hover(false));
        }
        for y in ys {
            plot.hline(HLine::new("", y).stroke(rule).allow_hover(false));
        }
        curves(plot);
    });
    let drawn = Drawn {
        response: drawn.response,
        transform: drawn.transform,
        area,
    };
    labels(ui, graph, &drawn, outer);
    drawn
}

fn labels(ui: &Ui, graph: &Graph<'_>, drawn: &Drawn, outer: Rect) {
    let t = theme::tokens(ui);
    let font = theme::regular(tokens::BODY);
    let painter = ui.painter();
    let mut free_above = f32::MAX;
    for tick in graph.y_ticks {
        let y = between(
            drawn.y(tick.at),
            outer.top() + 7.0,
            drawn.area.bottom() - 6.0,
        );
        if y > free_above {
            continue;
        }
        free_above = y - 2.0 * tokens::GRID;
        let at = egui::pos2(drawn.area.left() - tokens::GRID, y);
        painter.text(at, Align2::RIGHT_CENTER, &tick.label, font.clone(), t.quiet);
    }
    if graph.below == Below::Bare {
        return;
    }
    let mut free_from = f32::MIN;
    for tick in graph.x_ticks {
        let galley = painter.layout_no_wrap(tick.label.clone(), font.clone(), t.quiet);
        let half = galley.size().x / 2.0;
        let x = between(drawn.x(tick.at), drawn.area.left(), outer.right() - half);
        if x - half < free_from {
            continue;
        }
        free_from = x + half + tokens::GRID;
        let at = egui::pos2(x - half, drawn.area.bottom() + 0.5 * tokens::GRID);
        painter.galley(at, galley, t.quiet);
    }
}

/// The value, or the nearer end where it lies outside. A window can be so small that the ends have
/// changed places; then it is the lower one.
pub fn between(value: f32, low: f32, high: f32) -> f32 {
    value.min(high).max(low)
}

/// A line through unbroken runs of points.
pub fn add_runs(plot: &mut PlotUi<'_>, runs: Vec<Vec<[f64; 2]>>, stroke: Stroke, dash: Dash) {
    for run in runs {
        // A value that stands alone would be a line without length.
        if run.len() == 1 {
            let point = Points::new("", run).radius(1.5).color(stroke.color);
            plot.points(point.allow_hover(false));
            continue;
        }
        // Our points are already one pair for each pixel column. The library's own thinning would
        // fill the steps of held values.
        let points = PlotPoints::from(run);
        let line = Line::new("", points)
            .stroke(stroke)
            .allow_hover(false)
            .allow_band(false);
        plot.line(match dash {
            Dash::Solid => line,
            Dash::Dashed => line.style(LineStyle::Dashed { length: 6.0 }),
            Dash::Fine => line.style(LineStyle::Dashed { length: 3.0 }),
        });
    }
}

/// As [`add_runs`], painted at once over a graph that is already drawn: for curves that change thirty
/// times a second, without a copy of their points on the way.
pub fn paint_runs(
    painter: &Painter,
    drawn: &Drawn,
    runs: &[Vec<[f64; 2]>],
    stroke: Stroke,
    dash: Dash,
) {
    for run in runs {
        let points: Vec<_> = run
            .iter()
            .map(|[x, y]| Pos2::new(drawn.x(*x), drawn.y(*y)))
            .collect();
        if let [alone] = points.as_slice() {
            painter.circle_filled(*alone, 1.5, stroke.color);
            continue;
        }
        match dash {
            Dash::Solid => drop(painter.add(Shape::line(points, stroke))),
            Dash::Dashed => painter.extend(Shape::dashed_line(&points, stroke, 6.0, 4.0)),
            Dash::Fine => painter.extend(Shape::dashed_line(&points, stroke, 3.0, 3.0)),
        }
    }
}

/// How a line is broken up, so that lines differ without their colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dash {
    /// Not at all.
    Solid,
    /// In dashes: the second reference.
    Dashed,
    /// In short dashes: what was asked for.
    Fine,
}

/// A band between two lines.
pub fn add_band(plot: &mut PlotUi<'_>, run: &[[f64; 3]], fill: Color32) {
    if let [[x, low, high]] = run {
        let upright = vec![vec![[*x, *low], [*x, *high]]];
        return add_runs(plot, upright, Stroke::new(2.0, fill), Dash::Solid);
    }
    let column = |index: usize| run.iter().map(|point| point[index]).collect::<Vec<_>>();
    let area = FilledArea::new("", &column(0), &column(1), &column(2));
    plot.add(area.fill_color(fill).allow_hover(false));
}

/// Slanted lines that fill a rectangle.
pub fn hatching(rect: Rect, color: Color32) -> Shape {
    if !rect.is_positive() {
        return Shape::Noop;
    }
    let stroke = Stroke::new(1.0, color);
    let pitch = 6.0;
    // Lines stand on the grid of the screen and not of the rectangle, so that they do not crawl.
    let first = ((rect.left() - rect.height()) / pitch).floor() as i32;
    let last = (rect.right() / pitch).ceil() as i32;
    let line = |step: i32| {
        let x = step as f32 * pitch;
        let begin = (rect.left() - x).max(0.0);
        let end = (rect.right() - x).min(rect.height());
        let at = |along: f32| Pos2::new(x + along, rect.bottom() - along);
        (end > begin).then(|| Shape::line_segment([at(begin), at(end)], stroke))
    };
    Shape::Vec((first..=last).filter_map(line).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hatching_keeps_within_its_rectangle() {
        let rect = Rect::from_min_max(Pos2::new(10.0, 20.0), Pos2::new(33.0, 90.0));
        let Shape::Vec(lines) = hatching(rect, Color32::BLACK) else {
            panic!("no lines")
        };
        assert!(lines.len() > 10);
        for line in lines {
            let Shape::LineSegment { points, .. } = line else {
                panic!("not a line")
            };
            assert!(
                points
                    .iter()
                    .all(|point| rect.expand(0.01).contains(*point)),
                "{points:?}"
            );
        }
        assert_eq!(hatching(Rect::NOTHING, Color32::BLACK), Shape::Noop);
    }
}
