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
//! * [`tables`]: the tables for other people's tools, each described once; [`csv()`] writes them as
//!   text (`CSV.md`), [`mod@parquet`] as columns for query engines (`PARQUET.md`).
//!
//! Everything in a document comes from the findings and from what the session says about itself;
//! nothing is judged here. What is absent, on purpose: clocks, files, and anything fetched from
//! elsewhere.

mod compared;
mod csv;
mod describe;
mod facts;
mod html;
mod imprint;
pub mod json;
pub mod parquet;
mod pictures;
mod raster;
mod svg;
pub mod tables;
mod typeface;
mod words;

pub use compared::{Compared, ComparedSession, Seal};
pub use csv::csv;
pub use facts::SessionFacts;
pub use html::{comparison_html, html, html_with};
pub use imprint::{Imprint, ImprintError, Item, Photo, Tester};
pub use json::{COMPARISON_SCHEMA, SCHEMA, comparison_document, document};
pub use pictures::{Picture, pictures};
pub use raster::RasterError;
pub use svg::{Paper, Size, svg};
