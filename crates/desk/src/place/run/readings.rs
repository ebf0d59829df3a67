//! The two numbers that are compared, tall, and their difference.

use super::State;
use crate::parts::{self, control, words};
use crate::theme::{self, tokens};
use bench::Model;
use bench::model::{InstrumentRole, InstrumentView};
use egui::{Align, Align2, Color32, Layout, Role, Sense, Ui, WidgetInfo, vec2};

/// A reading older than this is said to be old, seconds.
const OLD_S: f64 = 3.0;

/// Draws the readings.
pub(super) fn readings_ui(ui: &mut Ui, model: &Model, state: &State) {
    let t = theme::tokens(ui);
    ui.columns(2, |columns| {
        let device = find(model, InstrumentRole::UnderTest);
        let reference = find(model, InstrumentRole::PrimaryReference);
        let shown = |instrument| shown(model, state, instrument);
        tall(&mut columns[0], "Device", device, (shown(device), t.device));
        tall(
            &mut columns[1],
            "Reference",
            reference,
            (shown(reference), t.text),
        );
    });
    ui.add_space(tokens::GRID);
    let (label, value) = difference(model);
    let size = vec2(ui.available_width(), 3.0 * tokens::GRID);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    let name = format!("Difference {value}");
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &name));
    let (bold, align) = (theme::bold(tokens::HEADING), Align2::LEFT_CENTER);
    control::text_in(ui, rect, &value, bold, t.text, align);
    response.on_hover_text("Mean over 30 s, expanded uncertainty at 95 %");
    parts::quiet(ui, &label);
}

/// The power of an instrument as it is shown: W, and how old it is, seconds.
pub(super) fn shown(
    model: &Model,
    state: &State,
    instrument: Option<&InstrumentView>,
) -> Option<(f64, f64)> {
    state.smoothed.now(instrument?, model)
}

/// The difference in words and what kind it is.
fn difference(model: &Model) -> (String, String) {
    let comparison = &model.comparison;
    let label = match comparison.treatment.as_str() {
        "" => "difference".to_owned(),
        treatment => format!("difference, {treatment}"),
    };
    let value = comparison.now.map_or_else(
        || words::NOTHING.to_owned(),
        |[difference, expanded]| words::difference(difference, expanded),
    );
    (label, value)
}

/// The instrument of a role.
pub(super) fn find(model: &Model, role: InstrumentRole) -> Option<&InstrumentView> {
    model
        .instruments
        .iter()
        .find(|instrument| instrument.role == role)
}

fn tall(
    ui: &mut Ui,
    label: &str,
    instrument: Option<&InstrumentView>,
    (reading, ink): (Option<(f64, f64)>, Color32),
) {
    let t = theme::tokens(ui);
    ui.spacing_mut().item_spacing.y = 0.0;
    let value = reading.map_or_else(
        || words::NOTHING.to_owned(),
        |(watts, _)| words::whole(watts),
    );
    let (rect, response) = ui.allocate_exact_size(
        vec2(ui.available_width(), 10.0 * tokens::GRID),
        Sense::hover(),
    );
    let spoken = format!("{label} {value} W");
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &spoken));
    let (top, bottom) = rect.split_top_bottom_at_y(rect.top() + 2.0 * tokens::GRID);
    let swatch = egui::Rect::from_center_size(top.left_center() + vec2(6.0, 0.0), vec2(12.0, 4.0));
    ui.painter().rect_filled(swatch, 0.0, ink);
    let words_at = top.with_min_x(top.left() + 20.0);
    let small = theme::regular(tokens::BODY);
    control::text_in(
        ui,
        words_at,
        label,
        small.clone(),
        t.quiet,
        Align2::LEFT_CENTER,
    );
    let old = reading
        .map(|(_, age_s)| age_s)
        .filter(|age_s| *age_s > OLD_S);
    let number_ink = if old.is_some() { t.quiet } else { ink };
    let font = theme::regular(tokens::TALL);
    let number = ui.painter().text(
        bottom.left_center(),
        Align2::LEFT_CENTER,
        value,
        font,
        number_ink,
    );
    let unit_at = egui::pos2(number.right() + 6.0, number.bottom() - 16.0);
    ui.painter()
        .text(unit_at, Align2::LEFT_CENTER, "W", small, t.quiet);
    let name = instrument.map_or("not on the bench", |instrument| instrument.name.as_str());
    let below = match old {
        Some(age_s) => {
            let age = units::Span::from_secs_f64(age_s);
            format!("{} old", words::length(age))
        }
        None => name.to_owned(),
    };
    // Columns stretch their lines to both sides; a name must not be stretched.
    ui.with_layout(Layout::top_down(Align::Min), |ui| parts::quiet(ui, &below));
}
