//! What is to be done now: target, time left, what comes next, and whether it counts.

use crate::inputs::told;
use crate::parts::{self, Glyph, glyph, words};
use crate::theme::{self, tokens};
use bench::Model;
use bench::model::{CellView, GateView, StepView};
use egui::{Align2, Role, Sense, Ui, WidgetInfo, vec2};
use units::Span;

/// Draws the work.
pub(super) fn work_ui(ui: &mut Ui, model: &Model) {
    ui.spacing_mut().item_spacing.y = 0.5 * tokens::GRID;
    let Some(step) = &model.step else {
        parts::quiet(ui, "No step is being ridden.");
        return;
    };
    ui.columns(2, |columns| {
        figure(&mut columns[0], "Target", &target(step));
        figure(&mut columns[1], "Left", &left(step));
    });
    ui.add_space(0.5 * tokens::GRID);
    // What to do, in the words of the script where it has some.
    let cue = model.prompt.as_ref().filter(|prompt| !prompt.waits);
    match cue {
        Some(cue) => {
            parts::heading(ui, &told(ui, &cue.text));
            parts::quiet(ui, &told(ui, &title(step)));
        }
        None => parts::heading(ui, &told(ui, &title(step))),
    }
    match next(step) {
        (Some(next), Soon::Yes) => parts::caption(ui, &told(ui, &next)),
        (Some(next), Soon::No) => parts::quiet(ui, &told(ui, &next)),
        (None, _) => {}
    }
    gate(ui, &step.gate);
    if let Some(cell) = &model.comparison.cell {
        cell_ui(ui, cell);
    }
}

/// The target in words.
pub(super) fn target(step: &StepView) -> String {
    match (step.target_w, step.cadence_rpm) {
        (Some(power), _) => words::watts(power),
        (None, Some(cadence)) => format!("{}\u{a0}rpm", words::whole(cadence)),
        (None, None) => "free".to_owned(),
    }
}

/// The time left in words.
pub(super) fn left(step: &StepView) -> String {
    step.remaining
        .map_or_else(|| "open end".to_owned(), words::countdown)
}

/// Whether the next step is close enough to be counted down to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Soon {
    /// It is.
    Yes,
    /// It is not.
    No,
}

/// The last seconds of a step are counted down, whole seconds.
const COUNTED_DOWN_S: i64 = 10;

/// What comes next, in words, with a count-down where it comes soon.
pub(super) fn next(step: &StepView) -> (Option<String>, Soon) {
    let left = step
        .remaining
        .filter(|left| *left <= Span::from_secs(COUNTED_DOWN_S));
    let words = step.next.as_ref().map(|next| match left {
        Some(left) => format!("in {}: {next}", words::countdown(left)),
        None => format!("next: {next}"),
    });
    let soon = if left.is_some() { Soon::Yes } else { Soon::No };
    (words, soon)
}

/// The step in words, with the attempt if it is not the first and the cadence asked for.
pub(super) fn title(step: &StepView) -> String {
    let mut title = step.title.clone();
    if let (Some(_), Some(cadence)) = (step.target_w, step.cadence_rpm) {
        title.push_str(&format!(" · {}\u{a0}rpm", words::whole(cadence)));
    }
    if step.attempt > 1 {
        title.push_str(&format!(" · attempt {}", step.attempt));
    }
    title
}

fn figure(ui: &mut Ui, label: &str, value: &str) {
    let t = theme::tokens(ui);
    let size = vec2(ui.available_width(), 5.0 * tokens::GRID);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, format!("{label} {value}")));
    let (top, bottom) = rect.split_top_bottom_at_y(rect.top() + 2.0 * tokens::GRID);
    let (small, large) = (theme::regular(tokens::BODY), theme::bold(tokens::HEADING));
    parts::control::text_in(ui, top, label, small, t.quiet, Align2::LEFT_CENTER);
    parts::control::text_in(ui, bottom, value, large, t.text, Align2::LEFT_CENTER);
}

fn gate(ui: &mut Ui, gate: &GateView) {
    let t = theme::tokens(ui);
    let (glyph, ink, words) = match gate {
        GateView::NotJudged => (Glyph::Dash, t.quiet, "not judged".to_owned()),
        GateView::Settling { remaining } => (
            Glyph::Ring,
            t.quiet,
            format!("settling, counts in {}", words::countdown(*remaining)),
        ),
        GateView::Steady => (Glyph::Disc, t.text, "steady, this counts".to_owned()),
        GateView::NotSteady { reason } => {
            (Glyph::Dash, t.text, format!("does not count: {reason}"))
        }
    };
    parts::marked_lines(ui, glyph, ink, &told(ui, &words));
}

fn cell_ui(ui: &mut Ui, cell: &CellView) {
    let t = theme::tokens(ui);
    ui.add_space(tokens::GRID);
    let steady = words::clock(cell.seconds);
    let cell_title = told(ui, &cell.title);
    parts::quiet(ui, &format!("{cell_title} · {steady} steady so far"));
    let (shape, ink) = words::verdict_in(&cell.verdict).map_or((Glyph::Dash, t.quiet), |verdict| {
        (Glyph::of_verdict(verdict), glyph::verdict_ink(verdict, t))
    });
    let said = format!(
        "{}, {}",
        cell.verdict,
        words::difference(cell.bias_pct, cell.expanded_pct)
    );
    parts::marked_lines(ui, shape, ink, &said);
    if let Some(needs) = &cell.needs {
        parts::quiet(ui, &told(ui, needs));
    }
}
