//! A painter without a graphics card: draws what egui tessellates into a picture in memory, keeps
//! pictures as PNG files and compares them.
//!
//! It does what egui asks of every painter – triangles in order, colours between the corners,
//! premultiplied alpha in the space of the screen, the glyph atlas sampled between its texels –
//! and nothing else. Only the glyph atlas is known; the desk draws no other texture.
#![allow(dead_code, reason = "each test uses a part of it")]

use egui::epaint::{Mesh, Primitive, Vertex};
use egui::{Color32, Context, FullOutput, Pos2, Rect};
use std::fs::File;
use std::io::{BufReader, BufWriter};
use std::path::Path;

/// Steps between the shades of a coarse picture, of 255.
const SHADE: u8 = 8;

/// A picture: rows of pixels from the top, red, green and blue of each.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    pub width: usize,
    pub height: usize,
    pub pixels: Vec<[u8; 3]>,
}

/// Draws a frame of so many pixels.
pub fn draw(ctx: &Context, output: &FullOutput, size: [f32; 2]) -> Picture {
    let scale = output.pixels_per_point;
    let [width, height] = size.map(|side| side.round() as usize);
    let mut picture = Picture {
        width,
        height,
        pixels: vec![[0; 3]; width * height],
    };
    let atlas = ctx.fonts(|fonts| fonts.image());
    for part in ctx.tessellate(output.shapes.clone(), scale) {
        if let Primitive::Mesh(mesh) = &part.primitive {
            picture.add(mesh, part.clip_rect, &atlas, scale);
        }
    }
    picture
}

impl Picture {
    fn add(&mut self, mesh: &Mesh, clip: Rect, atlas: &egui::ColorImage, scale: f32) {
        let edge =
            |points: f32, most: usize| ((points * scale).round().max(0.0) as usize).min(most);
        let clip = [
            [edge(clip.min.x, self.width), edge(clip.max.x, self.width)],
            [edge(clip.min.y, self.height), edge(clip.max.y, self.height)],
        ];
        for corners in mesh.indices.chunks_exact(3) {
            let corners = [0, 1, 2].map(|i| mesh.vertices[corners[i] as usize]);
            self.triangle(corners, clip, atlas, scale);
        }
    }

    fn triangle(
        &mut self,
        corners: [Vertex; 3],
        clip: [[usize; 2]; 2],
        atlas: &egui::ColorImage,
        scale: f32,
    ) {
        let at = corners.map(|corner| (corner.pos.to_vec2() * scale).to_pos2());
        let area = cross(at[0], at[1], at[2]);
        if area == 0.0 || !area.is_finite() {
            return;
        }
        let reach = |of: fn(&Pos2) -> f32, [least, most]: [usize; 2]| {
            let low = at.iter().map(of).fold(f32::MAX, f32::min).floor().max(0.0) as usize;
            let high = at.iter().map(of).fold(f32::MIN, f32::max).ceil().max(0.0) as usize;
            low.max(least)..high.min(most)
        };
        let colors = corners.map(|corner| corner.color.to_array().map(f32::from));
        let flat = colors[0] == colors[1] && colors[1] == colors[2];
        let plain = corners
            .iter()
            .all(|corner| corner.uv == egui::epaint::WHITE_UV);
        for y in reach(|p| p.y, clip[1]) {
            for x in reach(|p| p.x, clip[0]) {
                let pixel = egui::pos2(x as f32 + 0.5, y as f32 + 0.5);
                let parts = [
                    cross(at[1], at[2], pixel) / area,
                    cross(at[2], at[0], pixel) / area,
                    cross(at[0], at[1], pixel) / area,
                ];
                if parts.iter().any(|part| *part < 0.0)
                    || (0..3)
                        .any(|i| parts[i] == 0.0 && !owns(at[(i + 1) % 3], at[(i + 2) % 3], area))
                {
                    continue;
                }
                let mixed = |of: [f32; 3]| of[0] * parts[0] + of[1] * parts[1] + of[2] * parts[2];
                let mut color = if flat {
                    colors[0]
                } else {
                    [0, 1, 2, 3].map(|c| mixed(colors.map(|color| color[c])))
                };
                if !plain {
                    let uv = [
                        mixed(corners.map(|corner| corner.uv.x)),
                        mixed(corners.map(|corner| corner.uv.y)),
                    ];
                    let texel = sample(atlas, uv);
                    for (channel, texel) in color.iter_mut().zip(texel) {
                        *channel *= texel / 255.0;
                    }
                }
                let under = &mut self.pixels[y * self.width + x];
                for (below, over) in under.iter_mut().zip(color) {
                    let kept = f32::from(*below) * (1.0 - color[3] / 255.0);
                    *below = (over + kept).round().clamp(0.0, 255.0) as u8;
                }
            }
        }
    }

