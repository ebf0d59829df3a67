//! Hatched spans: what did not count, with the reason of each.
//!
//! Every different reason gets a letter that stands over its spans; the key under the plot says
//! what the letters mean. Reasons that differ in their figures only share a letter.

use crate::words::minus;
use analysis::outcome::{Ink, Layer, Plot};

/// The spans of one reason.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Reason {
    /// Letter over the spans.
    pub(crate) letter: String,
    /// Reason, of the first span.
    pub(crate) words: String,
    /// Whether others of its spans have other figures in their reason.
    pub(crate) varies: bool,
    /// What the spans mean.
    pub(crate) ink: Ink,
    /// Left and right edge of each.
    pub(crate) spans: Vec<[f64; 2]>,
}

impl Reason {
    /// What stands in the key.
    pub(crate) fn key(&self) -> String {
        let words = self.sentence();
        if self.spans.len() > 1 {
            format!("{} {words} ({}×)", self.letter, self.spans.len())
        } else {
            format!("{} {words}", self.letter)
        }
    }

    /// The reason of all its spans.
    pub(crate) fn sentence(&self) -> String {
        let words = minus(&self.words);
        if self.varies {
            words + ", and the like"
        } else {
            words
        }
    }
}

/// The reasons of a plot, in the order in which they first occur.
pub(crate) fn reasons(plot: &Plot) -> Vec<Reason> {
    let mut reasons: Vec<Reason> = Vec::new();
    for layer in &plot.layers {
        let Layer::Span {
            ink,
            label,
            from,
            to,
        } = layer
        else {
            continue;
        };
        if !from.is_finite() || !to.is_finite() {
            continue;
        }
        let span = [from.min(*to), from.max(*to)];
        match reasons
            .iter_mut()
            .find(|known| known.ink == *ink && same(&known.words, label))
        {
            Some(known) => {
                known.varies |= known.words != *label;
                known.spans.push(span);
            }
            None => reasons.push(Reason {
                letter: letter(reasons.len()),
                words: label.clone(),
                varies: false,
                ink: *ink,
                spans: vec![span],
            }),
        }
    }
    reasons
}

/// Whether two reasons are the same but for their figures.
pub(crate) fn same(a: &str, b: &str) -> bool {
    let words = |text: &str| -> String {
        text.chars()
            .filter(|c| !c.is_ascii_digit() && !matches!(c, '.' | '−' | '-' | '+'))
            .collect()
    };
    a == b || words(a) == words(b)
}

/// a, b, … z, aa, ab, …
fn letter(index: usize) -> String {
    let one = |i: usize| char::from(b'a' + (i % 26) as u8);
    match index / 26 {
        0 => one(index).to_string(),
        more => format!("{}{}", one(more - 1), one(index)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reasons_that_differ_in_figures_share_a_letter() {
        let span = |label: &str, from| Layer::Span {
            ink: Ink::Excluded,
            label: label.into(),
            from,
            to: from + 1.0,
        };
        let plot = Plot {
            name: "p",
            title: String::new(),
            x: String::new(),
            y: String::new(),
            layers: vec![
                span("varies by 3.1 %", 0.0),
                span("settling", 2.0),
                span("varies by 12 %", 4.0),
            ],
            caption: String::new(),
        };
        let found = reasons(&plot);
        assert_eq!(found.len(), 2);
        assert_eq!(found[0].key(), "a varies by 3.1 %, and the like (2×)");
        assert_eq!(found[1].key(), "b settling");
        assert_eq!((letter(25).as_str(), letter(26).as_str()), ("z", "aa"));
    }
}
