//! One plot: where its parts stand, its axes, and the layers in their order.

use super::canvas::{Anchor, Canvas, Face, Pen, num};
use super::extent::Extent;
use super::labels::{self, Beside, Name, Sample};
use super::layers::{self, Frame};
use super::spans::{self, Reason};
use super::ticks::{self, Kind, Tick};
use super::{Sheet, Words, measure};
use crate::describe;
use crate::words::sentence_case;
use analysis::outcome::{Ink, Plot};

/// Most reasons that the key under a plot explains.
const MOST_REASONS: usize = 8;
/// Share of the room that long texts are broken for: another face may be a little wider.
const SAFE: f64 = 0.94;
/// Largest share of the width that names beside the plot may take.
const BESIDE: f64 = 0.25;

/// Draws a plot.
pub(crate) fn draw(plot: &Plot, sheet: Sheet) -> String {
    let [width, height] = sheet.size;
    let text = sheet.text;
    let mut canvas = Canvas::new(sheet.id.clone(), sheet.inks, width, height);
    let margin = sheet.margin();
    let mut top = margin;
    if sheet.words == Words::Inside {
        let face = Face::new(1.4 * text, canvas.inks.text, Anchor::Start).bold();
        let room = width - 2.0 * margin;
        top += 1.4 * text;
        canvas.text(
            [margin, top],
            face,
            &measure::clip(&plot.title, face.size, room),
        );
        top += 0.7 * text;
    }
    let bottom = caption(&mut canvas, plot, &sheet);

    // Marks are counted for the height that is left; the labels of the marks give the left edge.
    let counts = [
        ((width / (7.0 * text)) as usize).clamp(3, 10),
        ((bottom - top) / 50.0) as usize,
    ];
    let counts = [counts[0], counts[1].clamp(3, 7)];
    match Extent::of(plot, counts) {
        Some(extent) => body(&mut canvas, plot, &sheet, &extent, counts, [top, bottom]),
        None => {
            let face = Face::new(text, canvas.inks.quiet, Anchor::Middle);
            let at = [width / 2.0, 0.5 * (top + bottom)];
            canvas.text(at, face, "There is nothing to draw: no value was measured.");
        }
    }
    canvas.finish(&plot.title, &describe::sentence(plot), sheet.pixels)
}

/// Writes the caption at the foot of a picture that stands alone; the lower edge of the rest.
fn caption(canvas: &mut Canvas, plot: &Plot, sheet: &Sheet) -> f64 {
    let [width, height] = sheet.size;
    let margin = sheet.margin();
    if sheet.words == Words::Outside || plot.caption.is_empty() {
        return height - margin;
    }
    let size = 0.87 * sheet.text;
    let lines = measure::wrap(
        &sentence_case(&plot.caption),
        size,
        SAFE * (width - 2.0 * margin),
        3,
    );
    let face = Face::new(size, canvas.inks.quiet, Anchor::Start);
    let first = height - margin - (lines.len() as f64 - 1.0) * 1.3 * size;
    for (index, line) in lines.iter().enumerate() {
        canvas.text([margin, first + index as f64 * 1.3 * size], face, line);
    }
    first - 2.0 * size
}

