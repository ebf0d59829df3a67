//! Pieces of HTML. Text becomes [`Safe`] in one place, so that nothing from outside can reach the
//! page unescaped.

use crate::svg::glyph;
use crate::words::{NOTHING, escape, sentence_case, tied};
use analysis::verdict::Verdict;
use std::fmt;

/// Markup that is well-formed and holds nothing unescaped.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Safe(String);

impl fmt::Display for Safe {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A text.
pub(super) fn text(words: &str) -> Safe {
    Safe(escape(words))
}

/// A text that may be unknown or empty: an honest dash then.
pub(super) fn known(words: Option<&str>) -> Safe {
    match words.map(str::trim).filter(|words| !words.is_empty()) {
        Some(words) => text(words),
        None => text(NOTHING),
    }
}

/// What stands where the tester was asked and did not answer.
pub(super) fn not_stated() -> Safe {
    Safe("<span class=\"quiet\">not stated</span>".to_owned())
}

/// Markup that this crate wrote; nothing from outside may be in it unescaped.
pub(super) fn ours(markup: String) -> Safe {
    Safe(markup)
}

/// Pieces one after the other.
pub(super) fn join(pieces: impl IntoIterator<Item = Safe>) -> Safe {
    Safe(pieces.into_iter().map(|piece| piece.0).collect())
}

/// Pieces that stand on one printed page.
pub(super) fn kept_together(pieces: impl IntoIterator<Item = Safe>) -> Safe {
    Safe(format!("<div class=\"kept\">\n{}</div>\n", join(pieces)))
}

/// A paragraph.
pub(super) fn p(words: &str) -> Safe {
    Safe(format!("<p>{}</p>\n", escape(&tied(words))))
}

/// A paragraph that is read second.
pub(super) fn quiet(words: &str) -> Safe {
    Safe(format!("<p class=\"quiet\">{}</p>\n", escape(&tied(words))))
}

/// A section with its heading.
pub(super) fn section(id: &str, heading: &str, content: Safe) -> Safe {
    Safe(format!(
        "<section id=\"{id}\" aria-labelledby=\"{id}-head\">\n<h2 id=\"{id}-head\">{}</h2>\n\
         {content}</section>\n",
        escape(heading)
    ))
}

/// A heading within a section.
pub(super) fn heading(words: &str) -> Safe {
    Safe(format!("<h3>{}</h3>\n", escape(words)))
}

/// A verdict as shape and word.
pub(super) fn verdict(verdict: Verdict) -> Safe {
    let class = match verdict {
        Verdict::ShownBeyond | Verdict::LikelyBeyond => "verdict beyond",
        _ => "verdict",
    };
    let glyph = glyph::inline(verdict);
    Safe(format!(
        "<span class=\"{class}\">{glyph}{}</span>",
        verdict.words()
    ))
}

/// A verdict as the beginning of a line of its own.
pub(super) fn tall_verdict(verdict: Verdict, after: &str) -> Safe {
    let class = match verdict {
        Verdict::ShownBeyond | Verdict::LikelyBeyond => "said beyond",
        _ => "said",
    };
    let words = sentence_case(verdict.words());
    let glyph = glyph::inline(verdict);
    Safe(format!(
        "<p class=\"{class}\">{glyph}{words}{}</p>\n",
        escape(after)
    ))
}

/// How a column of a table is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Set {
    /// Words, from the left.
    Words,
    /// Numbers, to the right.
    Numbers,
}

/// A row of a table.
#[derive(Clone, Debug, Default)]
pub(super) struct Row {
    /// Its cells.
    pub(super) cells: Vec<Safe>,
    /// Whether it is the one that decides.
    pub(super) stress: Stress,
    /// What stands under it.
    pub(super) note: Option<Safe>,
}

/// Whether a row is set apart.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Stress {
    /// As all others.
    #[default]
    None,
    /// It decides.
    Decides,
}

impl Row {
    pub(super) fn new(cells: Vec<Safe>) -> Self {
        Self {
            cells,
            ..Self::default()
        }
    }
}

/// A table of so many rows is not divided between printed pages.
const SHORT: usize = 6;

