//! The typeface of all documents: B612, drawn for instrument panels, all digits equally wide, under
//! the SIL Open Font License (`assets/fonts/B612-LICENSE.txt`), which lets documents carry it.

use base64::Engine;

const REGULAR: &[u8] = include_bytes!("../../../assets/fonts/B612-Regular.otf");
const BOLD: &[u8] = include_bytes!("../../../assets/fonts/B612-Bold.otf");

/// The files of the typeface.
pub(crate) const FILES: [&[u8]; 2] = [REGULAR, BOLD];

/// Names of the typefaces, the wanted one first; those after it are not wider.
pub(crate) const FACES: &str = "B612, Arial, 'Liberation Sans', Helvetica, sans-serif";

/// Rules of a style sheet that hold the typeface itself.
pub(crate) fn rules() -> String {
    let face = |weight: &str, bytes: &[u8]| {
        let data = base64::engine::general_purpose::STANDARD.encode(bytes);
        format!(
            "@font-face {{ font-family: B612; font-weight: {weight}; \
             src: url(data:font/otf;base64,{data}) format(\"opentype\"); }}\n"
        )
    };
    face("normal", REGULAR) + &face("bold", BOLD)
}