fn body(
    canvas: &mut Canvas,
    plot: &Plot,
    sheet: &Sheet,
    extent: &Extent,
    counts: [usize; 2],
    [mut top, mut bottom]: [f64; 2],
) {
    let (text, margin, width) = (sheet.text, sheet.margin(), sheet.size[0]);
    let reasons = spans::reasons(plot);

    // Above: the key, the label of the vertical axis, the letters of the spans.
    let (beside, key) = share_out(labels::names(&plot.layers), sheet, 0.55 * (bottom - top));
    let (mut beside, rows) = (beside, labels::rows(&key, text, width - 2.0 * margin));
    for row in &rows {
        top += 1.2 * text;
        labels::draw_row(canvas, row, [margin, top], text);
        top += 0.35 * text;
    }
    top += if rows.is_empty() { 0.0 } else { 0.35 * text };
    top += 1.2 * text;
    let quiet = Face::new(text, canvas.inks.quiet, Anchor::Start);
    canvas.text(
        [margin, top],
        quiet,
        &measure::clip(&plot.y, text, width - 2.0 * margin),
    );
    top += if reasons.is_empty() {
        1.2 * text
    } else {
        1.9 * text
    };

    // Below: the key of the spans, the label of the horizontal axis, its marks.
    bottom = reasons_key(canvas, &reasons, sheet, bottom);
    let y_ticks = ticks::marks(extent.y, counts[1], extent.y_kind);
    let x_ticks = ticks::marks(extent.x, counts[0], extent.x_kind);
    let widest = y_ticks
        .iter()
        .map(|tick| measure::width(&tick.label, text))
        .fold(0.0, f64::max);
    let left = margin + widest + 0.7 * text;
    // The last number of the horizontal axis may stand at its very end.
    let last = x_ticks
        .last()
        .map_or(0.0, |tick| 0.5 * measure::width(&tick.label, text));
    let right = width - margin - beside.width.max(0.8 * text).max(last);
    let face = Face {
        anchor: Anchor::End,
        ..quiet
    };
    canvas.text(
        [right, bottom - 0.25 * text],
        face,
        &measure::clip(&plot.x, text, right - left),
    );
    bottom -= 2.75 * text;

    let frame = Frame {
        area: [left, top, right, bottom],
        x: extent.x,
        y: extent.y,
        columns: ((right - left) * sheet.pixels_per_unit).max(1.0) as usize,
        unit: text / 13.0,
        x_kind: extent.x_kind,
    };
    for layer in &plot.layers {
        layers::behind(canvas, &frame, layer);
    }
    hatching(canvas, &frame, &reasons, text);
    grid(canvas, &frame, extent, &x_ticks, &y_ticks, text);
    canvas.raw(&format!(
        "<clipPath id=\"{}-area\"><rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/></clipPath>\n\
         <g clip-path=\"url(#{}-area)\">\n",
        canvas.id,
        num(left - 0.5),
        num(top - 0.5),
        num(right - left + 1.0),
        num(bottom - top + 1.0),
        canvas.id
    ));
    for (layer, turn) in plot.layers.iter().zip(labels::turns(&plot.layers)) {
        layers::over(canvas, &frame, layer, turn);
    }
    canvas.raw("</g>\n");
    letters(canvas, &frame, &reasons, 0.85 * text);
    beside.place(text, [top, bottom], |y| frame.at_y(y));
    beside.draw(canvas, right, text);
}

/// Names of lines, levels and bands go beside the plot if they fit there, all others in the key.
fn share_out(names: Vec<Name>, sheet: &Sheet, height: f64) -> (Beside, Vec<Name>) {
    let is_beside =
        |name: &Name| matches!(name.sample, Sample::Line | Sample::Band) && name.beside.is_some();
    let (near, key): (Vec<_>, Vec<_>) = names.iter().cloned().partition(is_beside);
    let beside = Beside::measure(&near, sheet.text, BESIDE * sheet.size[0]);
    if beside.height(sheet.text) <= height {
        (beside, key)
    } else {
        (Beside::default(), names)
    }
}

/// Writes what the letters over the hatching mean; the lower edge of the rest.
fn reasons_key(canvas: &mut Canvas, reasons: &[Reason], sheet: &Sheet, bottom: f64) -> f64 {
    if reasons.is_empty() {
        return bottom;
    }
    let size = 0.87 * sheet.text;
    let room = SAFE * (sheet.size[0] - 2.0 * sheet.margin());
    let mut words: Vec<String> = reasons.iter().take(MOST_REASONS).map(Reason::key).collect();
    if reasons.len() > MOST_REASONS {
        words.push(format!(
            "and {} further reasons",
            reasons.len() - MOST_REASONS
        ));
    }
    let lines = measure::wrap(&format!("Hatched: {}", words.join(" · ")), size, room, 4);
    let first = bottom - (lines.len() as f64 - 1.0) * 1.3 * size - 0.25 * size;
    let face = Face::new(size, canvas.inks.quiet, Anchor::Start);
    for (index, line) in lines.iter().enumerate() {
        canvas.text(
            [sheet.margin(), first + index as f64 * 1.3 * size],
            face,
            line,
        );
    }
    first - 1.4 * size
}

