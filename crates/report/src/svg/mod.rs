//! Plots as vector pictures.
//!
//! A [`Plot`] says what is drawn, this module how, by the rules of the trade: the zero line is
//! visible, tolerance and guard lines look different, uncertainty is drawn and named, excluded
//! spans are hatched and carry their reason, the scale of a difference is one of a fixed set, and
//! everything that colour tells is told by shape or dash as well. The same plot gives the same
//! bytes everywhere. Every picture has a title and a description in words.

pub(crate) mod bars;
pub(crate) mod canvas;
mod extent;
pub(crate) mod forest;
pub(crate) mod glyph;
pub(crate) mod inks;
mod labels;
mod layers;
pub(crate) mod measure;
mod plot;
pub(crate) mod spans;
mod thin;
pub(crate) mod ticks;

pub use inks::Paper;

use analysis::outcome::{Layer, Plot};
use canvas::{Anchor, Canvas, Face};
use inks::Inks;

/// The size of a picture, pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Size {
    /// Width.
    pub width: u32,
    /// Height.
    pub height: u32,
}

impl Size {
    /// 1920 × 1080.
    pub const HD: Self = Self {
        width: 1920,
        height: 1080,
    };
    /// 3840 × 2160.
    pub const UHD: Self = Self {
        width: 3840,
        height: 2160,
    };
}

/// The unit of drawing of a picture that stands alone: text is this high on half of full HD.
const ALONE_TEXT: f64 = 15.0;
/// Size of text in a picture on a page.
pub(crate) const PAGE_TEXT: f64 = 13.0;
/// Width of a picture on a page.
pub(crate) const PAGE_WIDTH: f64 = 880.0;

/// What a picture is drawn for.
#[derive(Clone, Debug)]
pub(crate) struct Sheet {
    /// Prefix of the ids in it.
    pub(crate) id: String,
    /// Its colours.
    pub(crate) inks: Inks,
    /// Width and height of its coordinates.
    pub(crate) size: [f64; 2],
    /// Size of its text in them.
    pub(crate) text: f64,
    /// Pixels per unit of its coordinates.
    pub(crate) pixels_per_unit: f64,
    /// Whether title and caption stand in the picture or around it.
    pub(crate) words: Words,
    /// Its size as a document of its own.
    pub(crate) pixels: Option<[u32; 2]>,
}

/// What is written over and under a drawing that is not a [`Plot`].
#[derive(Clone, Debug)]
pub(crate) struct Around {
    /// Title.
    pub(crate) title: String,
    /// Caption; drawn only where title and caption stand in the picture.
    pub(crate) caption: String,
}

impl Around {
    /// Draws title and caption if they stand in the picture; top and bottom of what is left.
    pub(crate) fn draw(&self, canvas: &mut Canvas, sheet: &Sheet) -> [f64; 2] {
        let [width, height] = sheet.size;
        let (text, margin) = (sheet.text, sheet.margin());
        if sheet.words == Words::Outside {
            return [margin, height - margin];
        }
        let room = width - 2.0 * margin;
        let top = margin + 1.4 * text;
        let face = Face::new(1.4 * text, canvas.inks.text, Anchor::Start).bold();
        canvas.text(
            [margin, top],
            face,
            &measure::clip(&self.title, face.size, room),
        );
        let face = Face::new(0.87 * text, canvas.inks.quiet, Anchor::Start);
        let caption = measure::clip(&self.caption, face.size, room);
        canvas.text([margin, height - margin], face, &caption);
        [top + 1.2 * text, height - margin - 2.4 * text]
    }
}

/// Height of a row where `rows` of them share the room: never less than `least`, and no more than
/// looks well.
pub(crate) fn row_height(room: f64, rows: usize, least: f64) -> f64 {
    (room / rows.max(1) as f64).clamp(least, 1.7 * least)
}

/// How much of a page a plot gets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Room {
    /// A plot of the comparison as a whole.
    Wide,
    /// A plot of one examination.
    Modest,
}

/// Where title and caption stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Words {
    /// In the picture.
    Inside,
    /// On the page around it.
    Outside,
}

impl Sheet {
    /// A picture that stands alone: laid out on a sheet of about 960 × 540 and then enlarged, so
    /// that it looks the same at every size.
    pub(crate) fn alone(size: Size, paper: Paper) -> Self {
        let (width, height) = (f64::from(size.width.max(1)), f64::from(size.height.max(1)));
        let unit = (width / 960.0).min(height / 540.0);
        Self {
            id: "picture".into(),
            inks: Inks::on(paper),
            size: [width / unit, height / unit],
            text: ALONE_TEXT,
            pixels_per_unit: unit,
            words: Words::Inside,
            pixels: Some([size.width.max(1), size.height.max(1)]),
        }
    }

    /// A picture on a page.
    pub(crate) fn on_page(id: String, height: f64) -> Self {
        Self {
            id,
            inks: inks::PAGE,
            size: [PAGE_WIDTH, height],
            text: PAGE_TEXT,
            pixels_per_unit: 1.0,
            words: Words::Outside,
            pixels: None,
        }
    }

    /// Margin around everything.
    pub(crate) fn margin(&self) -> f64 {
        match self.words {
            Words::Inside => 1.8 * self.text,
            Words::Outside => 1.0,
        }
    }
}

/// A plot as an SVG document of the given size.
pub fn svg(plot: &Plot, size: Size, paper: Paper) -> String {
    plot::draw(plot, Sheet::alone(size, paper))
}

/// A plot as an element of a page. `id` must be unique on it.
pub(crate) fn on_page(plot: &Plot, id: String, room: Room) -> String {
    let only_spans = plot
        .layers
        .iter()
        .all(|layer| matches!(layer, Layer::Span { .. }));
    let height = match (only_spans, room) {
        (true, _) => 150.0,
        (false, Room::Wide) => 340.0,
        (false, Room::Modest) => 270.0,
    };
    plot::draw(plot, Sheet::on_page(id, height))
}
