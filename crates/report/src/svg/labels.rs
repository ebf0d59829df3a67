//! What the lines and marks of a plot are called: beside the line where there is room for it, in a
//! key above the plot where there is not.

use super::canvas::{Anchor, Canvas, Face, Pen};
use super::inks::dashes;
use super::measure;
use super::{glyph, layers};
use analysis::outcome::{Ink, Layer};

/// How a name is shown beside its sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Sample {
    /// A piece of the line.
    Line,
    /// The mark of a point.
    Point,
    /// The mark of a point with its interval.
    Interval,
    /// A piece of the band.
    Band,
}

/// A name and what it belongs to.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Name {
    pub(crate) ink: Ink,
    pub(crate) label: String,
    pub(crate) sample: Sample,
    /// Height at the right edge of the plot, in the unit of the axis; `None` if there is none.
    pub(crate) beside: Option<f64>,
    /// Width of its line.
    pub(crate) weight: f64,
    /// How many layers of marks of the same ink come before it.
    pub(crate) turn: usize,
}

/// The names in a plot. The same name for the same ink is taken once.
pub(crate) fn names(layers: &[Layer]) -> Vec<Name> {
    let mut names: Vec<Name> = Vec::new();
    for (layer, turn) in layers.iter().zip(turns(layers)) {
        let (ink, label, sample, beside, weight) = match layer {
            Layer::Line { ink, label, runs } => {
                let last = runs.iter().rev().flat_map(|run| run.last()).next();
                let weight = layers::weight(*ink, runs);
                (
                    *ink,
                    label,
                    Sample::Line,
                    last.map(|point| point[1]),
                    weight,
                )
            }
            Layer::Points { ink, label, .. } => (*ink, label, Sample::Point, None, 1.0),
            Layer::Intervals { ink, label, .. } => (*ink, label, Sample::Interval, None, 1.0),
            Layer::Band {
                ink, label, high, ..
            } => (*ink, label, Sample::Band, Some(*high), 1.0),
            Layer::Level { ink, label, at } => (*ink, label, Sample::Line, Some(*at), 1.25),
            Layer::Span { .. } => continue,
        };
        let known = |name: &Name| name.ink == ink && name.label == *label && name.sample == sample;
        if label.is_empty() || names.iter().any(known) {
            continue;
        }
        names.push(Name {
            ink,
            label: label.clone(),
            sample,
            beside,
            weight,
            turn,
        });
    }
    names
}

/// For every layer, how many layers of marks of the same ink and another name come before it.
pub(crate) fn turns(layers: &[Layer]) -> Vec<usize> {
    let mut seen: Vec<(Ink, &str)> = Vec::new();
    let mut turns = Vec::with_capacity(layers.len());
    for layer in layers {
        let (Layer::Points { ink, label, .. } | Layer::Intervals { ink, label, .. }) = layer else {
            turns.push(0);
            continue;
        };
        let known = seen.iter().filter(|(other, _)| other == ink);
        let place = known.clone().position(|(_, name)| name == label);
        turns.push(place.unwrap_or(known.count()));
        if place.is_none() {
            seen.push((*ink, label));
        }
    }
    turns
}

/// Length of the sample before a name, in sizes of the text.
const SAMPLE: f64 = 1.5;
/// Room between a sample and its name, in sizes of the text.
const APART: f64 = 0.5;

/// Names beside the plot, each broken into lines.
#[derive(Clone, Debug, Default)]
pub(crate) struct Beside {
    /// Name, its lines, and the height of its middle in the picture.
    placed: Vec<(Name, Vec<String>, f64)>,
    /// Room they take to the right of the plot.
    pub(crate) width: f64,
}

impl Beside {
    /// How wide names at the right would be; they are placed later, when the plot's place is known.
    pub(crate) fn measure(names: &[Name], size: f64, most: f64) -> Self {
        let room = most - (SAMPLE + 2.0 * APART) * size;
        let placed: Vec<_> = names
            .iter()
            .map(|name| (name.clone(), measure::wrap(&name.label, size, room, 3), 0.0))
            .collect();
        let widest = placed
            .iter()
            .flat_map(|(_, lines, _)| lines)
            .map(|line| measure::width(line, size))
            .fold(0.0, f64::max);
        let width = if placed.is_empty() {
            0.0
        } else {
            widest + (SAMPLE + 2.0 * APART) * size
        };
        Self { placed, width }
    }

    /// Height of all of them, one under the other.
    pub(crate) fn height(&self, size: f64) -> f64 {
        self.placed
            .iter()
            .map(|(_, lines, _)| block(lines, size))
            .sum()
    }

    /// Puts each name as near to its height as the others let it.
    pub(crate) fn place(&mut self, size: f64, [top, bottom]: [f64; 2], y: impl Fn(f64) -> f64) {
        for (name, _, middle) in &mut self.placed {
            *middle = y(name.beside.unwrap_or(0.0)).clamp(top, bottom);
        }
        self.placed.sort_by(|a, b| a.2.total_cmp(&b.2));
        let mut free_from = f64::MIN;
        for (_, lines, middle) in &mut self.placed {
            let half = block(lines, size) / 2.0;
            *middle = middle.max(free_from + half).max(top + half - size);
            free_from = *middle + half;
        }
        let mut free_to = bottom + size;
        for (_, lines, middle) in self.placed.iter_mut().rev() {
            let half = block(lines, size) / 2.0;
            *middle = middle.min(free_to - half);
            free_to = *middle - half;
        }
    }

