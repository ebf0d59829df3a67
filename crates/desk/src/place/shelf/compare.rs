//! Sessions side by side: what they are to each other, what changed with its intervals, what cannot
//! be told apart, and the rides laid over each other.

use crate::chart::plot::plot_ui;
use crate::inputs::{CompareView, ComparedRow, Laid};
use crate::parts::table::{self, Cell, Column, Row, Width};
use crate::parts::{self, control};
use crate::request::{Request, ShelfWish};
use crate::theme::tokens;
use analysis::outcome::Plot;
use egui::{Sense, Ui};

/// Narrowest page on which verdicts stand beside the conditions, points.
const WIDE: f32 = 130.0 * tokens::GRID;
/// Widest table of sessions, points: beyond it the eye loses the row.
const SESSIONS: f32 = 124.0 * tokens::GRID;
/// Narrowest page on which two plots stand beside each other, points.
const TWO_PLOTS: f32 = 112.0 * tokens::GRID;

/// How rides are laid over each other; remembered for as long as the window is open.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum By {
    #[default]
    Step,
    Clock,
}

/// Draws the comparison.
pub(super) fn compare_ui(ui: &mut Ui, compared: &CompareView, out: &mut Vec<Request>) {
    parts::page(ui, "compare", |ui| {
        let controls = [("Save report …", "Ctrl S"), ("Back to the shelf", "Esc")];
        let title = |ui: &mut Ui| parts::heading(ui, "Side by side");
        parts::title_with(ui, title, &controls, |index| {
            out.push(Request::Shelf(match index {
                0 => ShelfWish::SaveComparison,
                _ => ShelfWish::CloseCompare,
            }));
        });
        ui.add_space(tokens::GRID);
        kind_ui(ui, compared, out);
        for sentence in &compared.sentences {
            parts::paragraph(ui, sentence);
        }
        ui.add_space(tokens::GAP);
        sessions(ui, compared);
        ui.add_space(tokens::GAP);
        conditions(ui, &compared.rows);
        plots(ui, &compared.plots);
        ui.add_space(tokens::GAP);
        overlay(ui, compared);
        ui.add_space(tokens::GAP);
        basis(ui, &compared.basis);
    });
}

/// What the sessions are to each other: what they tell, or what somebody says who knows better.
fn kind_ui(ui: &mut Ui, compared: &CompareView, out: &mut Vec<Request>) {
    if !compared.kind.is_empty() {
        parts::caption(ui, &compared.kind);
    }
    if compared.kinds.is_empty() {
        return;
    }
    let told = std::iter::once("as they tell");
    let words: Vec<&str> = told
        .chain(compared.kinds.iter().map(String::as_str))
        .collect();
    let chosen = compared.asked.map_or(0, |asked| asked + 1);
    if let Some(index) = control::words_row(ui, &words, Some(chosen))
        && index != chosen
    {
        let asked = index.checked_sub(1);
        out.push(Request::Shelf(ShelfWish::CompareAs(asked)));
    }
    ui.add_space(tokens::GRID);
}

fn sessions(ui: &mut Ui, compared: &CompareView) {
    let columns = [
        table::numbers("", 16.0),
        table::words("Session", Width::Share(2.0)),
        table::words("Serial", Width::Share(0.8)),
        table::words("Firmware", Width::Share(0.6)),
        table::words("Ridden", Width::Points(136.0)),
        table::words("Verdict", Width::Points(144.0)),
    ];
    ui.scope(|ui| {
        ui.set_max_width(ui.available_width().min(SESSIONS));
        ui.spacing_mut().item_spacing.y = 0.0;
        table::head(ui, &columns);
        for (index, session) in compared.sessions.iter().enumerate() {
            let texts = [
                (index + 1).to_string(),
                session.title.clone(),
                session.serial.clone(),
                session.firmware.clone(),
                session.started.clone(),
                session.verdict.clone(),
            ];
            table::text_row(ui, &columns, &texts, Sense::hover());
        }
    });
}

