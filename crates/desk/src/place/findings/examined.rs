//! The examinations: a list at the left, one of them with its sentence and its plots at the right.

use crate::chart::plot::plot_ui;
use crate::inputs::told;
use crate::parts::{self, control, words};
use crate::theme::tokens;
use analysis::examinations::Examinations;
use analysis::findings::Findings;
use analysis::outcome::{NotTested, Outcome, Plot};
use egui::{Frame, Margin, Panel, ScrollArea, Ui};

/// What is chosen: nothing means the first that was tested.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Choice {
    /// The first that was tested.
    #[default]
    First,
    /// The one of this title.
    One(&'static str),
    /// The list of what was not tested.
    NotTested,
}

/// An examination that was made, whatever its result is.
struct Examined<'a> {
    title: &'static str,
    sentence: &'a str,
    plots: &'a [Plot],
}

/// Draws the page.
pub(super) fn examined_ui(ui: &mut Ui, findings: &Findings, choice: &mut Choice) {
    let tested = tested(&findings.examinations);
    let list = (0.24 * ui.available_width()).clamp(20.0 * tokens::GRID, 32.0 * tokens::GRID);
    let frame = Frame::new().inner_margin(Margin {
        left: 24,
        right: 0,
        top: 16,
        bottom: 0,
    });
    let chosen = match *choice {
        Choice::First => tested
            .first()
            .map_or(Choice::NotTested, |one| Choice::One(one.title)),
        other => other,
    };
    Panel::left("examinations")
        .exact_size(list)
        .resizable(false)
        .show_separator_line(false)
        .frame(frame)
        .show(ui, |ui| {
            ScrollArea::vertical()
                .auto_shrink([false, false])
                .show(ui, |ui| {
                    ui.spacing_mut().item_spacing.y = 2.0;
                    for one in &tested {
                        let is_chosen = chosen == Choice::One(one.title);
                        if control::choice_row(ui, is_chosen.into(), one.title, "").clicked() {
                            *choice = Choice::One(one.title);
                        }
                    }
                    let title = format!("Not tested · {}", findings.not_tested.len());
                    let is_chosen = chosen == Choice::NotTested;
                    ui.add_space(tokens::GRID);
                    if control::choice_row(ui, is_chosen.into(), &title, "").clicked() {
                        *choice = Choice::NotTested;
                    }
                });
        });
    parts::page(ui, "examination", |ui| match chosen {
        Choice::One(title) => {
            if let Some(one) = tested.iter().find(|one| one.title == title) {
                one_ui(ui, one);
            } else {
                parts::quiet(ui, "This was not tested in the session that is open.");
            }
        }
        Choice::First | Choice::NotTested => not_tested_ui(ui, &findings.not_tested),
    });
}

fn one_ui(ui: &mut Ui, one: &Examined<'_>) {
    parts::heading(ui, one.title);
    parts::paragraph(ui, &told(ui, one.sentence));
    // Two beside each other where there is room, so that they can be compared.
    let wide = ui.available_width() > 112.0 * tokens::GRID;
    let columns = if wide && one.plots.len() > 1 { 2 } else { 1 };
    for pair in one.plots.chunks(columns) {
        ui.add_space(tokens::GAP);
        ui.columns(columns, |areas| {
            for (area, plot) in areas.iter_mut().zip(pair) {
                plot_ui(area, plot);
            }
        });
    }
}

fn not_tested_ui(ui: &mut Ui, not_tested: &[NotTested]) {
    parts::heading(ui, "Not tested");
    if not_tested.is_empty() {
        parts::quiet(ui, "Everything was tested.");
        return;
    }
    parts::quiet(ui, "What to ride or to bring to have it tested:");
    ui.add_space(tokens::GRID);
    for one in not_tested {
        parts::caption(ui, &words::sentence_case(one.examination));
        parts::paragraph(ui, &told(ui, &words::sentence_case(&one.reason)));
        ui.add_space(tokens::GRID);
    }
}

fn tested(all: &Examinations) -> Vec<Examined<'_>> {
    [
        view("Level", &all.level),
        view("Level from above and below", &all.hysteresis),
        view("Early, midway, late", &all.anchors),
        view("Cadence", &all.cadence_dependence),
        view("Flywheel speed", &all.speed_dependence),
        view("Warm-up drift", &all.warm_up),
        view("Response to a new target", &all.response),
        view("Holding stability", &all.stability),
        view("Change of cadence", &all.disturbance),
        view("Reporting lag and smoothing", &all.smoothing),
        view("Target echo", &all.echo),
        view("Bursts", &all.bursts),
        view("Drop-outs", &all.drop_outs),
        view("Radio", &all.radio),
        view("Slope simulation", &all.slope),
        view("Virtual speed", &all.virtual_speed),
        view("Spin-down", &all.coast_down),
        view("Inertia", &all.inertia),
        view("Agreement", &all.agreement),
        view("Work", &all.energy),
        view("Best means", &all.best_means),
        view("Consistency of instruments", &all.consistency),
        view("Noise of each instrument", &all.apportioning),
        view("Trust in the reference", &all.assurance),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn view<'a, R>(title: &'static str, outcome: &'a Outcome<R>) -> Option<Examined<'a>> {
    let tested = outcome.as_ref().ok()?;
    Some(Examined {
        title,
        sentence: &tested.sentence,
        plots: &tested.plots,
    })
}