    /// Writes the picture as a PNG file.
    pub fn save(&self, path: &Path) {
        let file = BufWriter::new(File::create(path).expect("the folder can be written"));
        let mut encoder = png::Encoder::new(file, self.width as u32, self.height as u32);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_compression(png::Compression::High);
        encoder.set_filter(png::Filter::NoFilter);
        let mut writer = encoder.write_header().expect("a header is written");
        writer
            .write_image_data(self.pixels.as_flattened())
            .expect("the pixels are written");
    }

    /// The same picture with fewer shades: smaller as a file, and as good for a comparison.
    pub fn coarse(mut self) -> Self {
        for byte in self.pixels.as_flattened_mut() {
            *byte = (*byte / SHADE)
                .saturating_mul(SHADE)
                .saturating_add(SHADE / 2);
        }
        self
    }

    /// Reads a picture that [`Picture::save`] has written.
    pub fn load(path: &Path) -> Option<Self> {
        let file = BufReader::new(File::open(path).ok()?);
        let mut reader = png::Decoder::new(file).read_info().ok()?;
        let mut bytes = vec![0; reader.output_buffer_size()?];
        let frame = reader.next_frame(&mut bytes).ok()?;
        Some(Self {
            width: frame.width as usize,
            height: frame.height as usize,
            pixels: bytes.as_chunks::<3>().0.to_vec(),
        })
    }

    /// Share of pixels that differ by more than `tolerance` of 255 in a channel; all of them if the
    /// sizes differ.
    pub fn share_unlike(&self, other: &Self, tolerance: u8) -> f64 {
        if (self.width, self.height) != (other.width, other.height) {
            return 1.0;
        }
        let unlike =
            |(a, b): (&[u8; 3], &[u8; 3])| a.iter().zip(b).any(|(a, b)| a.abs_diff(*b) > tolerance);
        let pairs = self.pixels.iter().zip(&other.pixels);
        pairs.filter(|pair| unlike(*pair)).count() as f64 / self.pixels.len().max(1) as f64
    }

    /// How many pixels have exactly this colour.
    pub fn count(&self, ink: Color32) -> usize {
        let [r, g, b, _] = ink.to_array();
        let pixels = self.pixels.iter();
        pixels.filter(|pixel| **pixel == [r, g, b]).count()
    }
}

/// Twice the signed area of a triangle.
fn cross(a: Pos2, b: Pos2, c: Pos2) -> f32 {
    (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x)
}

/// Which of two triangles a pixel on their common edge belongs to: exactly one of them, so that
/// translucent areas have no seams.
fn owns(from: Pos2, to: Pos2, area: f32) -> bool {
    let along = if area > 0.0 { to - from } else { from - to };
    along.y < 0.0 || (along.y == 0.0 && along.x > 0.0)
}

/// The atlas between its texels.
fn sample(atlas: &egui::ColorImage, uv: [f32; 2]) -> [f32; 4] {
    let [width, height] = atlas.size;
    let place = |share: f32, size: usize| {
        let at = (share * size as f32 - 0.5).clamp(0.0, (size - 1) as f32);
        let low = at.floor() as usize;
        (low, (low + 1).min(size - 1), at - at.floor())
    };
    let (left, right, across) = place(uv[0], width);
    let (top, bottom, down) = place(uv[1], height);
    let texel = |x: usize, y: usize| atlas.pixels[y * width + x].to_array().map(f32::from);
    let between = |a: [f32; 4], b: [f32; 4], part: f32| {
        [0, 1, 2, 3].map(|channel| a[channel] + (b[channel] - a[channel]) * part)
    };
    let upper = between(texel(left, top), texel(right, top), across);
    let lower = between(texel(left, bottom), texel(right, bottom), across);
    between(upper, lower, down)
}
