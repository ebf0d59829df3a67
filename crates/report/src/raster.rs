//! Vector pictures as pixels, with the house's own typeface, the same bytes on every machine.
//!
//! No typeface of the system is looked at: a letter that the typeface lacks is drawn as an empty
//! frame. In the SVG of the same picture the reader's own typefaces stand in for it.

use crate::svg::Size;
use crate::typeface;
use resvg::{tiny_skia, usvg};
use std::sync::{Arc, OnceLock};
use usvg::fontdb::Database;

/// Why a picture could not be made of pixels.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RasterError {
    /// The drawing does not read.
    #[error("the drawing does not read: {0}")]
    Drawing(String),
    /// The size is zero, or more than memory holds.
    #[error("{0} × {1} pixels cannot be drawn")]
    Size(u32, u32),
    /// The pixels cannot be packed.
    #[error("the pixels cannot be packed as PNG: {0}")]
    Packing(String),
}

/// A drawing as a PNG. Where it has no ground, neither has the picture. Title and description are
/// in it under the keywords that the PNG specification has for them (W3C, 11.3.3.1).
pub(crate) fn png(
    svg: &str,
    size: Size,
    title: &str,
    description: &str,
) -> Result<Vec<u8>, RasterError> {
    let options = usvg::Options {
        fontdb: typefaces(),
        ..usvg::Options::default()
    };
    let tree = usvg::Tree::from_str(svg, &options)
        .map_err(|error| RasterError::Drawing(error.to_string()))?;
    let [width, height] = [size.width, size.height];
    let mut pixels =
        tiny_skia::Pixmap::new(width, height).ok_or(RasterError::Size(width, height))?;
    let scale = tiny_skia::Transform::from_scale(
        width as f32 / tree.size().width(),
        height as f32 / tree.size().height(),
    );
    resvg::render(&tree, scale, &mut pixels.as_mut());
    pack(pixels, title, description).map_err(|error| RasterError::Packing(error.to_string()))
}

fn pack(
    pixels: tiny_skia::Pixmap,
    title: &str,
    description: &str,
) -> Result<Vec<u8>, png::EncodingError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, pixels.width(), pixels.height());
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Eight);
    // Drawings have few colours: packing them harder takes several times as long for little.
    encoder.set_compression(png::Compression::Fast);
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    encoder.add_itxt_chunk("Title".to_owned(), title.to_owned())?;
    encoder.add_itxt_chunk("Description".to_owned(), description.to_owned())?;
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&pixels.take_demultiplied())?;
    writer.finish()?;
    Ok(bytes)
}

/// The house's typeface, read once.
fn typefaces() -> Arc<Database> {
    static FACES: OnceLock<Arc<Database>> = OnceLock::new();
    let read = || {
        let mut faces = Database::new();
        for bytes in typeface::FILES {
            faces.load_font_data(bytes.to_vec());
        }
        Arc::new(faces)
    };
    Arc::clone(FACES.get_or_init(read))
}

#[cfg(test)]
mod tests {
    use super::*;

    const SQUARE: Size = Size {
        width: 40,
        height: 40,
    };

    fn drawing(inside: &str) -> String {
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"40\" height=\"40\" \
             font-family=\"B612\">{inside}</svg>"
        )
    }

    /// Width, height and pixels, red, green, blue and opacity.
    fn unpack(bytes: &[u8]) -> (u32, u32, Vec<u8>) {
        let mut reader = png::Decoder::new(std::io::Cursor::new(bytes))
            .read_info()
            .unwrap();
        let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
        let info = reader.next_frame(&mut pixels).unwrap();
        (info.width, info.height, pixels)
    }

    #[test]
    fn colours_and_opacity_are_those_of_the_drawing() {
        let half = drawing("<rect width=\"20\" height=\"40\" fill=\"#0072b2\"/>");
        let bytes = png(&half, SQUARE, "t", "d").unwrap();
        let (width, height, pixels) = unpack(&bytes);
        assert_eq!((width, height), (40, 40));
        assert_eq!(pixels[..4], [0x00, 0x72, 0xb2, 0xff]);
        assert_eq!(pixels[39 * 4..40 * 4], [0, 0, 0, 0], "no ground");
        assert_eq!(bytes, png(&half, SQUARE, "t", "d").unwrap());
    }

    #[test]
    fn text_is_drawn_with_the_house_typeface() {
        let text = |weight: &str| {
            let words = drawing(&format!(
                "<text x=\"2\" y=\"30\" font-weight=\"{weight}\">−8.5 W</text>"
            ));
            let (_, _, pixels) = unpack(&png(&words, SQUARE, "t", "d").unwrap());
            pixels
                .chunks(4)
                .map(|pixel| u32::from(pixel[3]))
                .sum::<u32>()
        };
        assert!(text("normal") > 5000);
        assert!(text("bold") > text("normal"), "the strong cut is there too");
    }

    #[test]
    fn what_cannot_be_drawn_is_said() {
        assert!(matches!(
            png("<svg", SQUARE, "", ""),
            Err(RasterError::Drawing(_))
        ));
        let nothing = Size {
            width: 0,
            height: 4,
        };
        assert_eq!(
            png(&drawing(""), nothing, "", ""),
            Err(RasterError::Size(0, 4))
        );
    }
}
