//! What stands in a cell, and a cell whose size is known.

use crate::parts::Glyph;
use crate::theme::{self, tokens};
use egui::{Color32, FontId, Pos2, Rect, Ui, Vec2, vec2};
use std::sync::Arc;

/// What stands in a cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Text.
    Text(String),
    /// Text in bold.
    Strong(String),
    /// Text that is read second.
    Quiet(String),
    /// A shape and words beside it, in one ink.
    Marked(Glyph, Color32, String),
    /// A swatch of the ink of a role, and words in the colour of text. A cell without a swatch
    /// keeps the room for it.
    Swatch(Option<Color32>, String),
    /// Something that the caller paints.
    Picture,
}

impl Cell {
    /// Text.
    pub fn text(words: impl Into<String>) -> Self {
        Self::Text(words.into())
    }

    /// Text that is read second.
    pub fn quiet(words: impl Into<String>) -> Self {
        Self::Quiet(words.into())
    }

    /// Its words; none for a picture.
    pub fn words(&self) -> &str {
        match self {
            Self::Text(words)
            | Self::Strong(words)
            | Self::Quiet(words)
            | Self::Marked(_, _, words)
            | Self::Swatch(_, words) => words,
            Self::Picture => "",
        }
    }

    /// Room that is left free before the words, points.
    pub(super) fn indent(&self) -> f32 {
        match self {
            Self::Marked(..) => 20.0,
            Self::Swatch(..) => 3.0 * tokens::GRID,
            _ => 0.0,
        }
    }

    pub(super) fn ink(&self, ui: &Ui) -> Color32 {
        match self {
            Self::Quiet(_) => theme::tokens(ui).quiet,
            Self::Marked(_, ink, _) => *ink,
            _ => theme::tokens(ui).text,
        }
    }

    pub(super) fn font(&self) -> FontId {
        match self {
            Self::Strong(_) => theme::bold(tokens::BODY),
            _ => theme::regular(tokens::BODY),
        }
    }

    /// Paints what stands before the words, `left` being where the cell begins and `y` the middle
    /// of its first line.
    pub(super) fn paint_sign(&self, ui: &Ui, left: f32, y: f32) {
        match self {
            Self::Marked(glyph, ink, _) => {
                glyph.paint(ui.painter(), Pos2::new(left + 6.0, y), 5.0, *ink);
            }
            Self::Swatch(Some(ink), _) => {
                let bar = Rect::from_center_size(Pos2::new(left + 6.0, y), vec2(12.0, 4.0));
                ui.painter().rect_filled(bar, 0.0, *ink);
            }
            _ => {}
        }
    }
}

/// A piece of text whose place in the row is known.
pub(super) struct Piece {
    pub at: Vec2,
    pub galley: Arc<egui::Galley>,
    pub ink: Color32,
    /// The cell whose sign stands before it, and where the cell begins.
    pub sign: Option<(Cell, f32)>,
}

/// Where a cell lies, seen from the corner of its row.
pub(super) type Place = Rect;

/// A row whose pieces and size are known.
pub(super) struct Laid {
    pub height: f32,
    pub pieces: Vec<Piece>,
    pub cells: Vec<Place>,
}

impl Laid {
    /// Where each cell lies on the screen.
    pub(super) fn places(&self, corner: Pos2) -> Vec<Rect> {
        let by = corner.to_vec2();
        self.cells.iter().map(|cell| cell.translate(by)).collect()
    }

    /// Paints every text.
    pub(super) fn paint(&self, ui: &Ui, corner: Pos2) {
        for piece in &self.pieces {
            let at = corner + piece.at;
            if let Some((cell, left)) = &piece.sign {
                let first = piece.galley.rows.first();
                let line = first.map_or(0.0, |row| row.rect().height());
                cell.paint_sign(ui, corner.x + left, at.y + 0.5 * line);
            }
            ui.painter().galley(at, piece.galley.clone(), piece.ink);
        }
    }
}
