//! Shapes that stand beside the words of a state, so that colour is never needed to tell them.

use analysis::verdict::Verdict;
use bench::model::{Health, Severity};
use egui::{Color32, Painter, Pos2, Shape, Stroke, vec2};

/// A small shape with one meaning.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Glyph {
    /// A filled disc: shown within, reports as it should.
    Disc,
    /// A ring: likely within, waiting.
    Ring,
    /// A triangle in outline: likely beyond.
    OpenTriangle,
    /// A filled triangle: shown beyond.
    Triangle,
    /// A square in outline with a bar across: the bench is not capable.
    BarredSquare,
    /// A short dash: not tested.
    Dash,
    /// A cross: lost.
    Cross,
    /// A square in outline: data are missing.
    Square,
}

impl Glyph {
    /// The shape of a verdict.
    pub const fn of_verdict(verdict: Verdict) -> Self {
        match verdict {
            Verdict::ShownWithin => Self::Disc,
            Verdict::LikelyWithin => Self::Ring,
            Verdict::LikelyBeyond => Self::OpenTriangle,
            Verdict::ShownBeyond => Self::Triangle,
            Verdict::BenchNotCapable => Self::BarredSquare,
            Verdict::NotTested => Self::Dash,
        }
    }

    /// The shape of a flag.
    pub const fn of_severity(severity: Severity) -> Self {
        match severity {
            Severity::LikelyBeyond => Self::OpenTriangle,
            Severity::ShownBeyond => Self::Triangle,
            Severity::DropOut => Self::Square,
        }
    }

    /// The shape of an instrument's health.
    pub const fn of_health(health: &Health) -> Self {
        match health {
            Health::Good => Self::Disc,
            Health::Waiting => Self::Ring,
            Health::Silent(_) => Self::Dash,
            Health::Lost => Self::Cross,
        }
    }

    /// Draws the shape, `radius` points large.
    pub fn paint(self, painter: &Painter, center: Pos2, radius: f32, color: Color32) {
        let line = Stroke::new(1.5, color);
        let corner = |x: f32, y: f32| center + radius * vec2(x, y);
        let triangle = vec![corner(0.0, -0.95), corner(1.0, 0.8), corner(-1.0, 0.8)];
        let square = egui::Rect::from_center_size(center, egui::Vec2::splat(1.7 * radius));
        match self {
            Self::Disc => {
                painter.circle_filled(center, radius, color);
            }
            Self::Ring => {
                painter.circle_stroke(center, radius - 0.75, line);
            }
            Self::OpenTriangle => {
                painter.add(Shape::closed_line(triangle, line));
            }
            Self::Triangle => {
                painter.add(Shape::convex_polygon(triangle, color, line));
            }
            Self::Square | Self::BarredSquare => {
                painter.rect_stroke(square, 0.0, line, egui::StrokeKind::Inside);
                if self == Self::BarredSquare {
                    painter.line_segment([square.left_bottom(), square.right_top()], line);
                }
            }
            Self::Dash => {
                painter.line_segment([corner(-1.0, 0.0), corner(1.0, 0.0)], line);
            }
            Self::Cross => {
                painter.line_segment([corner(-0.8, -0.8), corner(0.8, 0.8)], line);
                painter.line_segment([corner(-0.8, 0.8), corner(0.8, -0.8)], line);
            }
        }
    }
}

/// The ink of a verdict: red for beyond, the colour of text for everything else.
pub fn verdict_ink(verdict: Verdict, tokens: &crate::theme::Tokens) -> Color32 {
    match verdict {
        Verdict::ShownBeyond | Verdict::LikelyBeyond => tokens.alarm,
        Verdict::NotTested => tokens.quiet,
        Verdict::ShownWithin | Verdict::LikelyWithin | Verdict::BenchNotCapable => tokens.text,
    }
}

/// The ink of a flag.
pub fn severity_ink(severity: Severity, tokens: &crate::theme::Tokens) -> Color32 {
    match severity {
        Severity::LikelyBeyond | Severity::ShownBeyond => tokens.alarm,
        Severity::DropOut => tokens.text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_verdicts_have_the_same_shape() {
        for (i, a) in Verdict::ALL.iter().enumerate() {
            for b in &Verdict::ALL[i + 1..] {
                assert_ne!(Glyph::of_verdict(*a), Glyph::of_verdict(*b));
            }
        }
    }
}
