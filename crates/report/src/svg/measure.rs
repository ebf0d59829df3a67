//! How wide a text will be, and where it is broken into lines.
//!
//! The advances are those of B612 (SIL Open Font License), in which reports are set; its two cuts
//! share them.

/// Advances of the characters from space to tilde, thousandths of the size.
const ADVANCES: [u16; 95] = [
    350, 350, 400, 850, 550, 900, 700, 200, 450, 450, 550, 600, 250, 450, 300, 550, 650, 650, 650,
    650, 650, 650, 650, 650, 650, 650, 300, 250, 650, 500, 650, 550, 1000, 650, 650, 600, 650, 600,
    550, 650, 700, 300, 450, 600, 550, 900, 750, 800, 600, 800, 650, 550, 600, 700, 650, 950, 650,
    600, 600, 450, 550, 500, 750, 550, 550, 525, 600, 500, 600, 550, 400, 600, 600, 300, 300, 550,
    350, 900, 600, 600, 600, 600, 400, 450, 400, 600, 550, 750, 550, 550, 500, 649, 200, 600, 750,
];

/// Width of a text at a size, in the unit of the size.
pub(crate) fn width(text: &str, size: f64) -> f64 {
    text.chars().map(advance).sum::<f64>() * size
}

fn advance(c: char) -> f64 {
    let index = (c as usize).wrapping_sub(32);
    match (ADVANCES.get(index), c) {
        (Some(thousandths), _) => f64::from(*thousandths) / 1000.0,
        (None, '\u{a0}') => 0.35,
        (None, '±' | 'η') => 0.6,
        (None, '−' | '–') => 0.55,
        (None, '·') => 0.25,
        (None, '°' | '²' | '³') => 0.3,
        (None, '×') => 0.8,
        // Wider than any Latin letter: ideographs and signs of other faces.
        (None, c) if c as u32 >= 0x2e80 => 1.0,
        (None, _) => 0.75,
    }
}

/// Breaks a text into lines no wider than `room`; a word that is wider is cut with an ellipsis.
/// No more than `most` lines; the last then ends with an ellipsis.
pub(crate) fn wrap(text: &str, size: f64, room: f64, most: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut words = text
        .split([' ', '\n', '\t'])
        .filter(|word| !word.is_empty());
    let mut line = String::new();
    while let Some(word) = words.next() {
        let longer = if line.is_empty() {
            word.to_owned()
        } else {
            format!("{line} {word}")
        };
        if width(&longer, size) <= room || line.is_empty() {
            line = longer;
            continue;
        }
        if lines.len() + 1 == most {
            let rest = words.fold(longer, |all, word| format!("{all} {word}"));
            line = rest;
            break;
        }
        lines.push(clip(&line, size, room));
        line = word.to_owned();
    }
    if !line.is_empty() {
        lines.push(clip(&line, size, room));
    }
    lines
}

/// A text cut to fit into `room`, with an ellipsis where something was cut.
pub(crate) fn clip(text: &str, size: f64, room: f64) -> String {
    if width(text, size) <= room {
        return text.to_owned();
    }
    let mut kept = String::new();
    let mut used = advance('…') * size;
    for c in text.chars() {
        used += advance(c) * size;
        if used > room {
            break;
        }
        kept.push(c);
    }
    format!("{}…", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Advance of a digit in B612-Regular.otf, table hmtx: 1300 of 2000 units.
    #[test]
    fn digits_are_equally_wide() {
        for digit in '0'..='9' {
            assert_eq!(advance(digit), 0.65);
        }
    }

    #[test]
    fn lines_stay_within_their_room() {
        let text = "window mean with expanded uncertainty and a veryveryveryverylongword";
        for line in wrap(text, 12.0, 90.0, 9) {
            assert!(width(&line, 12.0) <= 90.0, "{line}");
        }
        let two = wrap(text, 12.0, 120.0, 2);
        assert_eq!(two.len(), 2);
        assert!(two[1].ends_with('…'));
        assert!(wrap("", 12.0, 90.0, 3).is_empty());
    }
}
