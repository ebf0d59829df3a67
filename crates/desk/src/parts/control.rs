//! Controls: a button that shows its key, a row that can be chosen, a few words to choose from.

use crate::theme::{self, tokens};
use egui::{
    Align2, Color32, CursorIcon, FontId, Rect, Response, Role, Sense, Stroke, StrokeKind,
    TextWrapMode, Ui, WidgetInfo, WidgetText, vec2,
};

/// How loudly a button speaks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Voice {
    /// The one thing to do next on this page.
    Primary,
    /// Something that can be done.
    Plain,
    /// The control that takes the load off.
    Release,
}

const KEY_GAP: f32 = 1.5 * tokens::GRID;

/// Width that a [`button`] takes.
pub fn button_width(ui: &Ui, words: &str, key: &str, voice: Voice) -> f32 {
    let words = text_width(ui, words, font(voice));
    let key = if key.is_empty() {
        0.0
    } else {
        KEY_GAP + text_width(ui, key, plain_font())
    };
    words + key + 2.0 * side(voice)
}

/// A button with its words and its key. The words alone are its accessible name.
pub fn button(ui: &mut Ui, words: &str, key: &str, voice: Voice) -> Response {
    let height = match voice {
        Voice::Plain => tokens::CONTROL,
        Voice::Primary | Voice::Release => tokens::BIG_CONTROL,
    };
    sized_button(ui, words, key, voice, height)
}

/// As [`button`], with the height of a control that matters whatever its voice.
pub fn big_button(ui: &mut Ui, words: &str, key: &str, voice: Voice) -> Response {
    sized_button(ui, words, key, voice, tokens::BIG_CONTROL)
}

fn sized_button(ui: &mut Ui, words: &str, key: &str, voice: Voice, height: f32) -> Response {
    let width = button_width(ui, words, key, voice);
    let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::click());
    let enabled = ui.is_enabled();
    response.widget_info(|| WidgetInfo::labeled(Role::Button, enabled, words));
    if ui.is_rect_visible(rect) {
        let t = theme::tokens(ui);
        let over = response.hovered() || response.is_pointer_button_down_on();
        let (fill, edge, ink, second) = match voice {
            Voice::Primary => (t.text, t.text, t.on_text, t.on_text),
            Voice::Release => (t.release, t.release, t.on_release, t.on_release),
            Voice::Plain if over => (t.tint, t.text, t.text, t.quiet),
            Voice::Plain => (Color32::TRANSPARENT, t.edge, t.text, t.quiet),
        };
        let painter = ui.painter();
        let edge = Stroke::new(tokens::HAIR, edge);
        painter.rect(rect, tokens::CORNER, fill, edge, StrokeKind::Inside);
        if over && voice != Voice::Plain {
            let inner = Stroke::new(1.0, ink);
            painter.rect_stroke(rect.shrink(2.0), tokens::CORNER, inner, StrokeKind::Inside);
        }
        let y = rect.center().y;
        let left = egui::pos2(rect.left() + side(voice), y);
        painter.text(left, Align2::LEFT_CENTER, words, font(voice), ink);
        let right = egui::pos2(rect.right() - side(voice), y);
        painter.text(right, Align2::RIGHT_CENTER, key, plain_font(), second);
        focus_ring(ui, &response, rect);
    }
    response.on_hover_cursor(CursorIcon::PointingHand)
}

/// A square button with one sign, and a name for those who do not see it.
pub fn sign_button(ui: &mut Ui, sign: &str, name: &str) -> Response {
    let size = vec2(3.5 * tokens::GRID, tokens::CONTROL);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    let enabled = ui.is_enabled();
    response.widget_info(|| WidgetInfo::labeled(Role::Button, enabled, name));
    let t = theme::tokens(ui);
    let ink = if response.hovered() { t.text } else { t.quiet };
    let (at, font) = (rect.center(), theme::bold(tokens::BODY));
    ui.painter()
        .text(at, Align2::CENTER_CENTER, sign, font, ink);
    focus_ring(ui, &response, rect);
    let response = response.on_hover_cursor(CursorIcon::PointingHand);
    response.on_hover_text(name)
}

/// Quiet words that can be clicked, with the name that a screen reader says.
pub fn quiet_button(ui: &mut Ui, words: &str, name: &str) -> Response {
    let width = text_width(ui, words, plain_font()) + tokens::GRID;
    let (rect, response) = ui.allocate_exact_size(vec2(width, 2.5 * tokens::GRID), Sense::click());
    let enabled = ui.is_enabled();
    response.widget_info(|| WidgetInfo::labeled(Role::Button, enabled, name));
    let t = theme::tokens(ui);
    let ink = if response.hovered() { t.text } else { t.quiet };
    let at = rect.right_center();
    ui.painter()
        .text(at, Align2::RIGHT_CENTER, words, plain_font(), ink);
    focus_ring(ui, &response, rect);
    response.on_hover_cursor(CursorIcon::PointingHand)
}

