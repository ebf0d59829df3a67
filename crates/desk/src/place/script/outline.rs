//! A RON text as a form sees it: where the values of the head stand, and where each entry of its
//! list begins, ends and holds its values.
//!
//! The text stays the only truth. A form changes it in place, so that comments and order remain;
//! what is right is decided by whoever reads the text for work, not here. A text whose brackets
//! do not close has no outline, and then there is only the text to edit.

use std::ops::Range;

/// A text taken apart.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Outline {
    /// Values of the head, the list left out.
    pub head: Vec<FieldAt>,
    /// Entries of the list in order, those inside others behind the one they belong to.
    pub entries: Vec<EntryAt>,
    /// Where a further entry can be put; `None` without a list.
    pub end_of_list: Option<usize>,
}

/// One value with its name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct FieldAt {
    /// Its name.
    pub name: String,
    /// Where its value stands.
    pub value: Range<usize>,
}

/// One entry of the list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct EntryAt {
    /// What it is.
    pub kind: String,
    /// All of it, without the comma behind it.
    pub whole: Range<usize>,
    /// Its values.
    pub fields: Vec<FieldAt>,
    /// Where a further value can be put: before the closing bracket.
    pub end_of_fields: usize,
    /// How deep it lies in others.
    pub depth: usize,
}

impl Outline {
    /// Takes a text apart whose entries stand in the list of this name.
    pub(super) fn of(text: &str, list: &str) -> Option<Self> {
        let mut reader = Reader { text, at: 0, list };
        let mut outline = Self::default();
        reader.skip_space();
        reader.word();
        reader.skip_space();
        reader.take('(')?;
        let (fields, _) = reader.fields(&mut outline.entries, &mut outline.end_of_list, 0)?;
        outline.head = fields;
        reader.skip_space();
        reader.rest().is_empty().then_some(outline)
    }
}

/// Whether a text is one value: its brackets and quotes close.
pub(super) fn is_one_value(text: &str) -> bool {
    let mut reader = Reader {
        text,
        at: 0,
        list: "",
    };
    reader.value().is_some() && reader.at == text.len()
}

struct Reader<'a> {
    text: &'a str,
    at: usize,
    list: &'a str,
}

impl<'a> Reader<'a> {
    fn rest(&self) -> &'a str {
        self.text.get(self.at..).unwrap_or("")
    }

    fn skip_space(&mut self) {
        loop {
            let rest = self.rest();
            let trimmed = rest.trim_start();
            self.at += rest.len() - trimmed.len();
            let comment = if trimmed.starts_with("//") {
                trimmed.find('\n').map_or(trimmed.len(), |end| end + 1)
            } else if trimmed.starts_with("/*") {
                trimmed.find("*/").map_or(trimmed.len(), |end| end + 2)
            } else {
                return;
            };
            self.at += comment;
        }
    }

    fn take(&mut self, wanted: char) -> Option<()> {
        self.rest().starts_with(wanted).then(|| {
            self.at += wanted.len_utf8();
        })
    }

    fn word(&mut self) -> &'a str {
        let rest = self.rest();
        let is_part = |c: char| c.is_alphanumeric() || c == '_';
        let end = rest.find(|c| !is_part(c)).unwrap_or(rest.len());
        self.at += end;
        &rest[..end]
    }

    /// The values up to the closing bracket, and where that stands.
    fn fields(
        &mut self,
        entries: &mut Vec<EntryAt>,
        end_of_list: &mut Option<usize>,
        depth: usize,
    ) -> Option<(Vec<FieldAt>, usize)> {
        let mut fields = Vec::new();
        loop {
            self.skip_space();
            let end = self.at;
            if self.take(')').is_some() {
                return Some((fields, end));
            }
            let name = self.word().to_owned();
            self.skip_space();
            if name.is_empty() || self.take(':').is_none() {
                return None;
            }
            self.skip_space();
            if name == self.list && self.rest().starts_with('[') {
                self.at += 1;
                let end = self.entries(entries, depth)?;
                if depth == 0 {
                    *end_of_list = Some(end);
                }
            } else {
                let value = self.value()?;
                fields.push(FieldAt { name, value });
            }
            self.skip_space();
            if self.take(',').is_none() && !self.rest().starts_with(')') {
                return None;
            }
        }
    }

    /// The entries up to the closing bracket; says where that stands.
    fn entries(&mut self, entries: &mut Vec<EntryAt>, depth: usize) -> Option<usize> {
        loop {
            self.skip_space();
            let end = self.at;
            if self.take(']').is_some() {
                return Some(end);
            }
            let begin = self.at;
            let kind = self.word().to_owned();
            if kind.is_empty() {
                return None;
            }
            self.skip_space();
            self.take('(')?;
            // A variant may hold its values in brackets of their own.
            let before = self.at;
            self.skip_space();
            self.word();
            self.skip_space();
            let doubled = self.take('(').is_some();
            if !doubled {
                self.at = before;
            }
            let index = entries.len();
            entries.push(EntryAt {
                kind,
                whole: begin..begin,
                fields: Vec::new(),
                end_of_fields: begin,
                depth,
            });
            let (fields, end_of_fields) = self.fields(entries, &mut None, depth + 1)?;
            if doubled {
                self.skip_space();
                self.take(',');
                self.skip_space();
                self.take(')')?;
            }
            let entry = &mut entries[index];
            entry.fields = fields;
            entry.end_of_fields = end_of_fields;
            entry.whole = begin..self.at;
            self.skip_space();
            if self.take(',').is_none() && !self.rest().starts_with(']') {
                return None;
            }
        }
    }

    /// One value: up to a comma or a closing bracket that is not its own. It may be empty.
    fn value(&mut self) -> Option<Range<usize>> {
        let begin = self.at;
        let mut open = 0_usize;
        let mut end = begin;
        loop {
            let rest = self.rest();
            let c = match rest.chars().next() {
                Some(c) => c,
                None if open == 0 => break,
                None => return None,
            };
            match c {
                ',' if open == 0 => break,
                ')' | ']' | '}' if open == 0 => break,
                '(' | '[' | '{' => open += 1,
                ')' | ']' | '}' => open -= 1,
                '"' => {
                    self.at += string_length(rest)?;
                    end = self.at;
                    continue;
                }
                _ if rest.starts_with("//") || rest.starts_with("/*") => {
                    self.skip_space();
                    continue;
                }
                _ => {}
            }
            self.at += c.len_utf8();
            if !c.is_whitespace() {
                end = self.at;
            }
        }
        Some(begin..end)
    }
}

