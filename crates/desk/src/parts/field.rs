//! Fields that are typed into: one line of text, a number with bounds, a page of text.

use crate::parts;
use crate::theme::tokens;
use egui::{Align2, Id, Key, Margin, Role, TextEdit, Ui, WidgetInfo, vec2};

/// A line of text. Says whether it was changed.
pub fn line(ui: &mut Ui, name: &str, hint: &str, text: &mut String, width: f32) -> Changed {
    line_of(ui, None, name, hint, text, width)
}

/// As [`line`], with an id by which the field can be known again.
pub fn line_of(
    ui: &mut Ui,
    id: Option<Id>,
    name: &str,
    hint: &str,
    text: &mut String,
    width: f32,
) -> Changed {
    let mut field = TextEdit::singleline(text)
        .hint_text(hint)
        .align(Align2::LEFT_CENTER)
        .margin(Margin::symmetric(8, 4));
    if let Some(id) = id {
        field = field.id(id);
    }
    let response = ui.add_sized(vec2(width, tokens::CONTROL), field);
    response.widget_info(|| WidgetInfo::labeled(Role::TextInput, true, name));
    if response.changed() {
        Changed::Yes
    } else {
        Changed::No
    }
}

/// Whether a field was changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Changed {
    /// It was.
    Yes,
    /// It was not.
    No,
}

/// A number with its unit behind it. While it is typed it may be anything; it is given back when
/// the field is left or Enter is pressed, if it is a number within the range. Else the words say
/// what is expected, and the kept value comes back when the field is left.
pub fn number(
    ui: &mut Ui,
    name: &str,
    unit: &str,
    kept: f64,
    [low, high]: [f64; 2],
) -> Option<f64> {
    let id = Id::unique("number").with(name);
    let mut text = ui
        .data(|data| data.get_temp::<String>(id))
        .unwrap_or_else(|| plain(kept));
    let mut given = None;
    ui.horizontal(|ui| {
        let field = TextEdit::singleline(&mut text)
            .id(id)
            .align(Align2::RIGHT_CENTER)
            .margin(Margin::symmetric(8, 4));
        let response = ui.add_sized(vec2(9.0 * tokens::GRID, tokens::CONTROL), field);
        response.widget_info(|| WidgetInfo::labeled(Role::TextInput, true, name));
        let value = read(&text).filter(|value| (low..=high).contains(value));
        if response.has_focus() {
            ui.data_mut(|data| data.insert_temp(id, text.clone()));
        }
        if response.lost_focus() || ui.input(|i| i.key_pressed(Key::Enter)) && response.has_focus()
        {
            given = value.filter(|value| *value != kept);
            ui.data_mut(|data| data.remove_temp::<String>(id));
        } else if !response.has_focus() {
            ui.data_mut(|data| data.remove_temp::<String>(id));
        }
        parts::quiet_line(ui, unit);
        if value.is_none() && response.has_focus() {
            parts::quiet_line(
                ui,
                &format!("a number from {} to {}", plain(low), plain(high)),
            );
        }
    });
    given
}

/// A number as people type it: a comma is as good as a point, a true minus as good as a hyphen.
pub fn read(text: &str) -> Option<f64> {
    text.trim()
        .replace(',', ".")
        .replace('−', "-")
        .parse()
        .ok()
        .filter(|value: &f64| value.is_finite())
}

/// A number without zeros that say nothing.
pub fn plain(value: f64) -> String {
    let text = format!("{value:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_in_both_conventions() {
        assert_eq!(read(" 2,5 "), Some(2.5));
        assert_eq!(read("−0.25"), Some(-0.25));
        assert_eq!(read("two"), None);
        assert_eq!(read("inf"), None);
        assert_eq!(plain(2.0), "2");
        assert_eq!(plain(0.1725), "0.1725");
    }
}
