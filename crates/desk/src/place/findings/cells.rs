//! The cells: what was measured at each condition, as numbers and as a forest – error with its
//! uncertainty against the tolerance, one row each, both treatments.

use super::lens;
use crate::chart::ticks;
use crate::inputs::{SpeedUnit, told};
use crate::parts::table::{self, Cell as Shown, Lay, Row, Width};
use crate::parts::{self, Glyph, glyph, words};
use crate::theme::{self, tokens};
use analysis::evidence::Feeds;
use analysis::findings::{Cell, Findings, Treatment};
use analysis::verdict::Verdict;
use egui::{Align2, Rect, Sense, Stroke, Ui, vec2};
use units::Timestamp;

fn columns(unit: SpeedUnit) -> [table::Column; 8] {
    [
        table::numbers("Level, W", 64.0).in_title(),
        table::numbers("rpm", 40.0).in_title(),
        table::numbers(unit.name(), 48.0).in_title(),
        table::numbers("Steady", 56.0),
        table::words("Error against the claim, %", Width::Share(1.0)),
        table::numbers("Error ± U, %", 104.0),
        table::numbers("p within", 64.0),
        table::words("Verdict", Width::Points(184.0)),
    ]
}

/// Index of the column that holds the forest.
const FOREST: usize = 4;

/// Draws the cells. A click shows the raw traces of the first window of the cell.
pub(super) fn cells_ui(ui: &mut Ui, findings: &Findings, lens: &mut lens::State) {
    parts::heading(ui, "Cells");
    if findings.cells.is_empty() {
        parts::quiet(ui, "There is no steady stretch that could be compared.");
        return;
    }
    let reach = reach(&findings.cells);
    let columns = columns(SpeedUnit::current(ui.ctx()));
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        table::head(ui, &columns);
        for treatment in [Treatment::AsIndicated, Treatment::HubReferred] {
            let cells = findings.cells.iter().enumerate();
            let cells: Vec<_> = cells
                .filter(|(_, cell)| cell.treatment == treatment)
                .collect();
            if cells.is_empty() {
                continue;
            }
            group_head(ui, treatment, findings.overall.treatment == treatment);
            for (index, cell) in cells {
                let worst = findings.overall.worst_cell == Some(index);
                if row(ui, &columns, cell, reach, worst) {
                    let title = title(cell, SpeedUnit::current(ui.ctx()));
                    show(findings, index, &title, lens);
                }
            }
            axis(ui, &columns, reach);
            ui.add_space(tokens::GRID);
        }
    });
    legend(ui);
}

fn group_head(ui: &mut Ui, treatment: Treatment, decides: bool) {
    let words = words::sentence_case(treatment.words());
    let words = if decides {
        format!("{words} · decides")
    } else {
        words
    };
    ui.add_space(0.5 * tokens::GRID);
    parts::caption(ui, &words);
}

/// How far the forest reaches to each side, %.
fn reach(cells: &[Cell]) -> f64 {
    let needed = cells
        .iter()
        .filter(|cell| cell.verdict != Verdict::NotTested)
        .map(|cell| (cell.bias_pct.abs() + cell.expanded_pct).max(1.5 * cell.tolerance_pct))
        .fold(1.0, f64::max);
    // Beyond ten times the usual tolerance details are lost; the numbers stand beside it.
    (needed * 1.05).min(40.0)
}

fn row(ui: &mut Ui, columns: &[table::Column], cell: &Cell, reach: f64, worst: bool) -> bool {
    let unit = SpeedUnit::current(ui.ctx());
    let number = |value: Option<f64>| value.map_or_else(String::new, words::whole);
    let tested = cell.verdict != Verdict::NotTested;
    let error = match tested {
        true => format!(
            "{} ± {:.1}",
            words::signed(cell.bias_pct, 1),
            cell.expanded_pct
        ),
        false => words::NOTHING.to_owned(),
    };
    let p = if tested {
        words::probability(cell.p_conform)
    } else {
        words::NOTHING.to_owned()
    };
    let name = format!(
        "{}: error {error} %, p {p}, {}{}",
        title(cell, unit),
        cell.verdict.words(),
        if worst { ", decides" } else { "" }
    );
    let ink = glyph::verdict_ink(cell.verdict, theme::tokens(ui));
    let cells = [
        Shown::text(words::whole(cell.level_w)),
        Shown::text(number(cell.cadence_rpm)),
        Shown::text(number(cell.speed_kmh.map(|kmh| unit.from_kmh(kmh)))),
        Shown::text(words::clock(cell.seconds)),
        if tested {
            Shown::Picture
        } else {
            Shown::text("")
        },
        Shown::text(error),
        Shown::text(p),
        Shown::Marked(
            Glyph::of_verdict(cell.verdict),
            ink,
            match worst {
                true => format!("{}, decides", cell.verdict.words()),
                false => cell.verdict.words().to_owned(),
            },
        ),
    ];
    let condition = title(cell, unit);
    let row = Row {
        sense: Sense::click(),
        title: Some(&condition),
        ..Row::new(&name, &cells)
    };
    let done = table::row(ui, columns, row);
    let place = done.places[FOREST];
    if tested && ui.is_rect_visible(place) {
        forest(ui, place, cell, reach);
    }
    let clicked = done.response.clicked();
    done.response.on_hover_ui(|ui| details(ui, cell, worst));
    clicked
}

