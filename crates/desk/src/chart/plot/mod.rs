//! Draws any [`analysis::outcome::Plot`]: the analysis says what is shown, this says how.

mod ink;
mod layers;
mod legend;
mod part;
mod ranges;

use super::graph::{self, Below, Dash, Drawn, Graph};
use super::ticks;
use crate::inputs::SpeedUnit;
use crate::parts::{self, control, words};
use crate::theme::{self, tokens};
use analysis::outcome::Plot;
use egui::{Align, Align2, Layout, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};
use ink::weights;
use layers::{add_layer, over};
use legend::legend;
use ranges::ranges;

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
        let view = part::recall(ui, view_id);
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
        part::obey(ui, view_id, &drawn, everything);
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
            ui.ctx().copy_text(part::values_text(plot));
        }
    });
}

const COPY: &str = "Copy values";

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
