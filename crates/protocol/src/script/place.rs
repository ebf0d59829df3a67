//! Line and column of a byte in a text.

use std::fmt;

/// A place in a script, counted from 1 as editors do; columns count characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Line.
    pub line: u32,
    /// Column.
    pub column: u32,
}

impl Place {
    /// The first character.
    pub const START: Self = Self { line: 1, column: 1 };
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.line, self.column)
    }
}

/// Where the lines of a text begin, so that a place costs one binary search.
pub(super) struct Lines<'a> {
    text: &'a str,
    starts: Vec<usize>,
}

impl<'a> Lines<'a> {
    pub(super) fn new(text: &'a str) -> Self {
        let after_breaks = text.match_indices('\n').map(|(at, _)| at + 1);
        Self {
            text,
            starts: std::iter::once(0).chain(after_breaks).collect(),
        }
    }

    /// The text itself.
    pub(super) fn whole(&self) -> &'a str {
        self.text
    }

    /// The place of the byte at `offset`; offsets beyond the end are the end.
    pub(super) fn place(&self, offset: usize) -> Place {
        let offset = offset.min(self.text.len());
        let line = self.starts.partition_point(|start| *start <= offset);
        let start = self
            .starts
            .get(line.saturating_sub(1))
            .copied()
            .unwrap_or(0);
        let column = self
            .text
            .get(start..offset)
            .map_or(0, |before| before.chars().count())
            + 1;
        Place {
            line: saturate(line.max(1)),
            column: saturate(column),
        }
    }

    /// The byte offset of `part`, which must be a slice of the text.
    pub(super) fn offset_of(&self, part: &str) -> usize {
        (part.as_ptr() as usize)
            .saturating_sub(self.text.as_ptr() as usize)
            .min(self.text.len())
    }

    /// The byte offset of a line and column counted inside `part`, a slice of the text.
    pub(super) fn offset_inside(&self, part: &str, line: usize, column: usize) -> usize {
        let line_start = match line {
            0 | 1 => 0,
            _ => part
                .match_indices('\n')
                .nth(line - 2)
                .map_or(part.len(), |(at, _)| at + 1),
        };
        let rest = part.get(line_start..).unwrap_or("");
        let along = rest
            .char_indices()
            .nth(column.saturating_sub(1))
            .map_or(rest.len(), |c| c.0);
        self.offset_of(part) + line_start + along
    }
}

fn saturate(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_characters_and_lines_count_breaks() {
        let text = "a\nßb\n\nc";
        let lines = Lines::new(text);
        let place = |offset| lines.place(offset).to_string();
        assert_eq!(place(0), "1:1");
        assert_eq!(place(text.find('b').unwrap()), "2:2");
        assert_eq!(place(text.find('c').unwrap()), "4:1");
        assert_eq!(place(999), "4:2");
        assert_eq!(
            lines.offset_inside(&text[2..], 1, 2),
            text.find('b').unwrap()
        );
        assert_eq!(
            lines.offset_inside(&text[2..], 3, 1),
            text.find('c').unwrap()
        );
    }
}
