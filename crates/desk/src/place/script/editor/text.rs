//! The text with numbered lines, and what is wrong with it.

use super::draft::Editor;
use crate::inputs::DraftProblem;
use crate::parts::{self, Glyph};
use crate::theme::{self, tokens};
use egui::text::{CCursor, CCursorRange};
use egui::{Align2, Id, Margin, Role, TextEdit, Ui, WidgetInfo};

fn text_id() -> Id {
    Id::unique("text being edited")
}

/// What is wrong, each with a way to its line.
pub(super) fn problems_ui(ui: &mut Ui, editor: &Editor, problems: &[DraftProblem]) {
    for problem in problems.iter().take(4) {
        let words = match problem.line {
            0 => problem.words.clone(),
            line => format!("line {line}, column {}: {}", problem.column, problem.words),
        };
        let t = theme::tokens(ui);
        ui.horizontal_top(|ui| {
            parts::marked_within(ui, 16.0, Glyph::Cross, t.alarm, "", tokens::BODY);
            let label = egui::Label::new(&words).wrap().sense(egui::Sense::click());
            let response = ui
                .add(label)
                .on_hover_cursor(egui::CursorIcon::PointingHand);
            if response.clicked() && problem.line > 0 {
                go_to(ui, &editor.text, problem.line, problem.column);
            }
        });
    }
    if problems.len() > 4 {
        parts::quiet(ui, &format!("and {} more", problems.len() - 4));
    }
}

/// Puts the cursor of the text at a line and column, counted from 1.
fn go_to(ui: &Ui, text: &str, line: usize, column: usize) {
    let before: usize = text
        .split('\n')
        .take(line - 1)
        .map(|line| line.chars().count() + 1)
        .sum();
    let at = CCursor::new(before + column.saturating_sub(1));
    let mut state = TextEdit::load_state(ui.ctx(), text_id()).unwrap_or_default();
    state.cursor.set_char_range(Some(CCursorRange::one(at)));
    state.store(ui.ctx(), text_id());
    ui.memory_mut(|memory| memory.request_focus(text_id()));
}

/// The text with numbered lines; lines with a mistake are marked.
pub(super) fn text_ui(ui: &mut Ui, editor: &mut Editor, problems: &[DraftProblem]) {
    let gutter = 5.0 * tokens::GRID;
    let output = TextEdit::multiline(&mut editor.text)
        .id(text_id())
        .desired_width(f32::INFINITY)
        .desired_rows(24)
        .lock_focus(true)
        .margin(Margin {
            left: gutter as i8,
            right: 8,
            top: 8,
            bottom: 8,
        })
        .show(ui);
    let response = output.response.response;
    response.widget_info(|| WidgetInfo::labeled(Role::MultilineTextInput, true, "Text"));
    let t = theme::tokens(ui);
    let font = theme::regular(tokens::BODY);
    let (mut line, mut begins) = (1, true);
    for row in &output.galley.rows {
        if begins {
            let wrong = problems.iter().any(|problem| problem.line == line);
            let ink = if wrong { t.alarm } else { t.quiet };
            let y = output.galley_pos.y + row.rect().center().y;
            let at = egui::pos2(output.galley_pos.x - tokens::GRID, y);
            let painter = ui.painter();
            painter.text(at, Align2::RIGHT_CENTER, line, font.clone(), ink);
            if wrong {
                let at = egui::pos2(output.galley_pos.x - gutter + 8.0, y);
                Glyph::Cross.paint(painter, at, 4.0, t.alarm);
            }
        }
        begins = row.ends_with_newline;
        if begins {
            line += 1;
        }
    }
}
