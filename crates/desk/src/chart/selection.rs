//! The read-out of a selected stretch: mean and standard deviation of every stream in it, the
//! difference of the two that are compared, and the same as text for the clipboard.

use super::selected::{Difference, Summary, difference, summary};
use super::time_axis::TimeAxis;
use super::values::value_at;
use crate::parts::{self, Voice, control, words};
use crate::theme::{self, tokens};
use bench::trace::Trace;
use egui::{Align, Align2, Layout, Role, Sense, Ui, WidgetInfo, vec2};
use units::{Span, Timestamp};

/// Height that the read-out takes in so much width, points.
pub fn height(streams: &Streams<'_>, width: f32) -> f32 {
    let rows = match stands(streams, width) {
        Stands::Beside => 4,
        Stands::Under => 1 + columns(streams),
    };
    tokens::CONTROL + rows as f32 * ROW
}

/// How the streams stand in the read-out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stands {
    /// One column for each.
    Beside,
    /// One line for each, where columns would become too narrow.
    Under,
}

fn stands(streams: &Streams<'_>, width: f32) -> Stands {
    let needed = LABEL + columns(streams) as f32 * COLUMN;
    if needed > width {
        Stands::Under
    } else {
        Stands::Beside
    }
}

/// One for each stream, and one for the difference.
fn columns(streams: &Streams<'_>) -> usize {
    streams.all.len() + usize::from(streams.pair.is_some())
}

/// Narrowest column of one stream, points.
const COLUMN: f32 = 9.5 * tokens::GRID;

const ROW: f32 = 3.0 * tokens::GRID;

/// The streams of a set of linked charts.
pub struct Streams<'a> {
    /// All of them.
    pub all: Vec<Stream<'a>>,
    /// Places of the device and of the reference among them.
    pub pair: Option<[usize; 2]>,
}

/// One stream.
pub struct Stream<'a> {
    /// Name for people.
    pub name: String,
    /// Unit.
    pub unit: &'static str,
    /// What values are multiplied by to be in that unit.
    pub scale: f64,
    /// Decimals worth writing.
    pub decimals: usize,
    /// The values.
    pub trace: &'a Trace,
}

/// What was computed for a stretch, kept until the stretch or what lies in it changes.
#[derive(Debug, Default)]
pub struct Summaries {
    key: Option<Key>,
    rows: Vec<Option<Summary>>,
    difference: Option<Difference>,
}

/// Both ends, the end of what is known, and how many values there are up to it.
type Key = (Timestamp, Timestamp, Timestamp, usize);

impl Summaries {
    fn refresh(&mut self, streams: &Streams<'_>, [from, to]: [Timestamp; 2], now: Timestamp) {
        let known = to.min(now);
        let count = if to < now {
            0
        } else {
            streams.all.iter().map(|stream| stream.trace.len()).sum()
        };
        let key = Some((from, to, known, count));
        if self.key == key {
            return;
        }
        self.key = key;
        let rows = streams.all.iter();
        self.rows = rows.map(|one| summary(one.trace, from, known)).collect();
        self.difference = streams.pair.and_then(|[device, reference]| {
            let (device, reference) = (&streams.all[device], &streams.all[reference]);
            difference(device.trace, reference.trace, from, known)
        });
    }

    /// Forgets what was computed: other streams are looked at.
    pub fn forget(&mut self) {
        *self = Self::default();
    }
}

/// Draws the read-out if a stretch is selected, and copies what is asked for.
pub fn selection_ui(
    ui: &mut Ui,
    axis: &mut TimeAxis,
    streams: &Streams<'_>,
    summaries: &mut Summaries,
    now: Timestamp,
) {
    let stretch = axis.pick.stretch();
    if let Some(stretch) = stretch {
        summaries.refresh(streams, stretch.map(Timestamp::from_secs_f64), now);
        head(ui, axis, stretch);
        table(ui, streams, summaries);
    }
    if axis.pick.take_copy() {
        let text = match stretch {
            Some(stretch) => stretch_text(streams, summaries, stretch),
            None => {
                let at_s = axis.pick.cursor().unwrap_or(now.as_secs_f64());
                moment_text(streams, at_s)
            }
        };
        ui.ctx().copy_text(text);
    }
}

