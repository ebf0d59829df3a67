//! The claims at a glance: every condition as a row – its error with its uncertainty against the
//! claimed tolerance.
//!
//! Point: the error. Thick bar: what scatter alone explains (type A). Thin bar: the expanded
//! uncertainty. Grey field: the tolerance. Dotted lines: within them an error would be shown
//! within; dashed lines: beyond them it would be shown beyond. The verdict stands beside it as
//! shape and word, with the probability it rests on.

use super::canvas::{Anchor, Canvas, Face, Pen, num};
use super::ticks::{self, Kind};
use super::{Around, Sheet, glyph, measure, row_height};
use crate::words;
use analysis::findings::{Cell, Findings, Treatment};
use analysis::verdict::Verdict;

/// Height of a row in sizes of the text: many rows stand closer, so that they fit on one page.
fn row_size(rows: usize) -> f64 {
    (66.0 / rows.max(1) as f64).clamp(1.3, 2.2)
}

/// Where the columns stand.
struct Columns {
    margin: f64,
    plot: [f64; 2],
    error: f64,
    p: f64,
    verdict: f64,
}

/// The cells of a treatment with whether each decides, in order of level, cadence and speed.
fn rows(findings: &Findings, treatment: Treatment) -> Vec<(&Cell, bool)> {
    let cells = findings.cells.iter().enumerate();
    let mut rows: Vec<(&Cell, bool)> = cells
        .filter(|(_, cell)| cell.treatment == treatment)
        .map(|(index, cell)| (cell, findings.overall.worst_cell == Some(index)))
        .collect();
    rows.sort_by(|(a, _), (b, _)| {
        let by = |value: Option<f64>| value.unwrap_or(0.0);
        a.level_w
            .total_cmp(&b.level_w)
            .then(by(a.cadence_rpm).total_cmp(&by(b.cadence_rpm)))
            .then(by(a.speed_kmh).total_cmp(&by(b.speed_kmh)))
    });
    rows
}

/// Height of the forest at a size of text, without margins, title and caption.
pub(crate) fn natural_height(findings: &Findings, treatment: Treatment, text: f64) -> f64 {
    let rows = rows(findings, treatment).len().max(1);
    (rows as f64 * row_size(rows) + 8.6) * text
}

/// Draws the forest of one treatment.
pub(crate) fn draw(
    findings: &Findings,
    treatment: Treatment,
    sheet: Sheet,
    around: &Around,
) -> String {
    let rows = rows(findings, treatment);
    let [width, height] = sheet.size;
    let (text, margin) = (sheet.text, sheet.margin());
    let mut canvas = Canvas::new(sheet.id.clone(), sheet.inks, width, height);
    let [top, end] = around.draw(&mut canvas, &sheet);
    let columns = columns(&rows, &sheet);
    let range = range(findings);
    let [left, right] = columns.plot;
    let at = |value: f64| left + (value - range[0]) / (range[1] - range[0]) * (right - left);

    head(&mut canvas, &columns, top + text, text);
    let first = top + 1.7 * text;
    let pitch = row_height(
        end - first - 5.2 * text,
        rows.len(),
        row_size(rows.len()) * text,
    );
    let bottom = first + rows.len() as f64 * pitch;
    fields(&mut canvas, &rows, [first, pitch], text, (range, &at));
    axis(&mut canvas, range, [first, bottom], text, &at);
    for (index, (cell, decides)) in rows.iter().enumerate() {
        let middle = first + (index as f64 + 0.5) * pitch;
        row(&mut canvas, &columns, cell, *decides, middle, text);
        bars(&mut canvas, cell, middle, text, range, &at);
    }
    key(&mut canvas, margin, bottom + 4.6 * text, text);
    canvas.finish(&around.title, &sentence(findings, treatment), sheet.pixels)
}

/// The title of the forest of a treatment.
pub(crate) fn title(findings: &Findings, treatment: Treatment) -> String {
    let device = findings
        .under_test
        .as_deref()
        .unwrap_or("device under test");
    format!("{device}: error at every condition, {}", treatment.words())
}

/// The forest in words.
pub(crate) fn sentence(findings: &Findings, treatment: Treatment) -> String {
    let rows = rows(findings, treatment);
    if rows.is_empty() {
        return "No condition could be compared.".to_owned();
    }
    let parts: Vec<String> = rows
        .iter()
        .map(|(cell, _)| {
            format!(
                "{}: {} ± {} % against ±{} %, {}",
                condition(cell),
                words::signed(cell.bias_pct, 2),
                words::decimals(cell.expanded_pct, 2),
                words::short(cell.tolerance_pct),
                cell.verdict.words()
            )
        })
        .collect();
    format!(
        "Error with expanded uncertainty, {}. {}.",
        treatment.words(),
        parts.join("; ")
    )
}

/// A condition in words.
pub(crate) fn condition(cell: &Cell) -> String {
    let mut words = format!("{} W", words::decimals(cell.level_w, 0));
    if let Some(rpm) = cell.cadence_rpm {
        words += &format!(" · {} rpm", words::decimals(rpm, 0));
    }
    if let Some(kmh) = cell.speed_kmh {
        words += &format!(" · {} km/h", words::decimals(kmh, 0));
    }
    words
}

