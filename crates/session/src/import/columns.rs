//! What the columns of a text mean: guessed or said, shown to the person, stored in the session.
//!
//! Written as `time=Elapsed; power=Watts; cadence=-; delimiter=semicolon; decimal=comma`, and read
//! back from the same form. A column is named by its header or by its number from 1.

use super::error::ImportError;
use std::fmt;

/// How a text in columns is to be read. Everything that is `None` is guessed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Columns {
    /// What stands between fields.
    pub delimiter: Option<Delimiter>,
    /// What stands between the whole number and its fraction.
    pub decimal: Option<Decimal>,
    /// How moments are written.
    pub time_kind: Option<TimeKind>,
    /// Which column holds what.
    pub columns: Vec<Column>,
}

/// One column and what it holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Column {
    /// What it holds.
    pub kind: Kind,
    /// Header, or number from 1; `None` if the file is said not to have it.
    pub named: Option<String>,
}

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// Moment of the row.
    Time,
    /// Date, where the time of day has a column of its own.
    Date,
    /// Power.
    Power,
    /// Cadence.
    Cadence,
    /// Speed.
    Speed,
}

/// What stands between fields.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Delimiter {
    /// `,`
    Comma,
    /// `;`
    Semicolon,
    /// Tabulator.
    Tab,
    /// `|`
    Bar,
}

/// What stands between the whole number and its fraction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Decimal {
    /// `.`
    Point,
    /// `,`
    Comma,
}

/// How moments are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TimeKind {
    /// Seconds from some beginning; seconds since 1970 too.
    Seconds,
    /// Milliseconds from some beginning; milliseconds since 1970 too.
    Milliseconds,
    /// Minutes from some beginning.
    Minutes,
    /// `h:mm:ss` or `mm:ss`.
    Clock,
    /// Date with time, with or without a zone.
    Date,
}

impl Kind {
    /// All of them, with the word they go by.
    pub const ALL: [(&'static str, Self); 5] = [
        ("time", Self::Time),
        ("date", Self::Date),
        ("power", Self::Power),
        ("cadence", Self::Cadence),
        ("speed", Self::Speed),
    ];

    /// Words by which headers name it, in languages that exports are found in; lower case.
    pub(super) const fn words(self) -> &'static [&'static str] {
        match self {
            Self::Time => &[
                "timestamp",
                "elapsed",
                "seconds",
                "secs",
                "time",
                "zeit",
                "uhrzeit",
                "temps",
                "tiempo",
                "sekunden",
                "millis",
                "minutes",
            ],
            Self::Date => &["date", "datum", "fecha"],
            Self::Power => &[
                "power",
                "watts",
                "watt",
                "pwr",
                "leistung",
                "puissance",
                "potencia",
                "vermogen",
            ],
            Self::Cadence => &[
                "cadence",
                "cad",
                "rpm",
                "trittfrequenz",
                "kadenz",
                "cadencia",
                "drehzahl",
            ],
            Self::Speed => &[
                "speed",
                "velocity",
                "geschwindigkeit",
                "kmh",
                "km/h",
                "kph",
                "vitesse",
                "velocidad",
                "snelheid",
            ],
        }
    }
}

