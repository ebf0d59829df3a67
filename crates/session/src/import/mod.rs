//! Recordings made elsewhere: FIT, TCX and CSV, each on the clock of its own recorder.
//!
//! [`read`] turns the bytes of a file into a [`Recording`]; what is imperfect is said in its
//! `remarks` and does not stop the reading as long as there is power in it. A CSV file says of no
//! column what it means: [`Columns`] holds what was guessed or said, in a form that is stored in
//! the session, so that the original is read in the same way ever after.
//!
//! What is absent, on purpose: alignment, and any value that the file does not hold. Missing is
//! missing, a pause is a gap, and nothing is resampled.

mod columns;
mod csv;
mod error;
mod fit;
mod moment;
mod recording;
mod table;
mod tcx;
mod text;

pub use columns::{Column, Columns, Decimal, Delimiter, Kind, TimeKind};
pub use error::ImportError;
pub use moment::Began;
pub use recording::{Format, Recording};

/// Reads a recording. `name` is for messages and, by its extension, a hint; the content decides.
/// `columns` is how a CSV file is to be read; without it that is guessed.
///
/// # Errors
/// [`ImportError`], which names the file, the place and the remedy.
pub fn read(bytes: &[u8], name: &str, columns: Option<&Columns>) -> Result<Recording, ImportError> {
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return Err(ImportError::Empty {
            name: name.to_owned(),
        });
    }
    match format_of(bytes, name) {
        Format::Fit => fit::read(bytes, name),
        Format::Tcx => tcx::read(&text::decode(bytes).0, name),
        Format::Csv => csv::read(bytes, name, columns),
    }
}

/// The columns that can be chosen from, named as [`Columns`] names them; nothing for formats that
/// say themselves what they hold. `columns` is how the file is to be read, as for [`read`].
pub fn column_names(bytes: &[u8], name: &str, columns: Option<&Columns>) -> Vec<String> {
    match format_of(bytes, name) {
        Format::Fit | Format::Tcx => Vec::new(),
        Format::Csv => csv::column_names(bytes, columns.and_then(|said| said.delimiter)),
    }
}

/// What a file is, by its first bytes: a FIT header has `.FIT` at byte 8 (FIT protocol, file
/// header), an XML file begins with `<`.
fn format_of(bytes: &[u8], name: &str) -> Format {
    let begins_with_mark = bytes.get(8..12) == Some(b".FIT".as_slice());
    if begins_with_mark || name.to_lowercase().ends_with(".fit") {
        return Format::Fit;
    }
    let (text, _) = text::decode(&bytes[..bytes.len().min(200)]);
    if text.trim_start().starts_with('<') {
        Format::Tcx
    } else {
        Format::Csv
    }
}