fn grid(
    canvas: &mut Canvas,
    frame: &Frame,
    extent: &Extent,
    x_ticks: &[Tick],
    y_ticks: &[Tick],
    text: f64,
) {
    let [left, _, right, bottom] = frame.area;
    let inks = canvas.inks;
    let number = Face::new(text, inks.quiet, Anchor::End);
    for tick in y_ticks {
        let y = frame.at_y(tick.at);
        canvas.line([left, y], [right, y], Pen::new(inks.rule, frame.unit));
        canvas.text([left - 0.6 * text, y + 0.36 * text], number, &tick.label);
    }
    let zero_inside = extent.y[0] < 0.0 && extent.y[1] > 0.0;
    if zero_inside || extent.y_kind == Kind::Difference {
        let y = frame.at_y(0.0);
        canvas.line(
            [left, y],
            [right, y],
            Pen::new(inks.edge, 1.25 * frame.unit),
        );
    }
    canvas.line(
        [left, bottom],
        [right, bottom],
        Pen::new(inks.edge, frame.unit),
    );
    let number = Face {
        anchor: Anchor::Middle,
        ..number
    };
    let mut free_from = f64::MIN;
    for tick in x_ticks {
        let x = frame.at_x(tick.at);
        canvas.line(
            [x, bottom],
            [x, bottom + 0.3 * text],
            Pen::new(inks.edge, frame.unit),
        );
        let half = measure::width(&tick.label, text) / 2.0;
        if x - half >= free_from {
            canvas.text([x, bottom + 1.35 * text], number, &tick.label);
            free_from = x + half + 0.5 * text;
        }
    }
}

/// Fills the spans with slanted lines; what is beyond with lines the other way.
fn hatching(canvas: &mut Canvas, frame: &Frame, reasons: &[Reason], text: f64) {
    if reasons.is_empty() {
        return;
    }
    let (id, pitch) = (canvas.id.clone(), num(0.5 * text));
    let turns = [
        ("hatch", 45, canvas.inks.edge),
        ("beyond", -45, canvas.inks.alarm),
    ];
    for (name, turn, color) in turns {
        canvas.raw(&format!(
            "<pattern id=\"{id}-{name}\" width=\"{pitch}\" height=\"{pitch}\" \
             patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate({turn})\">\
             <line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"{pitch}\" stroke=\"{color}\" \
             stroke-width=\"{}\" opacity=\"0.5\"/></pattern>\n",
            num(0.9 * frame.unit)
        ));
    }
    let [left, top, right, bottom] = frame.area;
    for reason in reasons {
        // What is beyond must be seen even where it lasted a moment only.
        let beyond = reason.ink == Ink::Beyond;
        let (name, least) = if beyond {
            ("beyond", 2.0)
        } else {
            ("hatch", 1.0)
        };
        for [from, to] in &reason.spans {
            let from = frame
                .at_x(*from)
                .clamp(left, (right - least * frame.unit).max(left));
            let to = frame
                .at_x(*to)
                .clamp(left, right)
                .max(from + least * frame.unit);
            if beyond {
                for x in [from, to] {
                    let pen = Pen::new(canvas.inks.alarm, 1.25 * frame.unit);
                    canvas.line([x, top], [x, bottom], pen);
                }
            }
            canvas.rect(
                [from, top, to - from, bottom - top],
                &format!("url(#{id}-{name})"),
            );
        }
    }
}