/// The conditions, one row for each session that rode them.
fn conditions(ui: &mut Ui, rows: &[ComparedRow]) {
    parts::caption(ui, "Conditions");
    if rows.is_empty() {
        parts::quiet(
            ui,
            "No load was held steady for long enough in any of them. Ride the same script on each.",
        );
        return;
    }
    let wide = ui.available_width() >= WIDE;
    let mut columns: Vec<Column> = vec![
        table::words("Condition", Width::Points(24.0 * tokens::GRID)).in_title(),
        table::numbers("Session", 56.0).in_title(),
        table::numbers("Error ± U, %", 104.0),
    ];
    if wide {
        columns.push(table::words("Verdict", Width::Points(136.0)));
    }
    columns.extend([
        table::numbers("Change, %", 72.0),
        table::numbers("Nothing common", 120.0),
        table::numbers("Common cancelled", 120.0),
        table::words("Shown", Width::Share(1.0)),
    ]);
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        table::head(ui, &columns);
        let mut above = "";
        for row in rows {
            let mut texts = vec![
                row.condition.as_str(),
                row.session.as_str(),
                row.error.as_str(),
            ];
            if wide {
                texts.push(&row.verdict);
            }
            texts.extend(
                [&row.change, &row.independent, &row.cancelled, &row.shown].map(String::as_str),
            );
            let name = texts.join(", ");
            // The same condition is written once.
            if above == row.condition {
                texts[0] = "";
            }
            above = &row.condition;
            let cells: Vec<Cell> = texts.into_iter().map(Cell::text).collect();
            let title = format!("{}, session {}", row.condition, row.session);
            let told = Row {
                title: Some(&title),
                ..Row::new(&name, &cells)
            };
            table::row(ui, &columns, told);
        }
    });
    parts::quiet(
        ui,
        "A change is from session 1, with its 95 % interval twice: with nothing taken as common to \
         both sessions, and with what is provably the same in both cancelled. If held: shown only if what is common \
         stayed as it was in between.",
    );
}

/// Plots, two beside each other where there is room, so that they can be compared.
fn plots(ui: &mut Ui, plots: &[Plot]) {
    let wide = ui.available_width() > TWO_PLOTS;
    let columns = if wide && plots.len() > 1 { 2 } else { 1 };
    for some in plots.chunks(columns) {
        ui.add_space(tokens::GAP);
        ui.scope(|ui| {
            ui.spacing_mut().item_spacing.x = tokens::GAP;
            ui.columns(columns, |areas| {
                for (area, plot) in areas.iter_mut().zip(some) {
                    area.spacing_mut().item_spacing.x = tokens::GRID;
                    plot_ui(area, plot);
                }
            });
        });
    }
}

fn overlay(ui: &mut Ui, compared: &CompareView) {
    parts::caption(ui, "The rides over each other");
    let id = ui.make_persistent_id("rides over each other");
    let mut by: By = ui.data(|data| data.get_temp(id)).unwrap_or_default();
    let chosen = Some(usize::from(by == By::Clock));
    match control::words_row(ui, &["By step of the script", "By the clock"], chosen) {
        Some(0) => by = By::Step,
        Some(_) => by = By::Clock,
        None => {}
    }
    ui.data_mut(|data| data.insert_temp(id, by));
    let laid = match by {
        By::Step => &compared.by_step,
        By::Clock => &compared.by_clock,
    };
    match laid {
        Laid::Over(over) => plots(ui, over),
        Laid::Refused(why) => parts::paragraph(ui, why),
    }
}

fn basis(ui: &mut Ui, basis: &[String]) {
    if basis.is_empty() {
        return;
    }
    parts::caption(ui, "What the intervals rest on");
    ui.scope(|ui| {
        ui.set_max_width(ui.available_width().min(tokens::MEASURE));
        for sentence in basis {
            parts::quiet(ui, sentence);
        }
    });
}