fn error_words(cell: &Cell) -> String {
    let places = if cell.expanded_pct >= 10.0 { 1 } else { 2 };
    format!(
        "{} ± {}",
        words::signed(cell.bias_pct, places),
        words::decimals(cell.expanded_pct, places)
    )
}

fn columns(rows: &[(&Cell, bool)], sheet: &Sheet) -> Columns {
    let (text, margin, width) = (sheet.text, sheet.margin(), sheet.size[0]);
    let widest = |words: &dyn Fn(&Cell) -> String, least: f64| {
        let widths = rows
            .iter()
            .map(|(cell, _)| measure::width(&words(cell), text));
        widths.fold(least, f64::max)
    };
    let label = widest(&condition, measure::width("condition", text)).min(0.34 * width);
    let verdict = width - margin - measure::width("bench not capable", text);
    let p = verdict - 2.9 * text;
    let error = p - measure::width("> 0.99", text) - 1.3 * text;
    let left = margin + label + 1.4 * text;
    let right = error - widest(&error_words, measure::width("error ± U, %", text)) - 1.3 * text;
    Columns {
        margin,
        plot: [left, right.max(left + 1.0)],
        error,
        p,
        verdict,
    }
}

/// One range for all treatments, so that they can be compared.
fn range(findings: &Findings) -> [f64; 2] {
    let largest = |pick: &dyn Fn(&Cell) -> f64| {
        let cells = findings.cells.iter();
        let sizes = cells
            .map(|cell| pick(cell).abs())
            .filter(|size| size.is_finite());
        sizes.fold(0.0, f64::max)
    };
    let errors = largest(&|cell| cell.bias_pct).max(largest(&|cell| cell.tolerance_pct));
    let ends = largest(&|cell| cell.bias_pct.abs() + cell.expanded_pct).min(2.5 * errors);
    let reach = errors.max(ends).max(0.5);
    ticks::range([-reach, reach], 5, Kind::Difference)
}

fn head(canvas: &mut Canvas, columns: &Columns, y: f64, text: f64) {
    let start = Face::new(0.87 * text, canvas.inks.quiet, Anchor::Start);
    let end = Face {
        anchor: Anchor::End,
        ..start
    };
    canvas.text([columns.margin, y], start, "condition");
    canvas.text([columns.error, y], end, "error ± U, %");
    canvas.text([columns.p, y], end, "p within");
    canvas.text([columns.verdict - 1.8 * text, y], start, "verdict");
}

/// The tolerance of every row and the limits of its two guarded statements.
fn fields(
    canvas: &mut Canvas,
    rows: &[(&Cell, bool)],
    [first, pitch]: [f64; 2],
    text: f64,
    (range, at): ([f64; 2], &dyn Fn(f64) -> f64),
) {
    let (edge, unit) = (canvas.inks.edge, text / 13.0);
    let inside = |value: f64| value > range[0] && value < range[1];
    for (index, (cell, _)) in rows.iter().enumerate() {
        let (from, to) = (
            first + index as f64 * pitch,
            first + (index as f64 + 1.0) * pitch,
        );
        let tolerance = cell.tolerance_pct.clamp(0.0, range[1]);
        let (low, high) = (at(-tolerance), at(tolerance));
        canvas.rect([low, from, high - low, to - from], canvas.inks.tolerance);
        let limits = [
            (Some(cell.tolerance_pct), ""),
            (cell.accept_within_pct, "1.5 3"),
            (
                Some(cell.reject_beyond_pct).filter(|limit| limit.is_finite()),
                "6 4",
            ),
        ];
        for (limit, dashes) in limits {
            for limit in limit.into_iter().flat_map(|limit| [-limit, limit]) {
                if inside(limit) {
                    let x = at(limit);
                    canvas.line([x, from], [x, to], Pen::new(edge, unit).dashed(dashes));
                }
            }
        }
    }
}

fn axis(
    canvas: &mut Canvas,
    range: [f64; 2],
    [top, bottom]: [f64; 2],
    text: f64,
    at: &dyn Fn(f64) -> f64,
) {
    let (inks, unit) = (canvas.inks, text / 13.0);
    let [left, right] = [at(range[0]), at(range[1])];
    canvas.line(
        [at(0.0), top],
        [at(0.0), bottom],
        Pen::new(inks.edge, 1.25 * unit),
    );
    canvas.line([left, bottom], [right, bottom], Pen::new(inks.edge, unit));
    let face = Face::new(text, inks.quiet, Anchor::Middle);
    let most = (((right - left) / (4.0 * text)) as usize).clamp(2, 6);
    for tick in ticks::marks(range, most, Kind::Difference) {
        let x = at(tick.at);
        canvas.line(
            [x, bottom],
            [x, bottom + 0.3 * text],
            Pen::new(inks.edge, unit),
        );
        canvas.text([x, bottom + 1.35 * text], face, &tick.label);
    }
    let middle = 0.5 * (left + right);
    canvas.text(
        [middle, bottom + 2.65 * text],
        face,
        "error, % of the reference",
    );
}

