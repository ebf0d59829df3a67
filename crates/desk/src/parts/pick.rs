//! One of many words, picked from a list that opens.

use super::control;
use crate::theme::{self, tokens};
use egui::{ComboBox, Role, Ui, WidgetInfo};

/// Draws the list closed, with what is chosen. `none` stands above the others where nothing can be
/// chosen, too. Gives what was picked.
pub fn pick(
    ui: &mut Ui,
    name: &str,
    choices: &[String],
    chosen: Option<usize>,
    none: Option<&str>,
    width: f32,
) -> Option<Option<usize>> {
    let mut picked = None;
    let shown = chosen
        .and_then(|index| choices.get(index))
        .map_or(none.unwrap_or("not known"), String::as_str);
    ui.spacing_mut().interact_size.y = tokens::CONTROL;
    let widest = choices.iter().map(|words| {
        control::text_width(ui, words, theme::regular(tokens::BODY)) + 4.0 * tokens::GRID
    });
    let list = widest.fold(width, f32::max);
    let inner = ComboBox::from_id_salt(name)
        .width(width)
        .selected_text(shown)
        .truncate()
        .show_ui(ui, |ui| {
            ui.set_min_width(list);
            if let Some(none) = none
                && ui.selectable_label(chosen.is_none(), none).clicked()
            {
                picked = Some(None);
            }
            for (index, words) in choices.iter().enumerate() {
                if ui.selectable_label(chosen == Some(index), words).clicked() {
                    picked = Some(Some(index));
                }
            }
        });
    inner
        .response
        .widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, format!("{name}: {shown}")));
    picked.filter(|now| *now != chosen)
}
