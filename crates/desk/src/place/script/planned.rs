//! What a script asks for: its purpose, length and effort, the target over time, and the steps.

use crate::chart::plot::plot_ui;
use crate::inputs::{ScriptCard, told};
use crate::parts::table::{self, Width};
use crate::parts::{self, words};
use crate::theme::{self, tokens};
use analysis::outcome::{Ink, Layer, Plot};
use bench::model::PlannedStepView;
use egui::{Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};

/// The planned target over time, minutes and W: unbroken runs of corners.
fn corners(script: &ScriptCard) -> Vec<Vec<[f64; 2]>> {
    let mut runs: Vec<Vec<[f64; 2]>> = Vec::new();
    let mut open = false;
    for step in &script.view.steps {
        let (Some([from, to]), Some(length)) = (step.target_w, step.length) else {
            open = false;
            continue;
        };
        let begins = step.begins.as_secs_f64() / 60.0;
        let ends = begins + length.as_secs_f64() / 60.0;
        if !open {
            runs.push(Vec::new());
            open = true;
        }
        if let Some(run) = runs.last_mut() {
            run.extend([[begins, from], [ends, to]]);
        }
    }
    runs
}

/// The staircase in words.
fn spoken(script: &ScriptCard, runs: &[Vec<[f64; 2]>]) -> String {
    let targets = || runs.iter().flatten().map(|[_, watts]| *watts);
    if targets().next().is_none() {
        return "Planned target over time: no step asks for a power".to_owned();
    }
    let (low, high) = (
        targets().fold(f64::MAX, f64::min),
        targets().fold(0.0, f64::max),
    );
    let steps = script.view.steps.iter().filter_map(target);
    format!(
        "Planned target over time: {} to {} in {}; step by step {}",
        words::whole(low),
        words::watts(high),
        words::length(script.view.total),
        steps.collect::<Vec<_>>().join(", ")
    )
}

/// The staircase as a small picture without axes, for the head of an editor.
pub(super) fn small_staircase(ui: &mut Ui, script: &ScriptCard) {
    let size = vec2(ui.available_width(), 9.0 * tokens::GRID);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    let runs = corners(script);
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(script, &runs)));
    let corner = |pick: fn(&[f64; 2]) -> f64| runs.iter().flatten().map(pick).fold(0.0, f64::max);
    let most_w = corner(|point| point[1]).max(1.0);
    let total = (script.view.total.as_secs_f64() / 60.0)
        .max(corner(|point| point[0]))
        .max(1e-9);
    let t = theme::tokens(ui);
    let painter = ui.painter();
    painter.hline(
        rect.x_range(),
        rect.bottom(),
        Stroke::new(tokens::HAIR, t.rule),
    );
    for run in runs {
        let line = run
            .into_iter()
            .map(|[minutes, watts]| {
                pos2(
                    rect.left() + rect.width() * (minutes / total) as f32,
                    rect.bottom() - (rect.height() - 4.0) * (watts / most_w) as f32,
                )
            })
            .collect();
        painter.add(Shape::line(line, Stroke::new(tokens::CURVE, t.text)));
    }
}

/// The planned target as a staircase over time.
pub(super) fn staircase(ui: &mut Ui, script: &ScriptCard) {
    let runs = corners(script);
    if runs.is_empty() {
        parts::quiet(ui, "No step of it asks for a power.");
        return;
    }
    let plot = Plot {
        name: "planned-target",
        title: "Planned target".into(),
        x: "time, min".into(),
        y: "target power, W".into(),
        layers: vec![Layer::Line {
            ink: Ink::Reference,
            label: String::new(),
            runs,
        }],
        caption: String::new(),
    };
    plot_ui(ui, &plot);
}

pub(super) fn about_ui(ui: &mut Ui, script: &ScriptCard) {
    parts::heading(ui, &told(ui, &script.view.title));
    ui.add_space(0.5 * tokens::GRID);
    if !script.about.is_empty() {
        parts::paragraph(ui, &told(ui, &script.about));
        ui.add_space(tokens::GRID);
    }
    let length = words::length(script.view.total);
    let steps = script.view.steps.len().to_string();
    let effort = told(ui, &script.effort).into_owned();
    let facts = [
        ("Length", &length[..]),
        ("Steps", &steps),
        ("Effort", &effort),
    ];
    let known = facts.into_iter().filter(|(_, value)| !value.is_empty());
    parts::facts(ui, &known.collect::<Vec<_>>());
    ui.add_space(tokens::GAP);
}

pub(super) fn steps_ui(ui: &mut Ui, script: &ScriptCard) {
    if let Some(problem) = &script.problem {
        parts::caption(ui, "This script cannot be ridden");
        parts::paragraph(ui, problem);
        return;
    }
    let columns = [
        table::numbers("From", 48.0),
        table::words("Step", Width::Share(1.0)),
        table::numbers("Target", 96.0),
        table::numbers("Length", 72.0),
    ];
    ui.spacing_mut().item_spacing.y = 0.0;
    table::head(ui, &columns);
    for step in &script.view.steps {
        let texts = [
            words::clock(step.begins.as_secs_f64()),
            told(ui, &step.title).into_owned(),
            target(step).unwrap_or_else(|| words::NOTHING.to_owned()),
            step.length
                .map_or_else(|| "open end".to_owned(), words::length),
        ];
        table::text_row(ui, &columns, &texts, Sense::hover());
    }
}

/// The target of a planned step in words.
pub(crate) fn target(step: &PlannedStepView) -> Option<String> {
    let [from, to] = step.target_w?;
    Some(if (from - to).abs() < 0.5 {
        words::watts(from)
    } else {
        format!("{} → {}", words::whole(from), words::watts(to))
    })
}
