//! The steps as a list, the present one marked and in view.

use crate::inputs::told;
use crate::parts::{control, words};
use crate::place::script::target;
use crate::theme::{self, tokens};
use bench::Model;
use egui::{Align, Align2, Rect, Role, ScrollArea, Sense, Ui, WidgetInfo, vec2};

const ROW: f32 = 3.0 * tokens::GRID;

/// Draws the list, `height` points high at most.
pub(super) fn steps_ui(ui: &mut Ui, model: &Model, shown: &mut Option<usize>, height: f32) {
    let present = model.step.as_ref().map(|step| step.index);
    let scroll = *shown != present;
    *shown = present;
    ScrollArea::vertical()
        .id_salt("steps")
        .max_height(height.max(3.0 * ROW))
        .auto_shrink([false, true])
        .show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            for index in 0..model.script.steps.len() {
                let rect = row(ui, model, index, present);
                if scroll && present == Some(index) {
                    ui.scroll_to_rect(rect, Some(Align::Center));
                }
            }
        });
}

fn row(ui: &mut Ui, model: &Model, index: usize, present: Option<usize>) -> Rect {
    let t = theme::tokens(ui);
    let step = &model.script.steps[index];
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), ROW), Sense::hover());
    let target = target(step).unwrap_or_default();
    let step_title = told(ui, &step.title);
    let length = step.length.map_or_else(
        || "open".to_owned(),
        |span| words::clock(span.as_secs_f64()),
    );
    let now = present == Some(index);
    response.widget_info(|| {
        let name = format!(
            "{}{} {target} {length}",
            if now { "now: " } else { "" },
            step_title
        );
        WidgetInfo::labeled(Role::Label, true, &name)
    });
    if !ui.is_rect_visible(rect) {
        return rect;
    }
    let is_done = present.is_some_and(|present| index < present);
    let ink = if is_done { t.quiet } else { t.text };
    let font = if now {
        theme::bold(tokens::BODY)
    } else {
        theme::regular(tokens::BODY)
    };
    if now {
        ui.painter().rect_filled(rect, tokens::CORNER, t.tint);
        let bar = Rect::from_min_size(rect.min, vec2(4.0, rect.height()));
        ui.painter().rect_filled(bar, 0.0, t.text);
    }
    let inner = rect
        .with_min_x(rect.left() + 1.5 * tokens::GRID)
        .with_max_x(rect.right() - tokens::GRID);
    let time = inner.with_min_x(inner.right() - 48.0);
    control::text_in(ui, time, &length, font.clone(), ink, Align2::RIGHT_CENTER);
    let power = inner.with_max_x(time.left() - tokens::GRID);
    let wide = control::text_width(ui, &target, font.clone());
    let power = power.with_min_x((power.right() - wide).max(inner.left()));
    control::text_in(ui, power, &target, font.clone(), ink, Align2::RIGHT_CENTER);
    let title = inner.with_max_x(power.left() - tokens::GRID);
    if control::text_in(ui, title, &step_title, font, ink, Align2::LEFT_CENTER) {
        response.on_hover_text(&*step_title);
    }
    rect
}
