//! What the script asks for and this bench does not offer, before anybody rides: each step with what
//! it asks and what is offered, and the offer to bring it into the limits.

use crate::parts::{self, Glyph, Voice};
use crate::request::Request;
use crate::theme::{self, tokens};
use bench::model::Phase;
use bench::{Command, Model};
use egui::Ui;

/// The control that brings the steps into the limits.
pub(crate) const CAP: &str = "Bring them into the limits";

/// Steps that are named one by one; more of them say nothing more.
const NAMED: usize = 6;

/// Whether the session waits for somebody to bring its steps into the limits of the device.
pub(crate) fn waits_for_limits(model: &Model) -> bool {
    model.phase == Phase::Ready && model.script.beyond.iter().any(|step| step.to_be_capped)
}

/// Draws what lies beyond the device or the rider, if anything does and nobody rides yet.
pub(crate) fn limits_ui(ui: &mut Ui, model: &Model, out: &mut Vec<Request>) {
    let beyond = &model.script.beyond;
    if model.phase != Phase::Ready || beyond.is_empty() {
        return;
    }
    let ink = theme::tokens(ui).text;
    let (waits, words) = if waits_for_limits(model) {
        (
            true,
            "This script asks for more than the device offers. It cannot begin as it is written.",
        )
    } else {
        (
            false,
            "This script asks for more than is offered here. It is ridden with these limits:",
        )
    };
    parts::marked_lines(ui, Glyph::Dash, ink, words);
    for step in beyond.iter().take(NAMED) {
        parts::paragraph(ui, &step.words);
    }
    if let Some(more) = beyond.len().checked_sub(NAMED).filter(|more| *more > 0) {
        parts::quiet(ui, &format!("and {more} more"));
    }
    if waits {
        ui.add_space(0.5 * tokens::GRID);
        if parts::button(ui, CAP, "Enter", Voice::Primary).clicked() {
            out.push(Request::Bench(Command::CapSteps));
        }
        parts::quiet(
            ui,
            "The session then says that its steps were changed. To ride the script as it is \
             written, let the bench go and choose another one.",
        );
    }
    ui.add_space(tokens::GRID);
}
