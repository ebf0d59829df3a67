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

use analysis::outcome::Plot;
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
    pub const HD: Self = Self { width: 1920, height: 1080 };
    /// 3840 × 2160.
    pub const UHD: Self = Self { width: 3840, height: 2160 };
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
pub(crate) fn on_page(plot: &Plot, id: String) -> String {
    plot::draw(plot, Sheet::on_page(id, 340.0))
}