/// Point: error. Thick bar: scatter alone, twice its standard uncertainty. Thin bar: everything.
fn forest(ui: &Ui, area: Rect, cell: &Cell, reach: f64) {
    let t = theme::tokens(ui);
    let painter = ui
        .painter()
        .with_clip_rect(area.expand2(vec2(6.0, 0.0)).intersect(ui.clip_rect()));
    let x = |pct: f64| place(area, pct, reach);
    let band = Rect::from_x_y_ranges(
        x(-cell.tolerance_pct)..=x(cell.tolerance_pct),
        area.top()..=area.bottom(),
    );
    painter.rect_filled(band, 0.0, t.tolerance);
    let edge = Stroke::new(tokens::HAIR, t.edge);
    for end in [band.left(), band.right()] {
        painter.vline(end, area.y_range(), edge);
    }
    painter.vline(x(0.0), area.y_range(), Stroke::new(tokens::HAIR, t.rule));
    let y = area.center().y;
    let bar = |half: f64| x(cell.bias_pct - half)..=x(cell.bias_pct + half);
    painter.hline(bar(cell.expanded_pct), y, Stroke::new(1.5, t.device));
    for end in [
        cell.bias_pct - cell.expanded_pct,
        cell.bias_pct + cell.expanded_pct,
    ] {
        painter.vline(x(end), y - 4.0..=y + 4.0, Stroke::new(1.5, t.device));
    }
    painter.hline(bar(2.0 * cell.u_a_pct), y, Stroke::new(5.0, t.device));
    painter.circle_filled(egui::pos2(x(cell.bias_pct), y), 5.0, t.device);
    painter.circle_filled(egui::pos2(x(cell.bias_pct), y), 2.0, t.paper);
}

fn place(area: Rect, pct: f64, reach: f64) -> f32 {
    let share = (pct.clamp(-reach, reach) + reach) / (2.0 * reach);
    area.left() + share as f32 * area.width()
}

/// The numbers under the forest.
fn axis(ui: &mut Ui, columns: &[table::Column], reach: f64) {
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), 20.0), Sense::hover());
    let [left, width] = match Lay::of(columns, rect.width()) {
        Lay::Grid => table::places(columns, rect.width())[FOREST],
        Lay::Cards => [0.0, rect.width()],
    };
    let area = Rect::from_min_size(rect.min + vec2(left, 0.0), vec2(width, rect.height()));
    let t = theme::tokens(ui);
    for tick in ticks::signed([-reach, reach], (width / 56.0).max(1.0) as usize) {
        let at = egui::pos2(place(area, tick.at, reach), area.top() + 4.0);
        let font = theme::regular(tokens::BODY);
        ui.painter()
            .text(at, Align2::CENTER_TOP, tick.label, font, t.quiet);
    }
}

fn legend(ui: &mut Ui) {
    parts::quiet(
        ui,
        "Point: mean error. Thick bar: scatter alone. Thin bar: expanded uncertainty at 95 %, \
         everything included. Grey band: the claim. Click a row to see its raw traces.",
    );
}

fn details(ui: &mut Ui, cell: &Cell, worst: bool) {
    ui.set_max_width(44.0 * tokens::GRID);
    parts::caption(ui, &title(cell, SpeedUnit::current(ui.ctx())));
    if worst {
        parts::line(ui, "This cell decides.");
    }
    let lines = [
        format!(
            "reference {}, device {}",
            words::watts(cell.reference_w),
            words::watts(cell.under_test_w)
        ),
        format!(
            "{} windows in {} visits, n effective {:.0}",
            cell.windows, cell.visits, cell.n_eff
        ),
        format!(
            "claim ±\u{a0}{:.1}\u{a0}%, T/U {:.1}",
            cell.tolerance_pct, cell.capability
        ),
    ];
    for line in &lines {
        parts::quiet(ui, line);
    }
    if let Some(remark) = &cell.remark {
        parts::quiet(ui, &told(ui, remark));
    }
}

/// The condition in words.
fn title(cell: &Cell, unit: SpeedUnit) -> String {
    let mut words = words::watts(cell.level_w);
    if let Some(cadence) = cell.cadence_rpm {
        words.push_str(&format!(", {}\u{a0}rpm", words::whole(cadence)));
    }
    if let Some(speed) = cell.speed_kmh {
        words.push_str(&format!(", {}", unit.words(speed, 0)));
    }
    if let Some(feeds) = cell.feeds.and_then(feeds_words) {
        words.push_str(&format!(", {feeds}"));
    }
    words
}

fn feeds_words(feeds: Feeds) -> Option<&'static str> {
    match feeds {
        Feeds::Drift => Some("warm-up drift"),
        Feeds::Cadence => Some("cadence arm"),
        Feeds::FlywheelSpeed => Some("flywheel-speed arm"),
        Feeds::Slope => Some("slope"),
        _ => None,
    }
}

/// Opens the raw traces at the first window of a cell. Windows know the cell of the deciding
/// treatment; the other treatment has the same conditions in the same order.
fn show(findings: &Findings, index: usize, title: &str, lens: &mut lens::State) {
    let cell = &findings.cells[index];
    let same = |other: &Cell| {
        (other.level_w - cell.level_w).abs() < 5.0
            && other.feeds == cell.feeds
            && close(other.cadence_rpm, cell.cadence_rpm, 3.0)
            && close(other.speed_kmh, cell.speed_kmh, 1.5)
    };
    let found = findings.windows.iter().find(|window| {
        window.cell.is_some_and(|of| of == index)
            || window
                .cell
                .and_then(|of| findings.cells.get(of))
                .is_some_and(same)
    });
    if let Some(window) = found {
        let (from, to) = (window.from_s, window.to_s);
        lens.show(
            title,
            Timestamp::from_secs_f64(from),
            Timestamp::from_secs_f64(to),
        );
    }
}

fn close(a: Option<f64>, b: Option<f64>, within: f64) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= within,
        (None, None) => true,
        _ => false,
    }
}
