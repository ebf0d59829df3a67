//! One value of the document, uninterpreted, with the place it keeps.

use ron::value::RawValue;
use serde::{Deserialize, Deserializer};

/// The text of one value, a slice of the script, without surrounding space and comments.
/// `None` when the document does not have the value.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Raw<'a>(pub(super) Option<&'a str>);

impl<'de: 'a, 'a> Deserialize<'de> for Raw<'a> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let raw = <&RawValue>::deserialize(deserializer)?;
        Ok(Self(Some(skip_space(raw.get_ron()))))
    }
}

/// The items of a list, each uninterpreted, read in one pass. `None` when there is no list.
#[derive(Clone, Debug, Default)]
pub(super) struct RawList<'a>(pub(super) Option<Vec<Raw<'a>>>);

impl<'de: 'a, 'a> Deserialize<'de> for RawList<'a> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Ok(Self(Some(Vec::deserialize(deserializer)?)))
    }
}

/// The text after leading white space and comments.
fn skip_space(mut text: &str) -> &str {
    loop {
        text = text.trim_start();
        if let Some(comment) = text.strip_prefix("//") {
            text = comment.find('\n').map_or("", |end| &comment[end + 1..]);
        } else if text.starts_with("/*") {
            text = &text[block_comment_length(text)..];
        } else {
            return text;
        }
    }
}

/// The length in bytes of the block comment a text begins with; they nest.
fn block_comment_length(text: &str) -> usize {
    let mut depth = 0_usize;
    let mut at = 0;
    while let Some(rest) = text.get(at..).filter(|rest| !rest.is_empty()) {
        if rest.starts_with("/*") {
            depth += 1;
            at += 2;
        } else if rest.starts_with("*/") {
            depth -= 1;
            at += 2;
            if depth == 0 {
                return at;
            }
        } else {
            at += rest.chars().next().map_or(1, char::len_utf8);
        }
    }
    text.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn space_and_comments_before_a_value_are_skipped() {
        for (text, value) in [
            ("  12", "12"),
            ("// a\n // b\n 12", "12"),
            ("/* a /* b */ c */12", "12"),
            ("/* never closed", ""),
            ("// only a comment", ""),
        ] {
            assert_eq!(skip_space(text), value);
        }
    }
}
