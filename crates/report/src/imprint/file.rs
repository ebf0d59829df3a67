//! The imprint as a RON file, with errors that name the place and the remedy.

use super::photo::Photo;
use super::stated::{Imprint, Item, Tester};
use analysis::claim::remedy;
use chrono::NaiveDate;
use ron::extensions::Extensions;
use serde::Deserialize;

/// The tester's number stands in a corner of every page.
const LONGEST_NUMBER: usize = 40;

/// Why an imprint could not be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("imprint, line {line}, column {column}: {words}")]
pub struct ImprintError {
    /// Line, counted from 1.
    pub line: usize,
    /// Column, counted from 1.
    pub column: usize,
    /// What is wrong and what helps.
    pub words: String,
}

impl Imprint {
    /// Reads an imprint. Its photographs are named and not embedded yet.
    ///
    /// # Errors
    /// [`ImprintError`] with line, column and remedy: a name that is not known, an empty text, a
    /// date that is none.
    pub fn from_ron(text: &str) -> Result<Self, ImprintError> {
        let options = ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME);
        let file: ImprintFile = options.from_str(text).map_err(|error| ImprintError {
            line: error.span.start.line,
            column: error.span.start.col,
            words: remedy(&error.code),
        })?;
        file.into_imprint(text)
    }
}

#[derive(Default, Deserialize)]
#[serde(rename = "Imprint", deny_unknown_fields, default)]
struct ImprintFile {
    number: Option<String>,
    tester: TesterFile,
    place: Option<String>,
    customer: Option<String>,
    item: ItemFile,
    bicycle: Option<String>,
    surroundings: Option<String>,
    deviations: Vec<String>,
    photos: Vec<PhotoFile>,
    issued: Option<String>,
    authorised_by: Option<String>,
    external: Option<String>,
    interests: Option<String>,
    amends: Option<String>,
}

#[derive(Default, Deserialize)]
#[serde(rename = "Tester", deny_unknown_fields, default)]
struct TesterFile {
    name: Option<String>,
    address: Option<String>,
    contact: Option<String>,
}

#[derive(Default, Deserialize)]
#[serde(rename = "Item", deny_unknown_fields, default)]
struct ItemFile {
    maker: Option<String>,
    model: Option<String>,
    serial: Option<String>,
    firmware: Option<String>,
    condition: Option<String>,
    settings: Option<String>,
    obtained: Option<String>,
    received: Option<String>,
}

#[derive(Deserialize)]
#[serde(rename = "Photo", deny_unknown_fields)]
struct PhotoFile {
    file: String,
    shows: String,
}

impl ImprintFile {
    fn into_imprint(self, text: &str) -> Result<Imprint, ImprintError> {
        let said = Said(text);
        let number = said.words("number", self.number)?;
        if let Some(number) = &number {
            said.number(number)?;
        }
        let photos = self.photos.into_iter().map(|photo| {
            let file = said.words("file", Some(photo.file))?.unwrap_or_default();
            let shows = said.words("shows", Some(photo.shows))?.unwrap_or_default();
            Ok(Photo::new(file, shows))
        });
        let deviations = self.deviations.into_iter().map(|words| {
            said.words("deviations", Some(words))
                .map(Option::unwrap_or_default)
        });
        Ok(Imprint {
            number,
            tester: Tester {
                name: said.words("name", self.tester.name)?,
                address: said.words("address", self.tester.address)?,
                contact: said.words("contact", self.tester.contact)?,
            },
            place: said.words("place", self.place)?,
            customer: said.words("customer", self.customer)?,
            item: Item {
                maker: said.words("maker", self.item.maker)?,
                model: said.words("model", self.item.model)?,
                serial: said.words("serial", self.item.serial)?,
                firmware: said.words("firmware", self.item.firmware)?,
                condition: said.words("condition", self.item.condition)?,
                settings: said.words("settings", self.item.settings)?,
                obtained: said.words("obtained", self.item.obtained)?,
                received: said.date("received", self.item.received)?,
            },
            bicycle: said.words("bicycle", self.bicycle)?,
            surroundings: said.words("surroundings", self.surroundings)?,
            deviations: deviations.collect::<Result<_, _>>()?,
            photos: photos.collect::<Result<_, _>>()?,
            issued: said.date("issued", self.issued)?,
            authorised_by: said.words("authorised_by", self.authorised_by)?,
            external: said.words("external", self.external)?,
            interests: said.words("interests", self.interests)?,
            amends: said.words("amends", self.amends)?,
        })
    }
}

/// The text of the file, to say where something stands in it.
struct Said<'t>(&'t str);

