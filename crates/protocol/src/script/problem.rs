//! What is wrong with a script, said so that it can be put right.

use super::place::Place;
use std::fmt;

/// One mistake in a script.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Where.
    pub place: Place,
    /// What, with the limit and the remedy.
    pub what: String,
}

/// Every mistake that was found in a script, in the order of the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ScriptErrors {
    /// The script's name.
    pub name: String,
    /// At least one mistake.
    pub problems: Vec<Problem>,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.place, self.what)
    }
}

/// One line for each mistake, in the form editors jump to: `name:line:column: what`.
impl fmt::Display for ScriptErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (number, problem) in self.problems.iter().enumerate() {
            if number > 0 {
                f.write_str("\n")?;
            }
            write!(f, "{}:{problem}", self.name)?;
        }
        Ok(())
    }
}

impl std::error::Error for ScriptErrors {}

/// The known name nearest to a mistyped one, if one is near enough to be meant.
pub(crate) fn nearest<'n>(
    typed: &str,
    known: impl IntoIterator<Item = &'n str>,
) -> Option<&'n str> {
    let lower = typed.to_lowercase();
    known
        .into_iter()
        .map(|name| (edits(&lower, &name.to_lowercase()), name))
        .filter(|(distance, name)| *distance <= 1 + name.chars().count() / 3)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, name)| name)
}

/// A suggestion and the list of what is known, ready to be appended to a message.
pub(crate) fn remedy(typed: &str, known: &[&str]) -> String {
    match nearest(typed, known.iter().copied()) {
        Some(name) => format!("did you mean `{name}`? (known: {})", known.join(", ")),
        None => format!("known: {}", known.join(", ")),
    }
}

/// Levenshtein distance, with the swap of two neighbours counted once (optimal string alignment).
fn edits(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.chars().collect();
    let b: Vec<char> = b.chars().collect();
    let mut before_last: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for (i, from) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, to) in b.iter().enumerate() {
            let mut cost = (last[j] + usize::from(from != to))
                .min(last[j + 1] + 1)
                .min(row[j] + 1);
            if i > 0 && j > 0 && *from == b[j - 1] && a[i - 1] == *to {
                cost = cost.min(before_last[j - 1] + 1);
            }
            row.push(cost);
        }
        before_last = std::mem::replace(&mut last, row);
    }
    last.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_are_recognised_and_other_words_are_not() {
        let known = ["Hold", "Ramp", "FreeRide", "CoolDown"];
        assert_eq!(nearest("Hodl", known), Some("Hold"));
        assert_eq!(nearest("freeride", known), Some("FreeRide"));
        assert_eq!(nearest("Juggle", known), None);
        assert_eq!(
            (
                edits("kitten", "sitting"),
                edits("ab", "ba"),
                edits("", "abc")
            ),
            (3, 1, 3)
        );
    }
}
