//! Draws any [`analysis::outcome::Plot`]: the analysis says what is shown, this says how.

use super::graph::{self, Below, Dash, Drawn, Graph};
use super::plot_view;
use super::ticks;
use crate::inputs::SpeedUnit;
use crate::parts::{self, control, words};
use crate::theme::{self, Tokens, tokens};
use analysis::outcome::{Ink, Layer, Plot};
use egui::{Align, Align2, Color32, Layout, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};
use egui_plot::{MarkerShape, Points};

/// Height of a plot's axes, points.
const HEIGHT: f32 = 32.0 * tokens::GRID;

/// Draws a plot with its title, legend, axes and caption.
pub fn plot_ui(ui: &mut Ui, plot: &Plot) {
    let plot = &*SpeedUnit::current(ui.ctx()).plotted(plot);
    let t = theme::tokens(ui);
    ui.vertical(|ui| {
        ui.spacing_mut().item_spacing.y = 0.5 * tokens::GRID;
        title(ui, plot);
        legend(ui, plot);
        let Some(everything) = ranges(plot) else {
            parts::quiet(ui, "There is nothing to draw.");
            return;
        };
        let view_id = ui.make_persistent_id(("part of", plot.name));
        let view = plot_view::recall(ui, view_id);
        let [x, y] = view.part.unwrap_or(everything);
        axis_name(ui, &plot.y, Align2::LEFT_CENTER);
        let width = (ui.available_width() - graph::LEFT).max(1.0);
        let x_ticks = match plot.x.contains("time") && plot.x.contains(", s") && x[1] - x[0] > 90.0
        {
            true => ticks::time(x, (width / 96.0) as usize),
            false if plot.x.contains("order of the list") => ticks::whole(x),
            false => ticks::numbers(x, (width / 80.0) as usize),
        };
        let y_ticks = ticks::numbers(y, 5);
        let frame = Graph {
            id: plot.name,
            height: HEIGHT,
            x,
            y,
            x_ticks: &x_ticks,
            y_ticks: &y_ticks,
            below: Below::Labelled,
            sense: Sense::click_and_drag(),
        };
        let layers = plot.layers.clone();
        let pixels = (width * ui.pixels_per_point()) as usize;
        let drawn = graph::graph(ui, &frame, move |area| {
            if y[0] < 0.0 && y[1] > 0.0 {
                let zero = vec![vec![[x[0], 0.0], [x[1], 0.0]]];
                graph::add_runs(area, zero, Stroke::new(tokens::HAIR, t.edge), Dash::Solid);
            }
            let weights = weights(&layers);
            for (layer, weight) in layers.into_iter().zip(weights) {
                add_layer(area, layer, weight, x, pixels, t);
            }
        });
        for layer in &plot.layers {
            over(ui, layer, &drawn);
        }
        pointer(ui, plot, &drawn);
        plot_view::obey(ui, view_id, &drawn, everything);
        control::focus_ring(ui, &drawn.response, drawn.area);
        axis_name(ui, &plot.x, Align2::RIGHT_CENTER);
        if drawn.response.has_focus() {
            parts::quiet(
                ui,
                "Arrows move, + and − look closer and farther, 0 shows everything.",
            );
        }
        if !plot.caption.is_empty() {
            parts::quiet(ui, &plot.caption);
        }
    });
}

/// The title, and at its right what copies the values.
fn title(ui: &mut Ui, plot: &Plot) {
    ui.horizontal(|ui| {
        let copy = control::text_width(ui, COPY, theme::regular(tokens::BODY)) + 2.0 * tokens::GRID;
        let room = (ui.available_width() - copy).max(8.0 * tokens::GRID);
        ui.allocate_ui_with_layout(
            vec2(room, 2.5 * tokens::GRID),
            Layout::left_to_right(Align::Center),
            |ui| {
                ui.set_width(room);
                parts::caption(ui, &plot.title);
            },
        );
        if control::quiet_button(ui, COPY, &format!("{COPY}: {}", plot.title)).clicked() {
            ui.ctx().copy_text(plot_view::values_text(plot));
        }
    });
}

const COPY: &str = "Copy values";

/// The colour of an ink.
pub fn ink_color(ink: Ink, t: &Tokens) -> Color32 {
    match ink {
        Ink::UnderTest => t.device,
        Ink::Reference => t.text,
        Ink::SecondReference => t.second,
        Ink::Target | Ink::Excluded | Ink::Fit => t.quiet,
        Ink::Tolerance => t.edge,
        Ink::Uncertainty => t.device,
        Ink::Beyond => t.alarm,
    }
}