impl Said<'_> {
    /// A text that says something, if there is one.
    fn words(&self, field: &str, words: Option<String>) -> Result<Option<String>, ImprintError> {
        let Some(words) = words else { return Ok(None) };
        let words = words.trim();
        if words.is_empty() {
            let remedy = "is empty; leave the line out, and the report says that it is not stated";
            return Err(self.wrong(field, "", remedy));
        }
        Ok(Some(words.to_owned()))
    }

    /// A day of the calendar as ISO 8601 writes it.
    fn date(&self, field: &str, words: Option<String>) -> Result<Option<NaiveDate>, ImprintError> {
        let Some(words) = self.words(field, words)? else {
            return Ok(None);
        };
        match NaiveDate::parse_from_str(&words, "%Y-%m-%d") {
            Ok(date) => Ok(Some(date)),
            Err(_) => Err(self.wrong(
                field,
                &words,
                "is no day of the calendar; write year, month and day as \"2026-03-02\"",
            )),
        }
    }

    fn number(&self, number: &str) -> Result<(), ImprintError> {
        let fits = number.chars().count() <= LONGEST_NUMBER && number.chars().all(stands_in_corner);
        if fits {
            return Ok(());
        }
        Err(self.wrong(
            "number",
            number,
            "does not fit into the corner of every page; use at most 40 of the letters a to z, \
             digits, space, and - _ . /",
        ))
    }

    /// An error at the value of a field, or at the field if the value is not found.
    fn wrong(&self, field: &str, value: &str, what: &str) -> ImprintError {
        let text = self.0;
        let quoted = format!("\"{value}\"");
        let after_field = |at: &usize| {
            let before = text[..*at].trim_end();
            before
                .strip_suffix(':')
                .is_some_and(|name| name.trim_end().ends_with(field))
        };
        let offset = text
            .match_indices(&quoted)
            .map(|(at, _)| at)
            .find(after_field)
            .or_else(|| text.find(&quoted))
            .or_else(|| text.find(field))
            .unwrap_or(0);
        let before = &text[..offset];
        let start = before.rfind('\n').map_or(0, |newline| newline + 1);
        ImprintError {
            line: before.matches('\n').count() + 1,
            column: before[start..].chars().count() + 1,
            words: if value.is_empty() {
                format!("`{field}` {what}")
            } else {
                format!("`{field}` {value:?} {what}")
            },
        }
    }
}

/// Whether a letter of the tester's number may stand in the style sheet of a printed page.
pub(crate) fn stands_in_corner(letter: char) -> bool {
    letter.is_ascii_alphanumeric() || " -_./".contains(letter)
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = r#"(
    number: "KL-2026-007",
    tester: (name: "Kessel Lane workshop"),
    item: (
        serial: "F20-00317",
        received: "2026-02-20",
    ),
    photos: [(file: "bench.jpg", shows: "the bench")],
)"#;

    #[test]
    fn an_imprint_reads_and_what_is_left_out_is_not_stated() {
        let imprint = Imprint::from_ron(GOOD).unwrap();
        assert_eq!(imprint.number.as_deref(), Some("KL-2026-007"));
        assert_eq!(imprint.item.received, NaiveDate::from_ymd_opt(2026, 2, 20));
        assert_eq!(imprint.photos, [Photo::new("bench.jpg", "the bench")]);
        assert_eq!((imprint.place, imprint.tester.address), (None, None));
        assert_eq!(Imprint::from_ron("()").unwrap(), Imprint::default());
    }

    #[test]
    fn a_wrong_one_says_where_and_what_helps() {
        for (from, to, place, words) in [
            ("number:", "nummber:", [2, 5], "did you mean `number`?"),
            ("\"F20-00317\"", "\" \"", [5, 9], "leave the line out"),
            (
                "2026-02-20",
                "2026-02-30",
                [6, 19],
                "no day of the calendar",
            ),
            ("2026-02-20", "20.2.2026", [6, 19], "\"2026-03-02\""),
            ("KL-2026-007", "KL<7>", [2, 13], "corner of every page"),
            (", shows: \"the bench\"", "", [8, 32], "`shows` is missing"),
            ("\"Kessel Lane workshop\"", "7", [3, 19], "string"),
        ] {
            let error = Imprint::from_ron(&GOOD.replace(from, to)).unwrap_err();
            assert!(error.to_string().contains(words), "{to}: {error}");
            assert_eq!([error.line, error.column], place, "{to}: {error}");
        }
    }

    #[test]
    fn dates_that_cannot_be_are_doubted() {
        let imprint = Imprint::from_ron(GOOD).unwrap();
        assert!(
            imprint
                .doubts(NaiveDate::from_ymd_opt(2026, 2, 20))
                .is_empty()
        );
        let doubts = imprint.doubts(NaiveDate::from_ymd_opt(2026, 2, 19));
        assert_eq!(
            doubts,
            ["received on 2026-02-20, but tested on 2026-02-19 already"]
        );
    }
}