/// A full-width row that can be chosen: a title, more words below if there are any, and a bar at
/// its left when it is chosen. Both take as many lines as they need.
pub fn choice_row(ui: &mut Ui, is_chosen: Chosen, title: &str, second: &str) -> Response {
    let t = theme::tokens(ui);
    let chosen = is_chosen == Chosen::Yes;
    let font = match chosen {
        true => theme::bold(tokens::BODY),
        false => plain_font(),
    };
    let width = ui.available_width();
    let most = (width - 4.0 * tokens::GRID).max(5.0 * tokens::GRID);
    let lay = |words: &str, font, ink| ui.painter().layout(words.to_owned(), font, ink, most);
    let title_galley = lay(title, font, t.text);
    let second_galley = (!second.is_empty()).then(|| lay(second, plain_font(), t.quiet));
    let below = second_galley.as_ref().map_or(0.0, |galley| galley.size().y);
    let text = title_galley.size().y + below;
    let least = if second.is_empty() { 4.0 } else { 6.0 } * tokens::GRID;
    let height = least.max((text + 1.5 * tokens::GRID).ceil());
    let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::click());
    let enabled = ui.is_enabled();
    response.widget_info(|| WidgetInfo::selected(Role::RadioButton, enabled, chosen, title));
    if ui.is_rect_visible(rect) {
        if chosen || response.hovered() {
            ui.painter().rect_filled(rect, tokens::CORNER, t.tint);
        }
        if chosen {
            let bar = Rect::from_min_size(rect.min, vec2(4.0, rect.height()));
            ui.painter().rect_filled(bar, 0.0, t.text);
        }
        let top = rect.left_top() + vec2(2.0 * tokens::GRID, 0.5 * (height - text));
        let next = top + vec2(0.0, title_galley.size().y);
        ui.painter().galley(top, title_galley, t.text);
        if let Some(galley) = second_galley {
            ui.painter().galley(next, galley, t.quiet);
        }
        focus_ring(ui, &response, rect);
    }
    response.on_hover_cursor(CursorIcon::PointingHand)
}

/// Whether something is chosen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chosen {
    /// It is.
    Yes,
    /// It is not.
    No,
}

impl From<bool> for Chosen {
    fn from(chosen: bool) -> Self {
        if chosen { Self::Yes } else { Self::No }
    }
}

/// A few words in a row of which one is chosen, in more than one line where they do not fit into
/// one. Gives the index that was clicked.
pub fn words_row(ui: &mut Ui, words: &[&str], chosen: Option<usize>) -> Option<usize> {
    let named: Vec<(&str, &str)> = words.iter().map(|word| (*word, *word)).collect();
    named_words_row(ui, &named, chosen)
}

/// As [`words_row`], where a word alone does not say what it is for: each with its accessible name.
pub fn named_words_row(
    ui: &mut Ui,
    words: &[(&str, &str)],
    chosen: Option<usize>,
) -> Option<usize> {
    let mut clicked = None;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = vec2(0.0, 0.0);
        for (index, (word, name)) in words.iter().enumerate() {
            let is_chosen = chosen == Some(index);
            let text = text_width(ui, word, theme::bold(tokens::BODY));
            let size = vec2(text + 2.0 * tokens::GRID, tokens::CONTROL);
            let (rect, response) = ui.allocate_exact_size(size, Sense::click());
            let enabled = ui.is_enabled();
            response
                .widget_info(|| WidgetInfo::selected(Role::RadioButton, enabled, is_chosen, *name));
            let t = theme::tokens(ui);
            let (font, ink) = match is_chosen {
                true => (theme::bold(tokens::BODY), t.text),
                false if response.hovered() => (plain_font(), t.text),
                false => (plain_font(), t.quiet),
            };
            // The first word begins at the margin; its target reaches to the next word.
            ui.painter()
                .text(rect.left_center(), Align2::LEFT_CENTER, word, font, ink);
            if is_chosen {
                let line = rect.left()..=rect.left() + text;
                ui.painter()
                    .hline(line, rect.bottom() - 4.0, Stroke::new(2.0, t.text));
            }
            focus_ring(ui, &response, rect.shrink(2.0));
            if response.on_hover_cursor(CursorIcon::PointingHand).clicked() {
                clicked = Some(index);
            }
        }
    });
    clicked
}

/// Width that a [`words_row`] takes on one line.
pub fn words_width(ui: &Ui, words: &[&str]) -> f32 {
    let width = |word: &&str| text_width(ui, word, theme::bold(tokens::BODY)) + 2.0 * tokens::GRID;
    words.iter().map(width).sum()
}

/// Text in a rectangle, elided where it does not fit. Says whether it was.
pub fn text_in(ui: &Ui, rect: Rect, text: &str, font: FontId, ink: Color32, align: Align2) -> bool {
    let galley = WidgetText::from(egui::RichText::new(text).font(font).color(ink)).into_galley(
        ui,
        Some(TextWrapMode::Truncate),
        rect.width().max(0.0),
        egui::TextStyle::Body,
    );
    let elided = galley.elided;
    let at = align.align_size_within_rect(galley.size(), rect);
    ui.painter().galley(at.min, galley, ink);
    elided
}

/// A ring around what has the keyboard.
pub fn focus_ring(ui: &Ui, response: &Response, rect: Rect) {
    if response.has_focus() {
        let ring = Stroke::new(2.0, theme::tokens(ui).text);
        let ring_rect = rect.expand(3.0).intersect(ui.clip_rect());
        ui.painter()
            .rect_stroke(ring_rect, tokens::CORNER, ring, StrokeKind::Inside);
    }
}

/// Width of a line of text.
pub fn text_width(ui: &Ui, text: &str, font: FontId) -> f32 {
    if text.is_empty() {
        return 0.0;
    }
    ui.painter()
        .layout_no_wrap(text.to_owned(), font, Color32::PLACEHOLDER)
        .size()
        .x
}

fn plain_font() -> FontId {
    theme::regular(tokens::BODY)
}

fn font(voice: Voice) -> FontId {
    match voice {
        Voice::Plain => plain_font(),
        Voice::Primary | Voice::Release => theme::bold(tokens::BODY),
    }
}

fn side(voice: Voice) -> f32 {
    match voice {
        Voice::Plain => 1.5 * tokens::GRID,
        Voice::Primary | Voice::Release => 2.5 * tokens::GRID,
    }
}