impl Delimiter {
    /// All of them, with the word they go by.
    pub const ALL: [(&'static str, Self); 4] = [
        ("comma", Self::Comma),
        ("semicolon", Self::Semicolon),
        ("tab", Self::Tab),
        ("bar", Self::Bar),
    ];

    /// The byte.
    pub const fn byte(self) -> u8 {
        match self {
            Self::Comma => b',',
            Self::Semicolon => b';',
            Self::Tab => b'\t',
            Self::Bar => b'|',
        }
    }
}

impl Decimal {
    /// All of them, with the word they go by.
    pub const ALL: [(&'static str, Self); 2] = [("point", Self::Point), ("comma", Self::Comma)];

    /// Reads a number, with blanks, apostrophes or the other sign between thousands.
    pub(super) fn read(self, text: &str) -> Option<f64> {
        let mut plain = String::with_capacity(text.len());
        for letter in text.trim().chars() {
            match (letter, self) {
                (',', Self::Comma) => plain.push('.'),
                (',', Self::Point) | ('.', Self::Comma) => {}
                (' ' | '\u{a0}' | '\u{202f}' | '\'', _) => {}
                (other, _) => plain.push(other),
            }
        }
        plain.parse().ok().filter(|value: &f64| value.is_finite())
    }
}

impl TimeKind {
    /// All of them, with the word they go by.
    pub const ALL: [(&'static str, Self); 5] = [
        ("seconds", Self::Seconds),
        ("milliseconds", Self::Milliseconds),
        ("minutes", Self::Minutes),
        ("clock", Self::Clock),
        ("date", Self::Date),
    ];
}

impl Columns {
    /// Reads what was said or stored.
    ///
    /// # Errors
    /// [`ImportError::Said`] with what cannot be understood and what can.
    pub fn parse(said: &str) -> Result<Self, ImportError> {
        let wrong = |reason: String| ImportError::Said {
            said: said.to_owned(),
            reason,
        };
        let mut columns = Self::default();
        for part in said
            .split(';')
            .map(str::trim)
            .filter(|part| !part.is_empty())
        {
            let (key, value) = part
                .split_once('=')
                .map(|(key, value)| (key.trim(), value.trim()))
                .ok_or_else(|| wrong(format!("{part:?} has no =; write power=HEADER")))?;
            match key {
                "delimiter" => {
                    columns.delimiter = Some(word(value, &Delimiter::ALL).map_err(wrong)?)
                }
                "decimal" => columns.decimal = Some(word(value, &Decimal::ALL).map_err(wrong)?),
                "time-kind" => {
                    columns.time_kind = Some(word(value, &TimeKind::ALL).map_err(wrong)?)
                }
                _ => {
                    let kind = word(key, &Kind::ALL).map_err(wrong)?;
                    columns.columns.push(Column {
                        kind,
                        named: (value != "-").then(|| value.to_owned()),
                    });
                }
            }
        }
        Ok(columns)
    }

    /// What was said about one kind: outer `None` if nothing was.
    pub(super) fn said(&self, kind: Kind) -> Option<Option<&str>> {
        let column = self.columns.iter().rfind(|column| column.kind == kind)?;
        Some(column.named.as_deref())
    }
}

impl fmt::Display for Columns {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut parts: Vec<String> = self
            .columns
            .iter()
            .map(|column| {
                let named = column.named.as_deref().unwrap_or("-");
                format!("{}={named}", name(column.kind, &Kind::ALL))
            })
            .collect();
        let time_kind = self.time_kind.map(|kind| name(kind, &TimeKind::ALL));
        parts.extend(time_kind.map(|kind| format!("time-kind={kind}")));
        let delimiter = self.delimiter.map(|found| name(found, &Delimiter::ALL));
        parts.extend(delimiter.map(|found| format!("delimiter={found}")));
        let decimal = self.decimal.map(|found| name(found, &Decimal::ALL));
        parts.extend(decimal.map(|found| format!("decimal={found}")));
        f.write_str(&parts.join("; "))
    }
}

fn word<T: Copy>(word: &str, known: &[(&'static str, T)]) -> Result<T, String> {
    let found = known.iter().find(|(name, _)| *name == word);
    found.map(|(_, value)| *value).ok_or_else(|| {
        let words: Vec<&str> = known.iter().map(|(name, _)| *name).collect();
        format!("{word:?} is not known; write one of {}", words.join(", "))
    })
}

fn name<T: Copy + PartialEq>(value: T, known: &[(&'static str, T)]) -> &'static str {
    let found = known.iter().find(|(_, known)| *known == value);
    found.map_or("", |(name, _)| *name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_stored_reads_back() {
        let said = "time=Zeit; power=2; cadence=-; time-kind=clock; delimiter=semicolon; \
                    decimal=comma";
        let columns = Columns::parse(said).unwrap();
        assert_eq!(columns.to_string(), said);
        assert_eq!(columns.said(Kind::Power), Some(Some("2")));
        assert_eq!(columns.said(Kind::Cadence), Some(None));
        assert_eq!(columns.said(Kind::Speed), None);
        let error = Columns::parse("colour=red").unwrap_err().to_string();
        assert!(
            error.contains("colour") && error.contains("cadence"),
            "{error}"
        );
    }

    #[test]
    fn numbers_read_with_either_sign() {
        assert_eq!(Decimal::Comma.read(" 1.234,5 "), Some(1234.5));
        assert_eq!(Decimal::Point.read("1,234.5"), Some(1234.5));
        assert_eq!(Decimal::Point.read("1'234.5"), Some(1234.5));
        assert_eq!(Decimal::Point.read("NaN"), None);
        assert_eq!(Decimal::Point.read(""), None);
    }
}
