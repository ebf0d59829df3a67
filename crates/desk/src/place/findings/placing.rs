//! Recordings made elsewhere, moved against the reference by hand where the eye sees that they were
//! placed wrongly. Every move is kept in the session, and the findings say so.

use super::lens;
use crate::parts::{self, control, words};
use crate::request::Request;
use analysis::findings::Findings;
use egui::Ui;
use units::Timestamp;

/// What one press moves, s.
const MOVES_S: [f64; 4] = [-1.0, -0.1, 0.1, 1.0];

/// Draws, for each recording that was placed, what looks at its place and what moves it.
pub(super) fn placing_ui(
    ui: &mut Ui,
    findings: &Findings,
    lens: &mut lens::State,
    out: &mut Vec<Request>,
) {
    if findings.alignment.is_empty() {
        return;
    }
    parts::quiet(
        ui,
        "Look whether both curves rise and fall together. If they do not, move the recording: the \
         move is kept in the session, and the findings say that it was made by hand.",
    );
    for alignment in &findings.alignment {
        let source = &alignment.source;
        ui.horizontal_wrapped(|ui| {
            parts::line(ui, source);
            if control::quiet_button(ui, "Look", &format!("Look at the place of {source}"))
                .clicked()
            {
                let end = Timestamp::from_secs_f64(findings.duration_s);
                lens.show(&format!("place of {source}"), Timestamp::ZERO, end);
            }
            for later_s in MOVES_S {
                let direction = if later_s < 0.0 { "earlier" } else { "later" };
                let name = format!(
                    "Move {source} {} seconds {direction}",
                    words::decimals(later_s.abs(), 1)
                );
                let label = format!("{}\u{a0}s", words::signed(later_s, 1));
                if control::quiet_button(ui, &label, &name).clicked() {
                    out.push(Request::MoveRecording {
                        source: source.clone(),
                        later_s,
                    });
                }
            }
        });
    }
}
