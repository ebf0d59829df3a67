//! The elements of an SVG picture, written one after the other.
//!
//! Coordinates are rounded to a hundredth, so that the same findings give the same bytes on every
//! machine, and every number that is not finite is kept out here, once.

use super::inks::Inks;
use crate::typeface::{self, FACES};
use crate::words::escape;
use std::fmt::Write;

/// Where a text stands relative to its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Anchor {
    /// To the right of it.
    Start,
    /// Around it.
    Middle,
    /// To the left of it.
    End,
}

/// How a text looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Face {
    /// Size.
    pub(crate) size: f64,
    /// Colour.
    pub(crate) ink: &'static str,
    /// Where it stands.
    pub(crate) anchor: Anchor,
    /// Its cut.
    pub(crate) cut: Cut,
}

/// The cut of a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Cut {
    /// The usual one.
    Regular,
    /// The strong one.
    Bold,
}

impl Face {
    pub(crate) const fn new(size: f64, ink: &'static str, anchor: Anchor) -> Self {
        Self {
            size,
            ink,
            anchor,
            cut: Cut::Regular,
        }
    }

    pub(crate) const fn bold(self) -> Self {
        Self {
            cut: Cut::Bold,
            ..self
        }
    }
}

/// A line's looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Pen {
    /// Colour.
    pub(crate) ink: &'static str,
    /// Width.
    pub(crate) width: f64,
    /// Dash pattern; empty for unbroken.
    pub(crate) dashes: &'static str,
}

impl Pen {
    pub(crate) const fn new(ink: &'static str, width: f64) -> Self {
        Self {
            ink,
            width,
            dashes: "",
        }
    }

    pub(crate) const fn dashed(self, dashes: &'static str) -> Self {
        Self { dashes, ..self }
    }

    fn attributes(&self) -> String {
        let mut text = format!(
            "stroke=\"{}\" stroke-width=\"{}\"",
            self.ink,
            num(self.width)
        );
        if !self.dashes.is_empty() {
            let _ = write!(text, " stroke-dasharray=\"{}\"", self.dashes);
        }
        text
    }
}

/// A picture that is being written.
#[derive(Debug)]
pub(crate) struct Canvas {
    body: String,
    /// Prefix of the ids in it, unique within the document around it.
    pub(crate) id: String,
    /// Its colours.
    pub(crate) inks: Inks,
    width: f64,
    height: f64,
}

impl Canvas {
    pub(crate) fn new(id: impl Into<String>, inks: Inks, width: f64, height: f64) -> Self {
        Self {
            body: String::new(),
            id: id.into(),
            inks,
            width,
            height,
        }
    }

    /// Adds elements as they are.
    pub(crate) fn raw(&mut self, elements: &str) {
        self.body.push_str(elements);
    }

    pub(crate) fn line(&mut self, [x0, y0]: [f64; 2], [x1, y1]: [f64; 2], pen: Pen) {
        let _ = writeln!(
            self.body,
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" {}/>",
            num(x0),
            num(y0),
            num(x1),
            num(y1),
            pen.attributes()
        );
    }

    /// A filled rectangle from its left, top, width and height.
    pub(crate) fn rect(&mut self, [x, y, width, height]: [f64; 4], fill: &str) {
        let _ = writeln!(
            self.body,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{fill}\"/>",
            num(x),
            num(y),
            num(width.max(0.0)),
            num(height.max(0.0)),
        );
    }

    /// Lines through points, one per run, as one element.
    pub(crate) fn polyline(&mut self, runs: &[Vec<[f64; 2]>], pen: Pen) {
        let mut path = String::new();
        for run in runs {
            for (index, [x, y]) in run.iter().enumerate() {
                let letter = if index == 0 { 'M' } else { 'L' };
                let _ = write!(path, "{letter}{} {}", num(*x), num(*y));
            }
            // A run of one point would not show: give it the length of a dot.
            if run.len() == 1 {
                path.push_str("h0.01");
            }
        }
        self.path(&path, "none", Some(pen));
    }

