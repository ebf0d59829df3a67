//! Findings as documents.
//!
//! * [`document`]: one JSON value, the stable, versioned form for other programs; its fields are
//!   described in `SCHEMA.md` beside this crate.
//! * [`comparison_document`] and [`comparison_html`]: the same two for several sessions compared;
//!   the fields are described in `COMPARE.md`.
//! * [`html`]: the report, one self-contained HTML file for people.
//! * [`svg()`] and [`pictures()`]: single plots as pictures for publication, as vectors and as
//!   pixels; `PICTURES.md` describes the files.
//! * [`Imprint`]: what only the tester can say, read from a file that `IMPRINT.md` describes.
//! * [`csv`]: tables for other people's tools; columns are described in `CSV.md`.
//!
//! Everything in a document comes from the findings and from what the session says about itself;
//! nothing is judged here. What is absent, on purpose: clocks, files, and anything fetched from
//! elsewhere.

mod compared;
pub mod csv;
mod describe;
mod html;
mod imprint;
pub mod json;
mod pictures;
mod raster;
mod svg;
mod typeface;
mod words;

pub use compared::{Compared, ComparedSession, Seal};
pub use html::{comparison_html, html, html_with};
pub use imprint::{Imprint, ImprintError, Item, Photo, Tester};
pub use json::{COMPARISON_SCHEMA, SCHEMA, SessionFacts, comparison_document, document};
pub use pictures::{Picture, pictures};
pub use raster::RasterError;
pub use svg::{Paper, Size, svg};
