//! Small parts that every place is made of.

pub mod control;
pub mod field;
pub mod glyph;
pub mod pick;
pub mod roles;
pub mod table;
pub mod words;

pub use control::{Chosen, Voice, button};
pub use glyph::Glyph;

use crate::theme::{self, tokens};
use analysis::verdict::Verdict;
use egui::text::LayoutJob;
use egui::{Align2, RichText, Role, Sense, Ui, WidgetInfo, vec2};

/// A heading of a place or a section.
pub fn heading(ui: &mut Ui, words: &str) {
    ui.add(egui::Label::new(RichText::new(words).font(theme::bold(tokens::HEADING))).wrap());
}

/// A heading that must leave room for what stands below: two lines at most, then elided with a
/// tool tip.
pub fn short_heading(ui: &mut Ui, words: &str) {
    let (font, ink) = (theme::bold(tokens::HEADING), theme::tokens(ui).text);
    let mut job = LayoutJob::simple(words.to_owned(), font, ink, f32::INFINITY);
    job.wrap.max_rows = 2;
    ui.add(egui::Label::new(job).wrap());
}

/// A small heading: bold text.
pub fn caption(ui: &mut Ui, words: &str) {
    ui.add(egui::Label::new(RichText::new(words).font(theme::bold(tokens::BODY))).wrap());
}

/// Text that is read second.
pub fn quiet(ui: &mut Ui, words: &str) {
    let ink = theme::tokens(ui).quiet;
    ui.add(egui::Label::new(RichText::new(words).color(ink)).wrap());
}

/// One line of text that is read second, elided with a tool tip.
pub fn quiet_line(ui: &mut Ui, words: &str) {
    let ink = theme::tokens(ui).quiet;
    ui.add(egui::Label::new(RichText::new(words).color(ink)).truncate());
}

/// Text in as many lines as it needs.
pub fn line(ui: &mut Ui, words: &str) {
    ui.add(egui::Label::new(words).wrap());
}

/// Running text, no wider than can be read well.
pub fn paragraph(ui: &mut Ui, words: &str) {
    ui.scope(|ui| {
        ui.set_max_width(ui.available_width().min(tokens::MEASURE));
        ui.add(egui::Label::new(words).wrap());
    });
}

/// A verdict as shape and word.
pub fn verdict(ui: &mut Ui, verdict: Verdict) {
    let ink = glyph::verdict_ink(verdict, theme::tokens(ui));
    marked(
        ui,
        Glyph::of_verdict(verdict),
        ink,
        verdict.words(),
        tokens::BODY,
    )
    .on_hover_text(verdict.meaning());
}

/// A verdict as shape and word in the size of a heading.
pub fn large_verdict(ui: &mut Ui, verdict: Verdict) {
    let ink = glyph::verdict_ink(verdict, theme::tokens(ui));
    let words = words::sentence_case(verdict.words());
    marked(ui, Glyph::of_verdict(verdict), ink, &words, tokens::HEADING)
        .on_hover_text(verdict.meaning());
}

/// A shape and words beside it, on one line.
pub fn marked(
    ui: &mut Ui,
    glyph: Glyph,
    ink: egui::Color32,
    words: &str,
    size: f32,
) -> egui::Response {
    let most = ui.available_width();
    marked_within(ui, most, glyph, ink, words, size)
}

/// As [`marked`], at most so many points wide.
pub fn marked_within(
    ui: &mut Ui,
    most: f32,
    glyph: Glyph,
    ink: egui::Color32,
    words: &str,
    size: f32,
) -> egui::Response {
    let font = if size > tokens::BODY {
        theme::bold(size)
    } else {
        theme::regular(size)
    };
    let radius = 0.38 * size;
    let indent = 2.0 * radius + tokens::GRID;
    let wanted = control::text_width(ui, words, font.clone()) + indent;
    let width = wanted.min(most);
    let height = (1.25 * size).max(2.0 * tokens::GRID);
    let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, words));
    let center = egui::pos2(rect.left() + radius, rect.center().y);
    glyph.paint(ui.painter(), center, radius, ink);
    let text = rect.with_min_x(rect.left() + indent);
    let elided = control::text_in(ui, text, words, font, ink, Align2::LEFT_CENTER);
    if elided {
        response.on_hover_text(words)
    } else {
        response
    }
}

