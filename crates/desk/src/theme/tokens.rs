//! Every colour and every length of the desk. Nothing else in the crate names one.
//!
//! The reference is drawn in the colour of text, the device under test in one accent and a second
//! reference in another; both accents are from the palette that Okabe and Ito published for
//! readers with any colour vision ("Color Universal Design", 2008): blue, sky blue and bluish
//! green. Red means *release* and *beyond* and nothing else. There is no green for good and no
//! scale of effort.
#![expect(
    clippy::disallowed_methods,
    reason = "the one file that may name colours"
)]

use egui::Color32;

/// The distance that all others are multiples or halves of, points.
pub const GRID: f32 = 8.0;
/// Space between the parts of a page, points.
pub const GAP: f32 = 3.0 * GRID;
/// Margin of a page, points.
pub const MARGIN: f32 = 3.0 * GRID;
/// Height of a control in a list or a row, points.
pub const CONTROL: f32 = 4.0 * GRID;
/// Height of a control that matters, points.
pub const BIG_CONTROL: f32 = 5.0 * GRID;
/// Width of the rail with the places, points.
pub const RAIL: f32 = 15.0 * GRID;
/// Height of the strip with the controls of a session, points.
pub const FOOTER: f32 = 8.0 * GRID;
/// Corner radius of controls, points.
pub const CORNER: u8 = 2;
/// Width of a hair line, points.
pub const HAIR: f32 = 1.0;
/// Width of a drawn curve, points.
pub const CURVE: f32 = 1.5;
/// Widest page, points.
pub const PAGE: f32 = 184.0 * GRID;
/// Widest column of running text, points.
pub const MEASURE: f32 = 90.0 * GRID;

/// Size of running text, points: its line is two steps of the grid high.
pub const BODY: f32 = 13.0;
/// Size of headings and of the difference, points: its line is three steps high.
pub const HEADING: f32 = 20.0;
/// Size of the numerals that are read from a distance, points.
pub const TALL: f32 = 48.0;

/// The colours of one theme.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tokens {
    /// Ground of pages.
    pub paper: Color32,
    /// Ground of the rail, the strip of controls and of fields.
    pub rail: Color32,
    /// Ground of sheets, menus and tool tips.
    pub raised: Color32,
    /// Ground of a row under the pointer or chosen.
    pub tint: Color32,
    /// Hair lines between things, grid lines.
    pub rule: Color32,
    /// Edges of controls and the zero line: visible without being read.
    pub edge: Color32,
    /// Text, and the reference.
    pub text: Color32,
    /// Text that is read second.
    pub quiet: Color32,
    /// Text on a ground of text colour.
    pub on_text: Color32,
    /// The device under test.
    pub device: Color32,
    /// The second reference, as a line.
    pub second: Color32,
    /// Beyond, as a line or as text.
    pub alarm: Color32,
    /// Ground of the release control.
    pub release: Color32,
    /// Text on the release control.
    pub on_release: Color32,
    /// The claimed tolerance, as a band that lets hatching shine through.
    pub tolerance: Color32,
    /// An uncertainty, as a band over the tolerance.
    pub uncertainty: Color32,
    /// What lies behind an open sheet.
    pub veil: Color32,
}

/// On light ground.
pub const LIGHT: Tokens = Tokens {
    paper: Color32::from_rgb(0xFB, 0xFB, 0xF8),
    rail: Color32::from_rgb(0xF2, 0xF2, 0xED),
    raised: Color32::from_rgb(0xFF, 0xFF, 0xFF),
    tint: Color32::from_rgb(0xEA, 0xEA, 0xE4),
    rule: Color32::from_rgb(0xE2, 0xE2, 0xDB),
    edge: Color32::from_rgb(0x8C, 0x8F, 0x8C),
    text: Color32::from_rgb(0x17, 0x1B, 0x1E),
    quiet: Color32::from_rgb(0x56, 0x5D, 0x62),
    on_text: Color32::from_rgb(0xFF, 0xFF, 0xFF),
    device: Color32::from_rgb(0x00, 0x72, 0xB2),
    second: Color32::from_rgb(0x00, 0x9E, 0x73),
    alarm: Color32::from_rgb(0xB3, 0x1F, 0x17),
    release: Color32::from_rgb(0xB3, 0x1F, 0x17),
    on_release: Color32::from_rgb(0xFF, 0xFF, 0xFF),
    tolerance: Color32::from_rgba_premultiplied(0x00, 0x00, 0x00, 0x11),
    uncertainty: Color32::from_rgba_premultiplied(0x00, 0x19, 0x27, 0x38),
    veil: Color32::from_rgba_premultiplied(0x0C, 0x0E, 0x10, 0x80),
};

