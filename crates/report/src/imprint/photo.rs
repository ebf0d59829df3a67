//! Photographs within a report: the file's bytes as they are, so that the report stays one file.

use base64::Engine;

/// A report is passed on whole, by mail too: a photograph larger than this is refused, bytes.
pub(super) const LARGEST: usize = 4 * 1024 * 1024;

/// A photograph of the bench or the unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Photo {
    /// The file, relative to the imprint.
    pub file: String,
    /// What it shows: its caption and its text alternative.
    pub shows: String,
    /// The picture as an address that holds it; `None` until [`Photo::embed`].
    pub(crate) data: Option<String>,
}

impl Photo {
    /// A photograph that is not embedded yet.
    pub fn new(file: impl Into<String>, shows: impl Into<String>) -> Self {
        Self {
            file: file.into(),
            shows: shows.into(),
            data: None,
        }
    }

    /// Takes in the bytes of the file.
    ///
    /// # Errors
    /// If they are no JPEG or PNG, or too many, in words.
    pub fn embed(&mut self, bytes: &[u8]) -> Result<(), String> {
        if bytes.len() > LARGEST {
            return Err(format!(
                "it has {:.1} MB; make it smaller than {} MB, so that the report can be sent",
                bytes.len() as f64 / 1e6,
                LARGEST / (1024 * 1024)
            ));
        }
        let kind = kind(bytes).ok_or("it is neither JPEG nor PNG; save it as one of them")?;
        let data = base64::engine::general_purpose::STANDARD.encode(bytes);
        self.data = Some(format!("data:image/{kind};base64,{data}"));
        Ok(())
    }
}

/// The kind of a picture by its first bytes: PNG (W3C, 5.2), JPEG (ITU-T T.81, B.1.1.3: SOI).
fn kind(bytes: &[u8]) -> Option<&'static str> {
    match bytes {
        [0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a, ..] => Some("png"),
        [0xff, 0xd8, 0xff, ..] => Some("jpeg"),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_pictures_are_taken_in() {
        let mut photo = Photo::new("bench.png", "the bench");
        assert!(photo.embed(b"GIF89a").unwrap_err().contains("neither"));
        assert!(
            photo
                .embed(&vec![0; LARGEST + 1])
                .unwrap_err()
                .contains("smaller")
        );
        assert_eq!(photo.data, None);
        photo.embed(b"\x89PNG\x0d\x0a\x1a\x0a").unwrap();
        assert_eq!(
            photo.data.as_deref(),
            Some("data:image/png;base64,iVBORw0KGgo=")
        );
    }
}
