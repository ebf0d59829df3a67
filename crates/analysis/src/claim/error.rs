//! Why a claim sheet could not be used: the place, what is wrong and what helps.

/// Why a claim sheet could not be used.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ClaimError {
    /// The text is not a claim sheet.
    #[error("claim sheet, line {line}, column {column}: {words}")]
    NotASheet {
        /// Line, counted from 1.
        line: usize,
        /// Column, counted from 1.
        column: usize,
        /// What is wrong and what helps.
        words: String,
    },
    /// A number, a name or a source makes no sense.
    #[error("claim {name:?}{}: {words}", at(.place))]
    BadNumber {
        /// Name of the claim.
        name: String,
        /// Line and column of the name, counted from 1, where the text is at hand.
        place: Option<[usize; 2]>,
        /// What is wrong and what is expected.
        words: String,
    },
}

fn at(place: &Option<[usize; 2]>) -> String {
    place.map_or(String::new(), |[line, column]| {
        format!(" at line {line}, column {column}")
    })
}

impl ClaimError {
    pub(super) fn bad(name: &str, words: &str) -> Self {
        Self::BadNumber {
            name: name.into(),
            place: None,
            words: words.into(),
        }
    }

    /// Adds where the name stands; of several places the last, which is the one that is too many.
    pub(super) fn placed_in(self, text: &str) -> Self {
        match self {
            Self::BadNumber {
                name,
                place: None,
                words,
            } => {
                let place = text.rfind(&format!("{name:?}")).map(|offset| {
                    let before = &text[..offset];
                    let start = before.rfind('\n').map_or(0, |newline| newline + 1);
                    let line = before.matches('\n').count() + 1;
                    [line, before[start..].chars().count() + 1]
                });
                Self::BadNumber { name, place, words }
            }
            other => other,
        }
    }
}