fn head(ui: &mut Ui, axis: &mut TimeAxis, [from, to]: [f64; 2]) {
    ui.horizontal(|ui| {
        ui.set_height(tokens::CONTROL);
        let length = words::length(Span::from_secs_f64(to - from));
        let (from, to) = (words::clock(from), words::clock(to));
        let title = format!("{from}–{to}, {length}");
        let copy = if axis.pick.is_copied() {
            "Values copied"
        } else {
            "Copy values"
        };
        let buttons = [("Clear", "Del"), ("Show alone", "Z"), (copy, "Ctrl C")];
        let taken: f32 = buttons
            .iter()
            .map(|(words, key)| control::button_width(ui, words, key, Voice::Plain) + tokens::GRID)
            .sum();
        let room = (ui.available_width() - taken).max(12.0 * tokens::GRID);
        let size = vec2(room, tokens::CONTROL);
        ui.allocate_ui_with_layout(size, Layout::left_to_right(Align::Center), |ui| {
            ui.set_min_width(room);
            ui.set_max_width(room);
            parts::caption(ui, &title);
        });
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            for (index, (words, key)) in buttons.into_iter().enumerate() {
                let width = control::button_width(ui, words, key, Voice::Plain);
                // What does not fit stays reachable by its key.
                if width > ui.available_width()
                    || !parts::button(ui, words, key, Voice::Plain).clicked()
                {
                    continue;
                }
                match index {
                    0 => axis.pick.clear(),
                    1 => axis.show_selected(),
                    _ => axis.pick.want_copy(),
                }
            }
        });
    });
}

fn table(ui: &mut Ui, streams: &Streams<'_>, summaries: &Summaries) {
    let value = |stream: &Stream<'_>, value: Option<f64>| {
        value.map_or_else(
            || words::NOTHING.to_owned(),
            |value| {
                format!(
                    "{}\u{a0}{}",
                    words::decimals(value * stream.scale, stream.decimals),
                    stream.unit
                )
            },
        )
    };
    let of_all = |pick: fn(&Summary) -> f64| {
        streams
            .all
            .iter()
            .zip(&summaries.rows)
            .map(|(stream, row)| value(stream, row.as_ref().map(pick)))
            .collect::<Vec<_>>()
    };
    let mut names: Vec<_> = streams.all.iter().map(|one| one.name.clone()).collect();
    let (mut means, mut sds) = (of_all(|row| row.mean), of_all(|row| row.sd));
    let mut shares = vec![String::new(); names.len()];
    if let Some(pair) = &summaries.difference {
        names.push("difference".to_owned());
        means.push(format!("{}\u{a0}W", words::signed(pair.of.mean, 1)));
        sds.push(format!("{}\u{a0}W", words::decimals(pair.of.sd, 1)));
        let share = pair.pct();
        shares.push(share.map_or_else(|| words::NOTHING.to_owned(), words::signed_pct));
    }
    ui.spacing_mut().item_spacing.y = 0.0;
    let beside = vec![
        ("selected".to_owned(), names),
        ("mean".to_owned(), means),
        ("SD".to_owned(), sds),
        ("of reference".to_owned(), shares),
    ];
    let lines = match stands(streams, ui.available_width()) {
        Stands::Beside => beside,
        Stands::Under => turned(&beside, "of ref."),
    };
    let label = label_width(ui, &lines);
    let widths = widths(ui, label, &lines);
    for (index, (name, cells)) in lines.iter().enumerate() {
        let t = theme::tokens(ui);
        let ink = if index == 0 { t.quiet } else { t.text };
        row(ui, name, cells, (label, &widths), ink);
    }
}

/// A name and the values behind it.
type Line = (String, Vec<String>);

/// Lines become columns, and columns lines; the last one under a shorter name.
fn turned(lines: &[Line], last: &str) -> Vec<Line> {
    let Some(((corner, names), rest)) = lines.split_first() else {
        return Vec::new();
    };
    let mut head: Vec<String> = rest.iter().map(|(name, _)| name.clone()).collect();
    if let Some(name) = head.last_mut() {
        last.clone_into(name);
    }
    let values = names.iter().enumerate().map(|(column, name)| {
        let cells = rest.iter().map(|(_, cells)| cells[column].clone());
        (name.clone(), cells.collect())
    });
    std::iter::once((corner.clone(), head))
        .chain(values)
        .collect()
}