fn ink_of(layer: &Layer) -> Ink {
    match layer {
        Layer::Line { ink, .. }
        | Layer::Points { ink, .. }
        | Layer::Intervals { ink, .. }
        | Layer::Band { ink, .. }
        | Layer::Level { ink, .. }
        | Layer::Span { ink, .. } => *ink,
    }
}

fn fill_color(ink: Ink, t: &Tokens) -> Color32 {
    match ink {
        Ink::Tolerance => t.tolerance,
        Ink::Uncertainty => t.uncertainty,
        _ => ink_color(ink, t).gamma_multiply(0.15),
    }
}

fn dash(ink: Ink) -> Dash {
    match ink {
        Ink::SecondReference => Dash::Dashed,
        Ink::Target | Ink::Tolerance => Dash::Fine,
        _ => Dash::Solid,
    }
}

fn stroke(ink: Ink, t: &Tokens) -> Stroke {
    let width = if matches!(ink, Ink::Tolerance | Ink::Target) {
        1.0
    } else {
        tokens::CURVE
    };
    Stroke::new(width, ink_color(ink, t))
}

fn marker(ink: Ink) -> MarkerShape {
    match ink {
        Ink::SecondReference => MarkerShape::Diamond,
        Ink::Reference | Ink::Fit => MarkerShape::Square,
        Ink::Beyond => MarkerShape::Up,
        _ => MarkerShape::Circle,
    }
}

/// How strongly a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Weight {
    /// The line that counts.
    Main,
    /// One of several that stand behind it: repeats, quantiles.
    Behind,
}

/// Of several lines in one ink the last one counts.
fn weights(layers: &[Layer]) -> Vec<Weight> {
    let line = |layer: &Layer| match layer {
        Layer::Line { ink, .. } => Some(*ink),
        _ => None,
    };
    let behind = |index: usize| {
        let ink = line(&layers[index]);
        ink.is_some() && layers[index + 1..].iter().any(|later| line(later) == ink)
    };
    (0..layers.len())
        .map(|index| {
            if behind(index) {
                Weight::Behind
            } else {
                Weight::Main
            }
        })
        .collect()
}

fn weighed(stroke: Stroke, weight: Weight) -> Stroke {
    match weight {
        Weight::Main => stroke,
        Weight::Behind => Stroke::new(1.0, stroke.color.gamma_multiply(0.5)),
    }
}

fn add_layer(
    area: &mut egui_plot::PlotUi<'_>,
    layer: Layer,
    weight: Weight,
    x: [f64; 2],
    pixels: usize,
    t: &Tokens,
) {
    match layer {
        Layer::Line { ink, runs, .. } => {
            let seen = runs.into_iter().map(|run| plot_view::in_view(run, x));
            let runs = seen.map(|run| thin(run, pixels)).collect();
            graph::add_runs(area, runs, weighed(stroke(ink, t), weight), dash(ink));
        }
        Layer::Points { ink, points, .. } => {
            let many = points.len() > 400;
            let color = ink_color(ink, t).gamma_multiply(if many { 0.5 } else { 1.0 });
            let points = Points::new("", points)
                .radius(if many { 1.5 } else { 3.0 })
                .shape(marker(ink))
                .color(color)
                .allow_hover(false);
            area.points(points);
        }
        Layer::Intervals { ink, intervals, .. } => {
            let lines = intervals
                .iter()
                .map(|[x, low, _, high]| vec![[*x, *low], [*x, *high]]);
            graph::add_runs(area, lines.collect(), stroke(ink, t), Dash::Solid);
            let middles: Vec<_> = intervals.iter().map(|[x, _, mid, _]| [*x, *mid]).collect();
            let points = Points::new("", middles).radius(4.0).shape(marker(ink));
            area.points(points.color(ink_color(ink, t)).allow_hover(false));
        }
        Layer::Band { ink, low, high, .. } => {
            graph::add_band(
                area,
                &[[x[0], low, high], [x[1], low, high]],
                fill_color(ink, t),
            );
        }
        Layer::Level { ink, at, .. } => {
            let line = vec![vec![[x[0], at], [x[1], at]]];
            graph::add_runs(area, line, stroke(ink, t), dash(ink));
        }
        Layer::Span { .. } => {}
    }
}

