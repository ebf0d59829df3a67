//! The layers of a plot on its area.

use super::ink::{Weight, dash, fill_color, ink_color, marker, stroke, weighed};
use super::part;
use crate::chart::graph::{self, Dash, Drawn};
use crate::theme::{self, Tokens};
use analysis::outcome::Layer;
use egui::{Rect, Ui};
use egui_plot::Points;

pub(super) fn add_layer(
    area: &mut egui_plot::PlotUi<'_>,
    layer: Layer,
    weight: Weight,
    x: [f64; 2],
    pixels: usize,
    t: &Tokens,
) {
    match layer {
        Layer::Line { ink, runs, .. } => {
            let seen = runs.into_iter().map(|run| part::in_view(run, x));
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
pub(super) fn over(ui: &Ui, layer: &Layer, drawn: &Drawn) {
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
}