    /// A path.
    pub(crate) fn path(&mut self, path: &str, fill: &str, pen: Option<Pen>) {
        if path.is_empty() {
            return;
        }
        let stroke = pen.map_or_else(String::new, |pen| {
            format!(
                " {} stroke-linejoin=\"round\" stroke-linecap=\"butt\"",
                pen.attributes()
            )
        });
        let _ = writeln!(self.body, "<path d=\"{path}\" fill=\"{fill}\"{stroke}/>");
    }

    /// Many small round dots as one element.
    pub(crate) fn dots(&mut self, points: &[[f64; 2]], pen: Pen) {
        let mut path = String::new();
        for [x, y] in points {
            let _ = write!(path, "M{} {}h0", num(*x), num(*y));
        }
        if !path.is_empty() {
            let _ = writeln!(
                self.body,
                "<path d=\"{path}\" fill=\"none\" {} stroke-linecap=\"round\"/>",
                pen.attributes()
            );
        }
    }

    pub(crate) fn circle(&mut self, [x, y]: [f64; 2], radius: f64, fill: &str, pen: Option<Pen>) {
        let stroke = pen.map_or_else(String::new, |pen| format!(" {}", pen.attributes()));
        let _ = writeln!(
            self.body,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{fill}\"{stroke}/>",
            num(x),
            num(y),
            num(radius)
        );
    }

    /// A text with its base line at `y`.
    pub(crate) fn text(&mut self, [x, y]: [f64; 2], face: Face, text: &str) {
        if text.is_empty() {
            return;
        }
        let anchor = match face.anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let cut = match face.cut {
            Cut::Regular => "",
            Cut::Bold => " font-weight=\"bold\"",
        };
        let _ = writeln!(
            self.body,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"{}\"{anchor}{cut}>{}</text>",
            num(x),
            num(y),
            num(face.size),
            face.ink,
            escape(text)
        );
    }

    /// The picture as a companion of the word beside it: programs that read aloud skip it.
    pub(crate) fn into_inline(self, class: &str, title: &str, desc: &str) -> String {
        format!(
            "<svg class=\"{class}\" aria-hidden=\"true\" \
             viewBox=\"0 0 {} {}\"><title>{}</title><desc>{}</desc>{}</svg>",
            num(self.width),
            num(self.height),
            escape(title),
            escape(desc),
            self.body.replace('\n', "")
        )
    }

    /// The picture as one element, with its text alternative. With `pixels` it is a document of
    /// its own of that size, without it takes the width of the page around it.
    pub(crate) fn finish(self, title: &str, desc: &str, pixels: Option<[u32; 2]>) -> String {
        let size = pixels.map_or_else(
            // Within HTML the element needs no namespace.
            || " class=\"plot\"".to_owned(),
            |[width, height]| {
                let namespace = "http://www.w3.org/2000/svg";
                format!(" xmlns=\"{namespace}\" width=\"{width}\" height=\"{height}\"")
            },
        );
        let (id, width, height) = (&self.id, num(self.width), num(self.height));
        // A picture of its own carries the typeface that it was measured with.
        let style = pixels.map_or_else(String::new, |_| {
            format!("<style>\n{}</style>\n", typeface::rules())
        });
        let ground = self.inks.ground.map_or_else(String::new, |ground| {
            format!("<rect width=\"{width}\" height=\"{height}\" fill=\"{ground}\"/>\n")
        });
        format!(
            "<svg{size} viewBox=\"0 0 {width} {height}\" \
             role=\"img\" aria-labelledby=\"{id}-title {id}-desc\" font-family=\"{FACES}\">\n\
             <title id=\"{id}-title\">{}</title>\n<desc id=\"{id}-desc\">{}</desc>\n\
             {style}{ground}{}</svg>\n",
            escape(title),
            escape(desc),
            self.body
        )
    }
}

/// A coordinate: a hundredth is finer than any screen; what is not finite becomes zero.
pub(crate) fn num(value: f64) -> String {
    if !value.is_finite() {
        return "0".to_owned();
    }
    let text = format!("{:.2}", value.clamp(-1e7, 1e7));
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coordinates_are_short_and_finite() {
        assert_eq!(num(1.0), "1");
        assert_eq!(num(-0.001), "0");
        assert_eq!(num(12.345_6), "12.35");
        assert_eq!(num(f64::NAN), "0");
        assert_eq!(num(f64::INFINITY), "0");
    }
}