/// Keeps the smallest and largest of each pixel column where a line has far more points than
/// there are columns. Lines that go back and forth are left alone.
fn thin(run: Vec<[f64; 2]>, pixels: usize) -> Vec<[f64; 2]> {
    let per_column = run.len() / pixels.max(1) / 2;
    if per_column < 2 || run.windows(2).any(|pair| pair[1][0] < pair[0][0]) {
        return run;
    }
    let extremes = |part: &[[f64; 2]]| {
        let by_height = |a: &&[f64; 2], b: &&[f64; 2]| a[1].total_cmp(&b[1]);
        let low = part.iter().min_by(by_height).copied();
        let high = part.iter().max_by(by_height).copied();
        let mut pair: Vec<_> = low.into_iter().chain(high).collect();
        pair.sort_by(|a, b| a[0].total_cmp(&b[0]));
        pair.dedup();
        pair
    };
    run.chunks(2 * per_column).flat_map(extremes).collect()
}

/// What lies over the curves: hatched spans with their reason.
fn over(ui: &Ui, layer: &Layer, drawn: &Drawn) {
    let Layer::Span {
        ink,
        label,
        from,
        to,
    } = layer
    else {
        return;
    };
    let t = theme::tokens(ui);
    let (left, right) = (drawn.x(*from), drawn.x(*to));
    let rect = Rect::from_x_y_ranges(left..=right.max(left + 1.0), drawn.area.y_range());
    drawn.painter(ui).add(graph::hatching(
        rect,
        ink_color(*ink, t).gamma_multiply(0.4),
    ));
    if drawn
        .response
        .hover_pos()
        .is_some_and(|at| rect.contains(at))
    {
        drawn
            .response
            .clone()
            .on_hover_text_at_pointer(label.as_str());
    }
}

/// The values under the pointer, in words at the top right.
fn pointer(ui: &Ui, plot: &Plot, drawn: &Drawn) {
    drawn
        .response
        .widget_info(|| WidgetInfo::labeled(Role::Image, true, &plot.title));
    let Some(point) = drawn.pointer() else { return };
    let t = theme::tokens(ui);
    let painter = drawn.painter(ui);
    painter.vline(
        drawn.x(point.x),
        drawn.area.y_range(),
        Stroke::new(tokens::HAIR, t.edge),
    );
    let bounds = drawn.transform.bounds();
    let text = format!(
        "{} · {}",
        words::decimals(point.x, digits(bounds.width())),
        words::decimals(point.y, digits(bounds.height()))
    );
    let at = pos2(
        drawn.area.right() - tokens::GRID,
        drawn.area.top() + tokens::GRID,
    );
    painter.text(
        at,
        Align2::RIGHT_TOP,
        text,
        theme::regular(tokens::BODY),
        t.text,
    );
}

/// Decimals that a pointer can tell apart on a range.
fn digits(range: f64) -> usize {
    (2.5 - range.max(1e-9).log10()).ceil().clamp(0.0, 6.0) as usize
}

fn axis_name(ui: &mut Ui, words: &str, align: Align2) {
    let (rect, response) = ui.allocate_exact_size(
        vec2(ui.available_width(), 2.0 * tokens::GRID),
        Sense::hover(),
    );
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, words));
    let ink = theme::tokens(ui).quiet;
    control::text_in(ui, rect, words, theme::regular(tokens::BODY), ink, align);
}

/// The names of all layers, each once, each with what it looks like.
fn legend(ui: &mut Ui, plot: &Plot) {
    let t = theme::tokens(ui);
    let mut seen: Vec<(&str, Ink)> = Vec::new();
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = vec2(2.0 * tokens::GRID, 0.0);
        for (layer, weight) in plot.layers.iter().zip(weights(&plot.layers)) {
            let (Layer::Line { ink, label, .. }
            | Layer::Points { ink, label, .. }
            | Layer::Intervals { ink, label, .. }
            | Layer::Band { ink, label, .. }
            | Layer::Level { ink, label, .. }
            | Layer::Span { ink, label, .. }) = layer;
            if label.is_empty() || seen.contains(&(label.as_str(), *ink)) {
                continue;
            }
            seen.push((label.as_str(), *ink));
            if seen.len() > 8 {
                break;
            }
            legend_entry(ui, layer, weight, label, t);
        }
    });
}