/// The letters of the reasons over their spans, as far as there is room for them.
fn letters(canvas: &mut Canvas, frame: &Frame, reasons: &[Reason], size: f64) {
    let [left, top, right, _] = frame.area;
    let mut placed: Vec<(f64, &Reason)> = reasons
        .iter()
        .flat_map(|reason| {
            reason.spans.iter().map(move |[from, to]| {
                let (from, to) = (frame.at_x(*from), frame.at_x(*to));
                (
                    0.5 * (from.clamp(left, right) + to.clamp(left, right)),
                    reason,
                )
            })
        })
        .collect();
    placed.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut free_from = f64::MIN;
    for (x, reason) in placed {
        let half = measure::width(&reason.letter, size) / 2.0;
        if x - half < free_from {
            continue;
        }
        let ink = if reason.ink == Ink::Beyond {
            canvas.inks.alarm
        } else {
            canvas.inks.quiet
        };
        canvas.text(
            [x, top - 0.4 * size],
            Face::new(size, ink, Anchor::Middle),
            &reason.letter,
        );
        free_from = x + half + 0.3 * size;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::svg::{Paper, Size, svg};
    use analysis::outcome::Layer;

    pub(crate) fn sample() -> Plot {
        Plot {
            name: "sample",
            title: "A <sample> & more".into(),
            x: "time, min".into(),
            y: "device − reference, % of reference".into(),
            layers: vec![
                Layer::Span {
                    ink: Ink::Excluded,
                    label: "settling".into(),
                    from: 0.0,
                    to: 0.5,
                },
                Layer::Band {
                    ink: Ink::Tolerance,
                    label: "claimed".into(),
                    low: -2.0,
                    high: 2.0,
                },
                Layer::Line {
                    ink: Ink::UnderTest,
                    label: "device".into(),
                    runs: vec![
                        (0..20_000)
                            .map(|i| [f64::from(i) / 600.0, f64::from(i % 7)])
                            .collect(),
                    ],
                },
                Layer::Points {
                    ink: Ink::SecondReference,
                    label: "second".into(),
                    points: vec![[1.0, f64::NAN], [2.0, 1.0]],
                },
                Layer::Intervals {
                    ink: Ink::Beyond,
                    label: "beyond".into(),
                    intervals: vec![[3.0, 1.0, 4.0, 90.0]],
                },
                Layer::Level {
                    ink: Ink::Target,
                    label: "target".into(),
                    at: 1.0,
                },
            ],
            caption: "n = 3".into(),
        }
    }

    #[test]
    fn the_same_plot_gives_the_same_bytes() {
        let draw = || svg(&sample(), Size::HD, Paper::Light);
        assert_eq!(draw(), draw());
    }

    #[test]
    fn every_kind_of_layer_is_well_formed_on_every_paper_and_size() {
        for paper in [
            Paper::Light,
            Paper::Dark,
            Paper::Transparent,
            Paper::TransparentDark,
        ] {
            for size in [
                Size::HD,
                Size::UHD,
                Size {
                    width: 300,
                    height: 900,
                },
            ] {
                let text = svg(&sample(), size, paper);
                let document = roxmltree::Document::parse(&text).unwrap();
                let root = document.root_element();
                assert_eq!(
                    root.attribute("width"),
                    Some(size.width.to_string().as_str())
                );
                let child = |name: &str| {
                    root.children()
                        .find(|node| node.has_tag_name(name))
                        .and_then(|n| n.text())
                };
                assert_eq!(child("title"), Some("A <sample> & more"));
                assert!(child("desc").is_some_and(|desc| desc.contains("settling")));
                assert!(!text.contains("NaN") && !text.contains("inf\""), "{text}");
                let grounds = text.matches("<rect width=\"").count();
                let grounded = matches!(paper, Paper::Light | Paper::Dark);
                assert_eq!(grounds, usize::from(grounded));
            }
        }
    }

    #[test]
    fn long_lines_are_thinned_to_what_the_size_can_show() {
        let points = |size| svg(&sample(), size, Paper::Light).matches('L').count();
        assert!(points(Size::HD) < 4 * 1920 + 100);
        assert!(points(Size::UHD) >= points(Size::HD));
    }

    #[test]
    fn a_plot_without_values_says_so() {
        let plot = Plot {
            layers: Vec::new(),
            ..sample()
        };
        assert!(svg(&plot, Size::HD, Paper::Dark).contains("no value was measured"));
    }
}