fn row(canvas: &mut Canvas, columns: &Columns, cell: &Cell, decides: bool, middle: f64, text: f64) {
    let inks = canvas.inks;
    let base = middle + 0.36 * text;
    let cut = |face: Face| if decides { face.bold() } else { face };
    let room = columns.plot[0] - columns.margin - 0.6 * text;
    let start = Face::new(text, inks.text, Anchor::Start);
    let end = Face {
        anchor: Anchor::End,
        ..start
    };
    let label = measure::clip(&condition(cell), text, room);
    canvas.text([columns.margin, base], cut(start), &label);
    canvas.text([columns.error, base], cut(end), &error_words(cell));
    if cell.verdict != Verdict::NotTested {
        let p = words::short_probability(cell.p_conform);
        canvas.text([columns.p, base], cut(end), &p);
    }
    let radius = 0.42 * text;
    glyph::verdict(
        canvas,
        cell.verdict,
        [columns.verdict - 1.2 * text, middle],
        radius,
    );
    let face = Face {
        ink: inks.of_verdict(cell.verdict),
        ..cut(start)
    };
    canvas.text([columns.verdict, base], face, cell.verdict.words());
}

fn bars(
    canvas: &mut Canvas,
    cell: &Cell,
    middle: f64,
    text: f64,
    range: [f64; 2],
    at: &dyn Fn(f64) -> f64,
) {
    let unit = text / 13.0;
    let ink = canvas.inks.device;
    for (half, width) in [(cell.expanded_pct, 1.25), (cell.k * cell.u_a_pct, 5.0)] {
        let ends = [cell.bias_pct - half, cell.bias_pct + half];
        let [from, to] = ends.map(|end| at(end.clamp(range[0], range[1])));
        canvas.line([from, middle], [to, middle], Pen::new(ink, width * unit));
        if width > 2.0 {
            continue;
        }
        // An end that leaves the plot is an arrow head.
        for (end, x, side) in [(ends[0], from, 1.0), (ends[1], to, -1.0)] {
            let pen = Pen::new(ink, width * unit);
            let cap = 3.0 * unit;
            if end < range[0] || end > range[1] {
                let back = x + 1.5 * cap * side;
                let path = format!(
                    "M{} {}L{} {}L{} {}",
                    num(back),
                    num(middle - cap),
                    num(x),
                    num(middle),
                    num(back),
                    num(middle + cap)
                );
                canvas.path(&path, "none", Some(pen));
            } else {
                canvas.line([x, middle - cap], [x, middle + cap], pen);
            }
        }
    }
    if cell.bias_pct >= range[0] && cell.bias_pct <= range[1] {
        let halo = canvas.inks.halo.unwrap_or(ink);
        let pen = Pen::new(halo, 1.2 * unit);
        canvas.circle([at(cell.bias_pct), middle], 4.6 * unit, ink, Some(pen));
    }
}

/// What the marks mean, in one row under the plot.
fn key(canvas: &mut Canvas, margin: f64, y: f64, text: f64) {
    let (inks, unit, size) = (canvas.inks, text / 13.0, 0.87 * text);
    let face = Face::new(size, inks.quiet, Anchor::Start);
    let middle = y - 0.36 * size;
    let mut x = margin;
    let sample = 1.7 * text;
    for (part, label) in [
        "error",
        "type A alone",
        "U, 95 %",
        "claimed tolerance",
        "shown within up to here",
        "shown beyond from here",
    ]
    .into_iter()
    .enumerate()
    {
        let end = x + sample;
        match part {
            0 => canvas.circle([x + 0.5 * sample, middle], 4.6 * unit, inks.device, None),
            1 => canvas.line(
                [x, middle],
                [end, middle],
                Pen::new(inks.device, 5.0 * unit),
            ),
            2 => {
                let pen = Pen::new(inks.device, 1.25 * unit);
                canvas.line([x, middle], [end, middle], pen);
                for x in [x, end] {
                    canvas.line([x, middle - 3.0 * unit], [x, middle + 3.0 * unit], pen);
                }
            }
            3 => {
                let half = 0.5 * size;
                canvas.rect([x, middle - half, sample, 2.0 * half], inks.tolerance);
                for x in [x, end] {
                    let pen = Pen::new(inks.edge, unit);
                    canvas.line([x, middle - half], [x, middle + half], pen);
                }
            }
            _ => {
                let dashes = if part == 4 { "1.5 3" } else { "6 4" };
                let x = x + 0.5 * sample;
                let pen = Pen::new(inks.edge, 1.2 * unit).dashed(dashes);
                canvas.line([x, middle - 0.75 * size], [x, middle + 0.75 * size], pen);
            }
        }
        let start = if part >= 4 { x + 0.5 * sample } else { end };
        canvas.text([start + 0.5 * text, y], face, label);
        x = start + 0.5 * text + measure::width(label, size) + 1.2 * text;
    }
}
