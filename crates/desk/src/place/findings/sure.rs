//! How sure the program itself is: what came of sessions whose truth is known.

use crate::inputs::{SelfTest, SelfTestCheck};
use crate::parts::table::{self, Cell, Row, Width};
use crate::parts::{self, Glyph, words};
use crate::theme;
use egui::Ui;

const COLUMNS: [table::Column; 4] = [
    table::words("What was compared with the truth", Width::Share(1.0)),
    table::numbers("Found", 128.0),
    table::numbers("Share", 72.0),
    table::words("Often enough", Width::Points(120.0)),
];

/// Draws the outcome of the last self-test.
pub(super) fn sure_ui(ui: &mut Ui, self_test: Option<&SelfTest>) {
    parts::heading(ui, "How sure");
    let Some(found) = self_test else {
        parts::quiet(
            ui,
            "This program has not tested itself on this computer yet. Run “prony selftest”: it \
             rides simulated sessions whose truth is known and counts how often it finds it.",
        );
        return;
    };
    let failed = found.checks.iter().filter(|check| !check.passed).count();
    let sentence = format!(
        "{} rode {} simulated sessions whose truth is known. {}",
        found.program,
        found.sessions,
        match failed {
            0 => "Every comparison found the truth often enough.".to_owned(),
            1 => "One comparison missed it too often: do not rely on what it concerns.".to_owned(),
            _ => format!("{failed} comparisons missed it too often: do not rely on them."),
        }
    );
    parts::paragraph(ui, &sentence);
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        table::head(ui, &COLUMNS);
        for check in &found.checks {
            row(ui, check);
        }
    });
}

fn row(ui: &mut Ui, check: &SelfTestCheck) {
    let found = format!("{} of {}", check.within, check.tried);
    let share = match check.tried {
        0 => words::NOTHING.to_owned(),
        tried => {
            let share = 100.0 * f64::from(check.within) / f64::from(tried);
            format!("{}\u{a0}%", words::decimals(share, 1))
        }
    };
    let (glyph, said) = match check.passed {
        true => (Glyph::Disc, "yes"),
        false => (Glyph::Cross, "no"),
    };
    let name = format!("{}: {found}, often enough: {said}", check.name);
    let t = theme::tokens(ui);
    let ink = if check.passed { t.text } else { t.alarm };
    let cells = [
        Cell::text(check.name.as_str()),
        Cell::text(found),
        Cell::text(share),
        Cell::Marked(glyph, ink, said.to_owned()),
    ];
    table::row(ui, &COLUMNS, Row::new(&name, &cells));
}