/// On dark ground.
pub const DARK: Tokens = Tokens {
    paper: Color32::from_rgb(0x15, 0x18, 0x1B),
    rail: Color32::from_rgb(0x0E, 0x11, 0x13),
    raised: Color32::from_rgb(0x1E, 0x22, 0x26),
    tint: Color32::from_rgb(0x26, 0x2B, 0x30),
    rule: Color32::from_rgb(0x2B, 0x30, 0x35),
    edge: Color32::from_rgb(0x73, 0x7A, 0x80),
    text: Color32::from_rgb(0xEC, 0xED, 0xE8),
    quiet: Color32::from_rgb(0xA6, 0xAD, 0xB2),
    on_text: Color32::from_rgb(0x0E, 0x11, 0x13),
    device: Color32::from_rgb(0x56, 0xB4, 0xE9),
    second: Color32::from_rgb(0x00, 0x9E, 0x73),
    alarm: Color32::from_rgb(0xFF, 0x8A, 0x7D),
    release: Color32::from_rgb(0xBF, 0x2C, 0x23),
    on_release: Color32::from_rgb(0xFF, 0xFF, 0xFF),
    tolerance: Color32::from_rgba_premultiplied(0x10, 0x11, 0x12, 0x12),
    uncertainty: Color32::from_rgba_premultiplied(0x18, 0x33, 0x42, 0x48),
    veil: Color32::from_rgba_premultiplied(0x00, 0x00, 0x00, 0xA0),
};

impl Tokens {
    /// The colours of the theme that `visuals` belong to.
    pub fn of(visuals: &egui::Visuals) -> &'static Self {
        if visuals.dark_mode { &DARK } else { &LIGHT }
    }
}

#[cfg(test)]
#[path = "../../tests/wcag/mod.rs"]
mod wcag;

#[cfg(test)]
mod tests {
    use super::wcag::contrast;
    use super::*;

    /// W3C WCAG 2.2: black on white is 21:1, and #777777 on white just misses 4.5:1 (4.48).
    #[test]
    fn the_measure_of_contrast_is_the_published_one() {
        assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-9);
        let grey = Color32::from_gray(0x77);
        assert!((contrast(grey, Color32::WHITE) - 4.48).abs() < 0.005);
    }

    #[test]
    fn all_text_has_a_contrast_of_at_least_four_and_a_half() {
        for (theme, t) in [("light", LIGHT), ("dark", DARK)] {
            let grounds = [
                ("paper", t.paper),
                ("rail", t.rail),
                ("raised", t.raised),
                ("tint", t.tint),
            ];
            for (name, ground) in grounds {
                for (what, ink) in [("text", t.text), ("quiet", t.quiet), ("alarm", t.alarm)] {
                    let ratio = contrast(ink, ground);
                    assert!(ratio >= 4.5, "{theme}: {what} on {name} is {ratio:.2}");
                }
            }
            for (what, ink, ground) in [
                ("device on paper", t.device, t.paper),
                ("device on rail", t.device, t.rail),
                ("device on raised", t.device, t.raised),
                (
                    "text on the tolerance band",
                    t.text,
                    t.paper.blend(t.tolerance),
                ),
                (
                    "quiet on the tolerance band",
                    t.quiet,
                    t.paper.blend(t.tolerance),
                ),
                ("primary control", t.on_text, t.text),
                ("release control", t.on_release, t.release),
            ] {
                let ratio = contrast(ink, ground);
                assert!(ratio >= 4.5, "{theme}: {what} is {ratio:.2}");
            }
        }
    }

    /// WCAG 2.2 asks for 3:1 where a line or an edge carries meaning.
    #[test]
    fn lines_that_carry_meaning_have_a_contrast_of_at_least_three() {
        for (theme, t) in [("light", LIGHT), ("dark", DARK)] {
            for (what, ink) in [
                ("second", t.second),
                ("device", t.device),
                ("edge", t.edge),
                ("alarm", t.alarm),
            ] {
                let ratio = contrast(ink, t.paper);
                assert!(ratio >= 3.0, "{theme}: {what} is {ratio:.2}");
            }
        }
    }
}