/// The length of the string that a text begins with, its quotes included.
fn string_length(text: &str) -> Option<usize> {
    let mut escaped = false;
    for (at, c) in text.char_indices().skip(1) {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '"' => return Some(at + 1),
            _ => {}
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = r#"// why
Script(
    title: "Two (levels), ", // a comment, with a comma
    ceiling_w: 220,
    steps: [
        Ramp(from_w: 80, to_w: 150, seconds: 300),
        Repeat(times: 2, steps: [
            Hold(power_w: 120, seconds: ),
            Burst(brake: Resistance(40), levels: [1, 2]),
        ]),
        SpinDown(),
    ],
)
"#;

    fn words<'a>(text: &'a str, fields: &'a [FieldAt]) -> Vec<(&'a str, &'a str)> {
        fields
            .iter()
            .map(|field| (&field.name[..], &text[field.value.clone()]))
            .collect()
    }

    #[test]
    fn every_value_is_found_where_it_stands() {
        let outline = Outline::of(TEXT, "steps").unwrap();
        assert_eq!(
            words(TEXT, &outline.head),
            [("title", "\"Two (levels), \""), ("ceiling_w", "220")]
        );
        let kinds: Vec<_> = outline
            .entries
            .iter()
            .map(|e| (&e.kind[..], e.depth))
            .collect();
        assert_eq!(
            kinds,
            [
                ("Ramp", 0),
                ("Repeat", 0),
                ("Hold", 1),
                ("Burst", 1),
                ("SpinDown", 0)
            ]
        );
        assert_eq!(
            words(TEXT, &outline.entries[2].fields),
            [("power_w", "120"), ("seconds", "")]
        );
        assert_eq!(
            words(TEXT, &outline.entries[3].fields),
            [("brake", "Resistance(40)"), ("levels", "[1, 2]")]
        );
        let whole = outline.entries[3].whole.clone();
        assert_eq!(&TEXT[whole], "Burst(brake: Resistance(40), levels: [1, 2])");
        let end = outline.end_of_list.unwrap();
        assert_eq!(&TEXT[end..=end], "]");
    }

    #[test]
    fn doubled_brackets_and_unnamed_heads_are_understood() {
        let text = r#"(claims: [PowerAccuracy((name: "a", tolerance: PercentOfReading(2))), Mass(Number(name: "b"))])"#;
        let outline = Outline::of(text, "claims").unwrap();
        assert_eq!(outline.entries.len(), 2);
        assert_eq!(
            words(text, &outline.entries[0].fields)[1],
            ("tolerance", "PercentOfReading(2)")
        );
        let end = outline.entries[1].end_of_fields;
        assert_eq!(&text[end..], "))])");
    }

    #[test]
    fn a_text_that_does_not_close_has_no_outline() {
        for text in [
            "",
            "Script(",
            "Script(steps: [Hold(]",
            "Script(title: \"x)",
            "Script() x",
        ] {
            assert_eq!(Outline::of(text, "steps"), None, "{text}");
        }
    }

    #[test]
    fn one_value_is_one_value() {
        for text in ["", "12", "[1, 2]", "\"a, b\"", "Resistance(40)"] {
            assert!(is_one_value(text), "{text}");
        }
        for text in ["1, 2", "[1", "\"a", "a)", "1 // x\n, 2"] {
            assert!(!is_one_value(text), "{text}");
        }
    }
}
