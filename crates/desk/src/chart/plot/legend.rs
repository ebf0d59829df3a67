//! The names of the layers, each with what it looks like.

use super::ink::{Weight, dash, fill_color, ink_color, ink_of, weighed, weights};
use crate::chart::graph::{self, Dash};
use crate::parts::control;
use crate::theme::{self, Tokens, tokens};
use analysis::outcome::{Ink, Layer, Plot};
use egui::{Align2, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

/// The names of all layers, each once, each with what it looks like.
pub(super) fn legend(ui: &mut Ui, plot: &Plot) {
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