/// Room for the names of the lines, points.
fn label_width(ui: &Ui, lines: &[Line]) -> f32 {
    let font = theme::regular(tokens::BODY);
    let width = |(name, _): &Line| control::text_width(ui, name, font.clone()) + tokens::GRID;
    lines.iter().map(width).fold(LABEL, f32::max)
}

/// Usual room for the names of the lines, points.
const LABEL: f32 = 11.0 * tokens::GRID;

/// A column is as wide as its widest text asks for, a little more where there is room, and less
/// where there is none.
fn widths(ui: &Ui, label: f32, lines: &[Line]) -> Vec<f32> {
    let font = theme::regular(tokens::BODY);
    let columns = lines
        .iter()
        .map(|(_, cells)| cells.len())
        .max()
        .unwrap_or(0);
    let widest = |column: usize| {
        let cells = lines.iter().filter_map(|(_, cells)| cells.get(column));
        let widths = cells.map(|cell| control::text_width(ui, cell, font.clone()));
        widths.fold(0.0, f32::max) + 2.0 * tokens::GRID
    };
    let natural: Vec<f32> = (0..columns).map(widest).collect();
    let room = ui.available_width() - label;
    let factor = room / natural.iter().sum::<f32>().max(1.0);
    natural
        .iter()
        .map(|width| width * factor.clamp(0.1, 1.4))
        .collect()
}

/// One line of the read-out: its name at the left, a value under each stream.
fn row(
    ui: &mut Ui,
    name: &str,
    cells: &[String],
    (label, widths): (f32, &[f32]),
    ink: egui::Color32,
) {
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), ROW), Sense::hover());
    response.widget_info(|| {
        let said = cells.iter().filter(|cell| !cell.is_empty());
        let said = said.cloned().collect::<Vec<_>>().join(", ");
        WidgetInfo::labeled(Role::Label, true, format!("{name}: {said}"))
    });
    let quiet = theme::tokens(ui).quiet;
    let font = theme::regular(tokens::BODY);
    let first = rect.with_max_x(rect.left() + label);
    control::text_in(ui, first, name, font.clone(), quiet, Align2::LEFT_CENTER);
    let mut elided = false;
    let mut left = first.right();
    for (cell, width) in cells.iter().zip(widths) {
        let area = rect
            .with_min_x(left + 0.5 * tokens::GRID)
            .with_max_x(left + width);
        elided |= control::text_in(ui, area, cell, font.clone(), ink, Align2::RIGHT_CENTER);
        left += width;
    }
    if elided {
        response.on_hover_text(cells.join("\n"));
    }
}

/// A table with one line for each stream, its columns divided by tabulators.
fn stretch_text(streams: &Streams<'_>, summaries: &Summaries, [from, to]: [f64; 2]) -> String {
    let mut text = format!("from_s\t{from:.3}\nto_s\t{to:.3}\n");
    text.push_str("stream\tunit\tmean\tsd\tlowest\thighest\tseconds\n");
    let line = |name: &str, unit: &str, row: &Summary| {
        let Summary {
            seconds,
            mean,
            sd,
            low,
            high,
        } = row;
        format!("{name}\t{unit}\t{mean:.3}\t{sd:.3}\t{low:.3}\t{high:.3}\t{seconds:.3}\n")
    };
    for (stream, row) in streams.all.iter().zip(&summaries.rows) {
        if let Some(row) = row {
            text.push_str(&line(&stream.name, stream.unit, &row.times(stream.scale)));
        }
    }
    if let Some(pair) = &summaries.difference {
        text.push_str(&line("device - reference", "W", &pair.of));
        if let Some(pct) = pair.pct() {
            text.push_str(&format!("device - reference\t% of reference\t{pct:.3}\n"));
        }
    }
    text
}

/// A line with the value of every stream at one moment.
fn moment_text(streams: &Streams<'_>, at_s: f64) -> String {
    let at = Timestamp::from_secs_f64(at_s);
    let (mut head, mut line) = ("time_s".to_owned(), format!("{at_s:.3}"));
    for stream in &streams.all {
        head.push_str(&format!("\t{}, {}", stream.name, stream.unit));
        line.push('\t');
        if let Some(value) = value_at(stream.trace, at) {
            line.push_str(&format!("{:.3}", value * stream.scale));
        }
    }
    format!("{head}\n{line}\n")
}
