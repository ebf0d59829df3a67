//! The cells: what was measured at each condition, as numbers and as a forest – error with its
//! uncertainty against the tolerance, one row each, both treatments.

use super::lens;
use crate::chart::ticks;
use crate::parts::table::{self, Width};
use crate::parts::{self, Glyph, glyph, words};
use crate::theme::{self, tokens};
use analysis::evidence::Feeds;
use analysis::findings::{Cell, Findings, Treatment};
use analysis::verdict::Verdict;
use egui::{Align2, Rect, Sense, Stroke, Ui, vec2};
use units::Timestamp;

const COLUMNS: [table::Column; 8] = [
    table::numbers("Level, W", 64.0),
    table::numbers("rpm", 40.0),
    table::numbers("km/h", 48.0),
    table::numbers("Steady", 56.0),
    table::words("Error against the claim, %", Width::Share(1.0)),
    table::numbers("Error ± U, %", 104.0),
    table::numbers("p within", 64.0),
    table::words("Verdict", Width::Points(152.0)),
];

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
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        table::head(ui, &COLUMNS);
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
                if row(ui, cell, reach, worst) {
                    show(findings, index, lens);
                }
            }
            axis(ui, reach);
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

fn row(ui: &mut Ui, cell: &Cell, reach: f64, worst: bool) -> bool {
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
        title(cell),
        cell.verdict.words(),
        if worst { ", decides" } else { "" }
    );
    let response = table::row(ui, &COLUMNS, &name, Sense::click(), |ui, rect, places| {
        let t = theme::tokens(ui);
        let texts = [
            words::whole(cell.level_w),
            number(cell.cadence_rpm),
            number(cell.speed_kmh),
            words::clock(cell.seconds),
            String::new(),
            error,
            p,
        ];
        for (index, text) in texts.iter().enumerate() {
            table::cell(ui, rect, places[index], text, t.text, COLUMNS[index].side);
        }
        if tested {
            forest(ui, rect, places[FOREST], cell, reach);
        }
        let [left, width] = places[7];
        let ink = glyph::verdict_ink(cell.verdict, t);
        let center = rect.left_center() + vec2(left + 6.0, 0.0);
        Glyph::of_verdict(cell.verdict).paint(ui.painter(), center, 5.0, ink);
        let text = [left + 20.0, width - 20.0];
        let font = if worst {
            theme::bold(tokens::BODY)
        } else {
            theme::regular(tokens::BODY)
        };
        let at = Rect::from_min_size(rect.min + vec2(text[0], 0.0), vec2(text[1], rect.height()));
        parts::control::text_in(ui, at, cell.verdict.words(), font, ink, Align2::LEFT_CENTER);
    });
    let clicked = response.clicked();
    response.on_hover_ui(|ui| details(ui, cell, worst));
    clicked
}

/// Point: error. Thick bar: scatter alone, twice its standard uncertainty. Thin bar: everything.
fn forest(ui: &Ui, row: Rect, [left, width]: [f32; 2], cell: &Cell, reach: f64) {
    let t = theme::tokens(ui);
    let area = Rect::from_min_size(row.min + vec2(left, 0.0), vec2(width, row.height()));
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
fn axis(ui: &mut Ui, reach: f64) {
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), 20.0), Sense::hover());
    let [left, width] = table::places(&COLUMNS, rect.width())[FOREST];
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
    parts::caption(ui, &title(cell));
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
        parts::quiet(ui, remark);
    }
}

/// The condition in words.
fn title(cell: &Cell) -> String {
    let mut words = words::watts(cell.level_w);
    if let Some(cadence) = cell.cadence_rpm {
        words.push_str(&format!(", {}\u{a0}rpm", words::whole(cadence)));
    }
    if let Some(speed) = cell.speed_kmh {
        words.push_str(&format!(", {}\u{a0}km/h", words::whole(speed)));
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
fn show(findings: &Findings, index: usize, lens: &mut lens::State) {
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
            &title(cell),
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