/// A shape and words beside it, in as many lines as they need.
pub fn marked_lines(ui: &mut Ui, glyph: Glyph, ink: egui::Color32, words: &str) {
    let font = theme::regular(tokens::BODY);
    let radius = 0.38 * tokens::BODY;
    let indent = 2.0 * radius + tokens::GRID;
    let width = (ui.available_width() - indent).max(5.0 * tokens::GRID);
    let galley = ui.painter().layout(words.to_owned(), font, ink, width);
    let height = galley.size().y.max(2.0 * tokens::GRID);
    let size = vec2(indent + galley.size().x, height);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, words));
    let first_line = egui::pos2(rect.left() + radius, rect.top() + tokens::GRID);
    glyph.paint(ui.painter(), first_line, radius, ink);
    let at = rect.left_top() + vec2(indent, 0.0);
    ui.painter().galley(at, galley, ink);
}

/// A quiet label with its value under it.
pub fn fact(ui: &mut Ui, label: &str, value: &str) {
    ui.vertical(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        quiet_line(ui, label);
        ui.add(egui::Label::new(value).wrap());
    });
}

/// Facts beside each other, in more than one line where they do not fit into one.
pub fn facts(ui: &mut Ui, facts: &[(&str, &str)]) {
    let gap = 2.0 * tokens::GAP;
    let whole = ui.available_width();
    let font = || theme::regular(tokens::BODY);
    let width = |ui: &Ui, (label, value): &(&str, &str)| {
        let widest = control::text_width(ui, label, font());
        let widest = widest.max(control::text_width(ui, value, font()));
        (widest + 1.0).min(whole)
    };
    let mut rest = facts;
    while !rest.is_empty() {
        let mut used = -gap;
        let fitting = rest.iter().take_while(|one| {
            used += gap + width(ui, one);
            used <= whole
        });
        let (line, later) = rest.split_at(fitting.count().max(1));
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = gap;
            for one in line {
                let width = width(ui, one);
                ui.vertical(|ui| {
                    ui.set_width(width);
                    fact(ui, one.0, one.1);
                });
            }
        });
        rest = later;
    }
}

/// A title with plain controls at its right; below it where they do not fit beside it. `pressed`
/// is told the index of the control that was clicked.
pub fn title_with(
    ui: &mut Ui,
    title: impl FnOnce(&mut Ui),
    controls: &[(&str, &str)],
    mut pressed: impl FnMut(usize),
) {
    let width = |(words, key): &(&str, &str)| {
        control::button_width(ui, words, key, Voice::Plain) + tokens::GRID
    };
    let taken: f32 = controls.iter().map(width).sum();
    let room = ui.available_width() - taken - tokens::GRID;
    let mut draw = |ui: &mut Ui, index: usize| {
        let (words, key) = controls[index];
        if button(ui, words, key, Voice::Plain).clicked() {
            pressed(index);
        }
    };
    if room < 20.0 * tokens::GRID {
        title(ui);
        ui.horizontal_wrapped(|ui| (0..controls.len()).for_each(|index| draw(ui, index)));
        return;
    }
    ui.horizontal_top(|ui| {
        ui.vertical(|ui| {
            ui.set_width(room);
            // The first line stands beside the middle of the controls.
            ui.add_space(0.5 * tokens::GRID);
            title(ui);
        });
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Min), |ui| {
            (0..controls.len()).rev().for_each(|index| draw(ui, index));
        });
    });
}

/// What to do where there is nothing yet.
pub fn empty(ui: &mut Ui, title: &str, what_to_do: &str) {
    ui.add_space(tokens::GAP);
    heading(ui, title);
    ui.scope(|ui| {
        ui.set_max_width(ui.available_width().min(0.7 * tokens::MEASURE));
        quiet(ui, what_to_do);
    });
    ui.add_space(tokens::GRID);
}

/// A page with margins that scrolls when it does not fit.
pub fn page<R>(ui: &mut Ui, id: &str, content: impl FnOnce(&mut Ui) -> R) -> R {
    egui::ScrollArea::vertical()
        .id_salt(id)
        .auto_shrink([false, false])
        .show(ui, |ui| {
            egui::Frame::new()
                .inner_margin(egui::Margin::same(tokens::MARGIN as i8))
                .show(ui, |ui| {
                    // Rows must not become so long that the eye loses them.
                    ui.set_max_width(ui.available_width().min(tokens::PAGE));
                    content(ui)
                })
                .inner
        })
        .inner
}
