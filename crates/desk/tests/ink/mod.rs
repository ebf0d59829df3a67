//! What of a frame can be read: every text with the place where it is painted, and what was painted
//! over it.
#![allow(dead_code, reason = "each test uses a part of it")]

use egui::accesskit::Role;
use egui::epaint::{ClippedShape, TextShape};
use egui::{Color32, Pos2, Rect, Shape};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use std::sync::Arc;

/// A text on the screen.
pub struct Text {
    /// What was to be said.
    pub words: String,
    /// Where its ink is, points.
    pub ink: Rect,
    /// What may be painted on, points.
    pub clip: Rect,
    /// How it was laid out.
    pub galley: Arc<egui::Galley>,
    /// The colours of its letters.
    pub inks: Vec<Color32>,
    /// How many shapes lie below it.
    order: usize,
}

impl Text {
    /// The part that can be seen.
    pub fn seen(&self) -> Rect {
        self.ink.intersect(self.clip)
    }
}

/// A control, a label or a field, as a screen reader knows it.
pub struct Named {
    pub role: Role,
    pub name: String,
    pub rect: Rect,
}

/// A frame.
#[derive(Default)]
pub struct Frame {
    pub texts: Vec<Text>,
    pub named: Vec<Named>,
    /// Filled rectangles, each with its fill and how many shapes lie below it.
    grounds: Vec<(Rect, Color32, usize)>,
}

impl Frame {
    /// Reads the frame that was drawn last.
    pub fn of<S>(play: &Harness<'_, S>) -> Self {
        let mut frame = Self::default();
        for (
            order,
            ClippedShape {
                clip_rect, shape, ..
            },
        ) in play.output().shapes.iter().enumerate()
        {
            frame.take(shape, *clip_rect, order);
        }
        frame.named = play
            .query_all_by(|_| true)
            .filter(|node| node.accesskit_node().bounding_box().is_some())
            .map(|node| {
                let known = node.accesskit_node();
                let label = known.label().unwrap_or_default();
                let value = known.value().unwrap_or_default();
                Named {
                    role: known.role(),
                    name: format!("{label}\n{value}"),
                    rect: node.rect(),
                }
            })
            .collect();
        frame
    }

    fn take(&mut self, shape: &Shape, clip: Rect, order: usize) {
        match shape {
            Shape::Vec(shapes) => {
                for shape in shapes {
                    self.take(shape, clip, order);
                }
            }
            Shape::Text(text) => self.take_text(text, clip, order),
            Shape::Rect(rect) if rect.fill.a() > 0 => {
                let seen = rect.rect.intersect(clip);
                self.grounds.push((seen, rect.fill, order));
            }
            _ => {}
        }
    }

    fn take_text(&mut self, text: &TextShape, clip: Rect, order: usize) {
        let ink = text.visual_bounding_rect();
        if text.galley.text().trim().is_empty() || !ink.intersect(clip).is_positive() {
            return;
        }
        self.texts.push(Text {
            words: text.galley.text().to_owned(),
            ink,
            clip,
            galley: text.galley.clone(),
            inks: inks(text),
            order,
        });
    }

    /// Whether a screen reader says all of these words somewhere.
    pub fn says(&self, words: &str) -> bool {
        self.named.iter().any(|named| named.name.contains(words))
    }

    /// Whether this lies in a field that is typed into, whose text may be longer than the field.
    pub fn in_field(&self, text: &Text) -> bool {
        self.is_in_field(text.seen().center())
    }

    /// Whether a text lies in an area that scrolls upright: it has a bar.
    pub fn scrolls(&self, text: &Text) -> bool {
        let wide = text.clip.x_range().expand(16.0);
        self.named.iter().any(|named| {
            named.role == Role::ScrollBar
                && named.rect.height() > named.rect.width()
                && wide.contains(named.rect.center().x)
                && named
                    .rect
                    .y_range()
                    .expand(8.0)
                    .contains(text.seen().center().y)
        })
    }

    /// Whether a point lies in a field that is typed into.
    pub fn is_in_field(&self, middle: Pos2) -> bool {
        self.named.iter().any(|named| {
            matches!(named.role, Role::TextInput | Role::MultilineTextInput)
                && named.rect.expand(1.0).contains(middle)
        })
    }

    /// The colour below a text: the last opaque ground with what is translucent over it.
    pub fn ground(&self, text: &Text) -> Option<Color32> {
        let middle = text.seen().center();
        let under = self
            .grounds
            .iter()
            .filter(|(ground, _, order)| *order < text.order && ground.contains(middle));
        under.fold(None, |below, (_, fill, _)| match below {
            _ if fill.a() == 255 => Some(*fill),
            Some(below) => Some(Color32::blend(below, *fill)),
            None => None,
        })
    }

    /// Every pair of texts of which one lies over the other, with nothing opaque between them.
    pub fn overlaps(&self) -> Vec<[&Text; 2]> {
        let mut found = Vec::new();
        for (index, below) in self.texts.iter().enumerate() {
            for above in &self.texts[index + 1..] {
                let common = below.seen().intersect(above.seen());
                if common.width() < 1.5 || common.height() < 2.5 {
                    continue;
                }
                let parted = self.grounds.iter().any(|(ground, fill, order)| {
                    let between = (below.order..=above.order).contains(order);
                    between && fill.a() == 255 && ground.contains_rect(common)
                });
                if !parted {
                    found.push([below, above]);
                }
            }
        }
        found
    }
}

/// The colours that a text is painted in.
fn inks(text: &TextShape) -> Vec<Color32> {
    if let Some(ink) = text.override_text_color {
        return vec![ink];
    }
    let sections = text.galley.job.sections.iter();
    let mut inks: Vec<_> = sections
        .map(|section| match section.format.color {
            Color32::PLACEHOLDER => text.fallback_color,
            ink => ink,
        })
        .collect();
    inks.dedup();
    inks
}
