//! Every colour of a drawing, once per ground. The values are the desk's.
//!
//! The reference is drawn in the colour of text, the device under test in one accent and a second
//! reference in another; both accents are from the palette that Okabe and Ito published for
//! readers with any colour vision ("Color Universal Design", 2008). Red means *beyond* only.

use analysis::outcome::Ink;
use analysis::verdict::Verdict;

/// What a picture is drawn on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// A light ground.
    Light,
    /// A dark ground.
    Dark,
    /// No ground; the inks are those for a light one.
    Transparent,
    /// No ground; the inks are those for a dark one.
    TransparentDark,
}

/// The colours of one drawing, as they stand in the SVG.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Inks {
    /// Ground; `None` leaves it out.
    pub(crate) ground: Option<&'static str>,
    /// What open marks are filled with and filled marks are edged with; `None` without a ground.
    pub(crate) halo: Option<&'static str>,
    /// Text, and the reference.
    pub(crate) text: &'static str,
    /// Text that is read second.
    pub(crate) quiet: &'static str,
    /// Grid lines.
    pub(crate) rule: &'static str,
    /// Zero line, edges of the tolerance, hatching.
    pub(crate) edge: &'static str,
    /// The device under test.
    pub(crate) device: &'static str,
    /// The second reference.
    pub(crate) second: &'static str,
    /// Beyond.
    pub(crate) alarm: &'static str,
    /// The claimed tolerance, as a band.
    pub(crate) tolerance: &'static str,
    /// An uncertainty, as a band.
    pub(crate) uncertainty: &'static str,
}

const LIGHT: Inks = Inks {
    ground: Some("#fbfbf8"),
    halo: Some("#fbfbf8"),
    text: "#171b1e",
    quiet: "#565d62",
    rule: "#e2e2db",
    edge: "#8c8f8c",
    device: "#0072b2",
    second: "#008a64",
    alarm: "#b31f17",
    tolerance: "#ecece6",
    uncertainty: "#c8dbe6",
};

const DARK: Inks = Inks {
    ground: Some("#15181b"),
    halo: Some("#15181b"),
    text: "#ecede8",
    quiet: "#a6adb2",
    rule: "#2b3035",
    edge: "#737a80",
    device: "#56b4e9",
    second: "#009e73",
    alarm: "#ff8a7d",
    tolerance: "#22272b",
    uncertainty: "#28485a",
};

/// The colours of the page around the drawing: custom properties that its style sheet sets for
/// either ground and for print.
pub(crate) const PAGE: Inks = Inks {
    ground: None,
    halo: Some("var(--paper)"),
    text: "var(--text)",
    quiet: "var(--quiet)",
    rule: "var(--rule)",
    edge: "var(--edge)",
    device: "var(--device)",
    second: "var(--second)",
    alarm: "var(--alarm)",
    tolerance: "var(--tolerance)",
    uncertainty: "var(--uncertainty)",
};

impl Inks {
    /// The colours on a ground.
    pub(crate) const fn on(paper: Paper) -> Self {
        match paper {
            Paper::Light => LIGHT,
            Paper::Dark => DARK,
            Paper::Transparent => Self {
                ground: None,
                halo: None,
                ..LIGHT
            },
            Paper::TransparentDark => Self {
                ground: None,
                halo: None,
                ..DARK
            },
        }
    }

    /// The colour of a line or a mark.
    pub(crate) const fn of(&self, ink: Ink) -> &'static str {
        match ink {
            Ink::UnderTest => self.device,
            Ink::Reference => self.text,
            Ink::SecondReference => self.second,
            Ink::Target | Ink::Fit | Ink::Uncertainty => self.quiet,
            Ink::Tolerance | Ink::Excluded => self.edge,
            Ink::Beyond => self.alarm,
        }
    }

    /// The colour of a verdict: red for beyond, quiet for what was not tested, else text.
    pub(crate) const fn of_verdict(&self, verdict: Verdict) -> &'static str {
        match verdict {
            Verdict::ShownBeyond | Verdict::LikelyBeyond => self.alarm,
            Verdict::NotTested => self.quiet,
            Verdict::ShownWithin | Verdict::LikelyWithin | Verdict::BenchNotCapable => self.text,
        }
    }
}

/// How a line is broken up, so that lines differ without their colour; empty for unbroken.
pub(crate) const fn dashes(ink: Ink) -> &'static str {
    match ink {
        Ink::SecondReference => "8 4",
        Ink::Target => "2 3",
        Ink::Fit => "9 3 2 3",
        Ink::Uncertainty => "1 3",
        _ => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast ratio as W3C WCAG 2.2 defines them.
    fn contrast(a: &str, b: &str) -> f64 {
        let luminance = |color: &str| -> f64 {
            let channel = |at: usize| {
                let c = f64::from(u8::from_str_radix(&color[at..at + 2], 16).unwrap()) / 255.0;
                if c <= 0.04045 {
                    c / 12.92
                } else {
                    ((c + 0.055) / 1.055).powf(2.4)
                }
            };
            0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    /// WCAG 2.2: 4.5:1 for text (1.4.3), 3:1 for lines that carry meaning (1.4.11).
    #[test]
    fn text_and_lines_stand_out_from_their_ground() {
        assert!((contrast("#ffffff", "#000000") - 21.0).abs() < 1e-9);
        for (name, inks) in [("light", LIGHT), ("dark", DARK)] {
            let ground = inks.ground.unwrap();
            for ink in [inks.text, inks.quiet, inks.alarm] {
                assert!(contrast(ink, ground) >= 4.5, "{name}: {ink}");
                assert!(
                    contrast(ink, inks.tolerance) >= 4.5,
                    "{name}: {ink} on the tolerance"
                );
            }
            for ink in [inks.device, inks.second, inks.edge] {
                assert!(contrast(ink, ground) >= 3.0, "{name}: {ink}");
            }
        }
    }

    #[test]
    fn lines_that_are_not_solid_data_differ_without_colour() {
        let inks = [
            Ink::UnderTest,
            Ink::SecondReference,
            Ink::Target,
            Ink::Fit,
            Ink::Uncertainty,
        ];
        for (i, a) in inks.iter().enumerate() {
            for b in &inks[i + 1..] {
                assert_ne!(dashes(*a), dashes(*b));
            }
        }
    }
}
