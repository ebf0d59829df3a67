//! What each ink of a plot looks like: colour, stroke, dash, mark, and how strongly a line is drawn.

use crate::chart::graph::Dash;
use crate::theme::{Tokens, tokens};
use analysis::outcome::{Ink, Layer};
use egui::{Color32, Stroke};
use egui_plot::MarkerShape;

/// The colour of an ink.
pub(super) fn ink_color(ink: Ink, t: &Tokens) -> Color32 {
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

pub(super) fn ink_of(layer: &Layer) -> Ink {
    match layer {
        Layer::Line { ink, .. }
        | Layer::Points { ink, .. }
        | Layer::Intervals { ink, .. }
        | Layer::Band { ink, .. }
        | Layer::Level { ink, .. }
        | Layer::Span { ink, .. } => *ink,
    }
}

pub(super) fn fill_color(ink: Ink, t: &Tokens) -> Color32 {
    match ink {
        Ink::Tolerance => t.tolerance,
        Ink::Uncertainty => t.uncertainty,
        _ => ink_color(ink, t).gamma_multiply(0.15),
    }
}

pub(super) fn dash(ink: Ink) -> Dash {
    match ink {
        Ink::SecondReference => Dash::Dashed,
        Ink::Target | Ink::Tolerance => Dash::Fine,
        _ => Dash::Solid,
    }
}

pub(super) fn stroke(ink: Ink, t: &Tokens) -> Stroke {
    let width = if matches!(ink, Ink::Tolerance | Ink::Target) {
        1.0
    } else {
        tokens::CURVE
    };
    Stroke::new(width, ink_color(ink, t))
}

pub(super) fn marker(ink: Ink) -> MarkerShape {
    match ink {
        Ink::SecondReference => MarkerShape::Diamond,
        Ink::Reference | Ink::Fit => MarkerShape::Square,
        Ink::Beyond => MarkerShape::Up,
        _ => MarkerShape::Circle,
    }
}

/// How strongly a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Weight {
    /// The line that counts.
    Main,
    /// One of several that stand behind it: repeats, quantiles.
    Behind,
}

/// Of several lines in one ink the last one counts.
pub(super) fn weights(layers: &[Layer]) -> Vec<Weight> {
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

pub(super) fn weighed(stroke: Stroke, weight: Weight) -> Stroke {
    match weight {
        Weight::Main => stroke,
        Weight::Behind => Stroke::new(1.0, stroke.color.gamma_multiply(0.5)),
    }
}