fn legend_entry(ui: &mut Ui, layer: &Layer, weight: Weight, label: &str, t: &Tokens) {
    let ink = ink_of(layer);
    let font = theme::regular(tokens::BODY);
    let text = control::text_width(ui, label, font.clone());
    let size = vec2(
        (24.0 + text).min(ui.available_width().max(80.0)),
        2.5 * tokens::GRID,
    );
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, label));
    let (left, y) = (rect.left(), rect.center().y);
    let swatch = Rect::from_center_size(pos2(left + 8.0, y), vec2(16.0, 10.0));
    let painter = ui.painter();
    match layer {
        Layer::Line { .. } | Layer::Level { .. } => {
            let ends = [swatch.left_center(), swatch.right_center()];
            let line = weighed(Stroke::new(2.0, ink_color(ink, t)), weight);
            match dash(ink) {
                Dash::Solid => drop(painter.line_segment(ends, line)),
                Dash::Dashed => painter.extend(egui::Shape::dashed_line(&ends, line, 6.0, 4.0)),
                Dash::Fine => painter.extend(egui::Shape::dashed_line(&ends, line, 3.0, 3.0)),
            }
        }
        Layer::Band { .. } => {
            let edge = Stroke::new(tokens::HAIR, t.edge);
            let inside = egui::StrokeKind::Inside;
            painter.rect(swatch, 0.0, fill_color(ink, t), edge, inside);
        }
        Layer::Span { .. } => {
            painter.add(graph::hatching(swatch, ink_color(ink, t)));
        }
        Layer::Points { .. } | Layer::Intervals { .. } => {
            painter.circle_filled(swatch.center(), 4.0, ink_color(ink, t));
        }
    }
    let text = rect.with_min_x(left + 24.0);
    control::text_in(ui, text, label, font, t.quiet, Align2::LEFT_CENTER);
}

/// What must fit, with a little room; zero is shown where it is not far away.
fn ranges(plot: &Plot) -> Option<[[f64; 2]; 2]> {
    let mut x = Reach::default();
    let mut y = Reach::default();
    for layer in &plot.layers {
        match layer {
            Layer::Line { runs, .. } => runs.iter().flatten().for_each(|point| {
                x.add(point[0]);
                y.add(point[1]);
            }),
            Layer::Points { points, .. } => points.iter().for_each(|point| {
                x.add(point[0]);
                y.add(point[1]);
            }),
            Layer::Intervals { intervals, .. } => intervals.iter().for_each(|interval| {
                x.add(interval[0]);
                y.add(interval[1]);
                y.add(interval[3]);
            }),
            Layer::Band { low, high, .. } => {
                y.add(*low);
                y.add(*high);
            }
            Layer::Level { at, .. } => y.add(*at),
            Layer::Span { from, to, .. } => {
                x.add(*from);
                x.add(*to);
            }
        }
    }
    let x = x.padded(0.02)?;
    let [low, high] = y.padded(0.08)?;
    let reach = high - low;
    let low = if low > 0.0 && low < 0.5 * reach {
        0.0
    } else {
        low
    };
    let high = if high < 0.0 && -high < 0.5 * reach {
        0.0
    } else {
        high
    };
    Some([x, [low, high]])
}

#[derive(Default)]
struct Reach(Option<[f64; 2]>);

impl Reach {
    fn add(&mut self, value: f64) {
        if value.is_finite() {
            self.0 = Some(
                self.0
                    .map_or([value; 2], |[l, h]| [l.min(value), h.max(value)]),
            );
        }
    }

    fn padded(&self, share: f64) -> Option<[f64; 2]> {
        let [low, high] = self.0?;
        let room = if high > low {
            share * (high - low)
        } else {
            0.5 * low.abs().max(1.0)
        };
        Some([low - room, high + room])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_line_is_thinned_without_losing_its_extremes() {
        let run: Vec<_> = (0..100_000)
            .map(|i| [f64::from(i), f64::from(i % 997)])
            .collect();
        let thinned = thin(run, 500);
        assert!(thinned.len() <= 2100, "{}", thinned.len());
        assert!(thinned.iter().any(|point| point[1] == 996.0));
        assert!(thinned.windows(2).all(|pair| pair[0][0] <= pair[1][0]));
    }

    #[test]
    fn an_empty_plot_has_no_range_and_a_single_point_has_one() {
        let mut plot = Plot {
            name: "a",
            title: String::new(),
            x: String::new(),
            y: String::new(),
            layers: Vec::new(),
            caption: String::new(),
        };
        assert_eq!(ranges(&plot), None);
        let points = vec![[2.0, 200.0]];
        plot.layers.push(Layer::Points {
            ink: Ink::Fit,
            label: String::new(),
            points,
        });
        let [x, y] = ranges(&plot).unwrap();
        assert!(x[0] < 2.0 && x[1] > 2.0 && y[0] < 200.0 && y[1] > 200.0);
    }
}
