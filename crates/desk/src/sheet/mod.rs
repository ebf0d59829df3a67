//! Sheets over a place: the cautions before the first load, and the list of keys.

pub mod about;
pub mod cautions;
pub mod key_map;
pub mod settings;

use crate::theme::{self, tokens};
use egui::{Align2, Area, Frame, Id, Margin, Modal, Order, Stroke, Ui, Vec2};

/// A sheet that stands in the way, never larger than the window. Only the cautions are one.
pub(crate) fn in_the_way<R>(ui: &Ui, id: &str, width: f32, content: impl FnOnce(&mut Ui) -> R) {
    let veil = theme::tokens(ui).veil;
    let width = fitting(ui, width);
    Modal::new(Id::unique(id))
        .frame(paper(ui))
        .backdrop_color(veil)
        .show(ui.ctx(), |ui| {
            ui.set_width(width);
            content(ui);
        });
}

/// A sheet that lies over the middle of the window and blocks nothing around it: the release
/// control can still be clicked.
pub(crate) fn beside<R>(ui: &Ui, id: &str, width: f32, content: impl FnOnce(&mut Ui) -> R) -> R {
    let frame = paper(ui).stroke(Stroke::new(tokens::HAIR, theme::tokens(ui).edge));
    let width = fitting(ui, width);
    let area = Area::new(Id::unique(id)).order(Order::Foreground);
    area.anchor(Align2::CENTER_CENTER, Vec2::new(0.0, -0.5 * tokens::FOOTER))
        .show(ui.ctx(), |ui| {
            frame
                .show(ui, |ui| {
                    ui.set_width(width);
                    content(ui)
                })
                .inner
        })
        .inner
}

fn fitting(ui: &Ui, width: f32) -> f32 {
    width.min(ui.ctx().content_rect().width() - 96.0)
}

fn paper(ui: &Ui) -> Frame {
    Frame::new()
        .fill(theme::tokens(ui).raised)
        .corner_radius(tokens::CORNER)
        .inner_margin(Margin::same(tokens::MARGIN as i8))
}