    /// Draws the names from `x` on.
    pub(crate) fn draw(&self, canvas: &mut Canvas, x: f64, size: f64) {
        for (name, lines, middle) in &self.placed {
            let start = x + APART * size;
            sample(canvas, name, [start, *middle], size);
            let text = start + (SAMPLE + APART) * size;
            let ink = ink_of(canvas, name.ink);
            let face = Face::new(size, ink, Anchor::Start);
            let first = middle - (lines.len() as f64 - 1.0) * 0.6 * size + 0.36 * size;
            for (index, line) in lines.iter().enumerate() {
                canvas.text([text, first + index as f64 * 1.2 * size], face, line);
            }
        }
    }
}

fn block(lines: &[String], size: f64) -> f64 {
    (lines.len() as f64 * 1.2 + 0.4) * size
}

/// Names are written in the colour of what they name where that is a colour for text.
fn ink_of(canvas: &Canvas, ink: Ink) -> &'static str {
    match ink {
        Ink::Tolerance | Ink::Excluded => canvas.inks.quiet,
        other => canvas.inks.of(other),
    }
}

/// Names in rows, each row filled from the left.
pub(crate) fn rows(names: &[Name], size: f64, room: f64) -> Vec<Vec<(Name, String, f64)>> {
    let mut rows: Vec<Vec<(Name, String, f64)>> = Vec::new();
    let mut x = 0.0;
    for name in names {
        let label = measure::clip(&name.label, size, room - (SAMPLE + APART) * size);
        let width = (SAMPLE + APART) * size + measure::width(&label, size);
        match rows.last_mut() {
            Some(row) if x + width <= room => row.push((name.clone(), label, x)),
            _ => {
                x = 0.0;
                rows.push(vec![(name.clone(), label, x)]);
            }
        }
        x += width + 1.8 * size;
    }
    rows
}

/// Draws one row of the key with its base line at `y`.
pub(crate) fn draw_row(
    canvas: &mut Canvas,
    row: &[(Name, String, f64)],
    [x, y]: [f64; 2],
    size: f64,
) {
    for (name, label, offset) in row {
        sample(canvas, name, [x + offset, y - 0.36 * size], size);
        let at = [x + offset + (SAMPLE + APART) * size, y];
        let face = Face::new(size, ink_of(canvas, name.ink), Anchor::Start);
        canvas.text(at, face, label);
    }
}

fn sample(canvas: &mut Canvas, name: &Name, [x, y]: [f64; 2], size: f64) {
    let (end, middle) = (x + SAMPLE * size, x + 0.5 * SAMPLE * size);
    let color = canvas.inks.of(name.ink);
    let unit = size / 13.0;
    match name.sample {
        Sample::Line => {
            let pen = Pen::new(color, name.weight * unit).dashed(dashes(name.ink));
            canvas.line([x, y], [end, y], pen);
        }
        Sample::Point => {
            glyph::point(canvas, (name.ink, name.turn), [middle, y], 3.2 * unit);
        }
        Sample::Interval => {
            let half = 0.55 * size;
            canvas.line(
                [middle, y - half],
                [middle, y + half],
                Pen::new(color, 1.25 * unit),
            );
            glyph::point(canvas, (name.ink, name.turn), [middle, y], 3.2 * unit);
        }
        Sample::Band => {
            let half = 0.4 * size;
            let fill = layers::band_fill(canvas, name.ink);
            canvas.rect([x, y - half, end - x, 2.0 * half], fill);
            if name.ink == Ink::Tolerance {
                let pen = Pen::new(color, unit);
                canvas.line([x, y - half], [end, y - half], pen);
                canvas.line([x, y + half], [end, y + half], pen);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name(label: &str, beside: f64) -> Name {
        let (ink, sample) = (Ink::UnderTest, Sample::Line);
        Name {
            ink,
            label: label.into(),
            sample,
            beside: Some(beside),
            weight: 1.0,
            turn: 0,
        }
    }

    #[test]
    fn names_beside_the_plot_do_not_overlap() {
        let names: Vec<_> = (0..6)
            .map(|i| name("of some length", 100.0 + f64::from(i)))
            .collect();
        let mut beside = Beside::measure(&names, 10.0, 200.0);
        beside.place(10.0, [0.0, 200.0], |y| y);
        let mut free_from = -20.0;
        for (_, lines, middle) in &beside.placed {
            let half = block(lines, 10.0) / 2.0;
            assert!(middle - half >= free_from - 1e-9);
            free_from = middle + half;
        }
        assert!(free_from <= 210.0 + 1e-9);
    }

    #[test]
    fn rows_of_the_key_stay_within_their_room() {
        let names: Vec<_> = (0..9)
            .map(|i| name(&format!("a longer name {i}"), 0.0))
            .collect();
        let rows = rows(&names, 10.0, 300.0);
        assert!(rows.len() > 2);
        for (_, label, x) in rows.iter().flatten() {
            assert!(x + measure::width(label, 10.0) <= 300.0);
        }
    }
}