/// A table.
pub(super) fn table(columns: &[(&str, Set)], rows: Vec<Row>) -> Safe {
    let class = |set: Set, content: &str| match set {
        Set::Numbers => " class=\"n\"",
        Set::Words if has_long_word(content) => " class=\"long\"",
        Set::Words => "",
    };
    let short = if rows.len() <= SHORT { " kept" } else { "" };
    let mut out = format!("<div class=\"wide{short}\"><table>\n<thead><tr>");
    for (words, set) in columns {
        out += &format!(
            "<th scope=\"col\"{}>{}</th>",
            class(*set, words),
            escape(words)
        );
    }
    out += "</tr></thead>\n<tbody>\n";
    for row in rows {
        let names: Vec<&str> = [
            (row.stress == Stress::Decides).then_some("decides"),
            row.note.is_some().then_some("noted"),
        ]
        .into_iter()
        .flatten()
        .collect();
        out += &if names.is_empty() {
            "<tr>".to_owned()
        } else {
            format!("<tr class=\"{}\">", names.join(" "))
        };
        for (cell, (_, set)) in row.cells.iter().zip(columns) {
            out += &format!("<td{}>{cell}</td>", class(*set, &cell.0));
        }
        out += "</tr>\n";
        if let Some(note) = row.note {
            out += &format!(
                "<tr class=\"note\"><td colspan=\"{}\">{note}</td></tr>\n",
                columns.len()
            );
        }
    }
    Safe(out + "</tbody>\n</table></div>\n")
}

/// Whether a word in it may be wider than its column: a name of a device may be one word of any
/// length. It is broken then, so that the table keeps to the page.
fn has_long_word(content: &str) -> bool {
    content
        .split(|c: char| c.is_whitespace() || "<>".contains(c))
        .any(|word| word.chars().count() > 28)
}

/// Names with what stands for them.
pub(super) fn pairs(pairs: Vec<(&str, Safe)>) -> Safe {
    let mut out = String::from("<dl class=\"pairs\">\n");
    for (name, value) in pairs {
        out += &format!("<dt>{}</dt><dd>{value}</dd>\n", escape(name));
    }
    Safe(out + "</dl>\n")
}

/// Points of a list.
pub(super) fn list<'a>(points: impl IntoIterator<Item = &'a str>) -> Safe {
    let points: String = points
        .into_iter()
        .map(|point| format!("<li>{}</li>\n", escape(&tied(point))))
        .collect();
    Safe(format!("<ul>\n{points}</ul>\n"))
}

/// A link to another place of the page.
pub(super) fn see(id: &str, words: &str) -> Safe {
    Safe(format!("<a href=\"#{id}\">{}</a>", escape(words)))
}

/// A figure: picture, caption, and the same in words and numbers.
pub(super) struct Figure<'a> {
    /// Unique on the page.
    pub(super) id: String,
    /// Heading; empty where the section's own heading says it.
    pub(super) title: &'a str,
    /// The picture.
    pub(super) picture: String,
    /// Caption.
    pub(super) caption: &'a str,
    /// The picture in words.
    pub(super) words: String,
    /// The numbers in it: series, x, y, from, to.
    pub(super) rows: Vec<[String; 5]>,
    /// Labels of both axes.
    pub(super) axes: [&'a str; 2],
}

impl Figure<'_> {
    /// The figure as an element.
    pub(super) fn draw(self) -> Safe {
        let title = if self.title.is_empty() {
            Safe::default()
        } else {
            Safe(format!("<p class=\"title\">{}</p>\n", escape(self.title)))
        };
        let caption = if self.caption.is_empty() {
            String::new()
        } else {
            format!(
                "<figcaption>{}</figcaption>\n",
                escape(&sentence_case(self.caption))
            )
        };
        let numbers = if self.rows.is_empty() {
            Safe::default()
        } else {
            let columns = [
                ("series", Set::Words),
                (self.axes[0], Set::Numbers),
                (self.axes[1], Set::Numbers),
                ("from", Set::Numbers),
                ("to", Set::Numbers),
            ];
            let rows = self.rows.iter();
            table(
                &columns,
                rows.map(|row| Row::new(row.iter().map(|c| text(c)).collect()))
                    .collect(),
            )
        };
        Safe(format!(
            "<figure id=\"{}\">\n{title}<div class=\"wide\">{}</div>\n{caption}\
             <details><summary>In words and numbers</summary>\n<p>{}</p>\n{numbers}</details>\n\
             </figure>\n",
            self.id,
            self.picture,
            escape(&self.words)
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_from_outside_stays_markup() {
        let row = Row {
            cells: vec![text("<script>"), known(Some("  "))],
            stress: Stress::Decides,
            note: Some(text("a & b")),
        };
        let table = table(&[("<i>", Set::Words), ("n", Set::Numbers)], vec![row]).to_string();
        assert!(!table.contains("<script>") && !table.contains("<i>"));
        assert!(table.contains("<td class=\"n\">–</td>"));
        assert!(roxmltree::Document::parse(&table).is_ok());
        assert!(
            section("a", "\"'<>", list(["<b>"]))
                .to_string()
                .contains("&lt;b&gt;")
        );
    }
}
