//! A text in columns, split by the crate `csv`: which sign stands between fields, where the header
//! is, and which lines before it are somebody's preface.

use super::columns::{Decimal, Delimiter, Kind};

/// Lines looked at to find out how a text is written.
const LOOKED_AT: usize = 60;

/// A text split into fields.
#[derive(Clone, Debug)]
pub(super) struct Table {
    pub delimiter: Delimiter,
    /// Names of the columns; numbers from 1 where there is no header.
    pub header: Vec<String>,
    /// Number of the first line of `rows` in the file, from 1.
    pub first_line: usize,
    pub rows: Vec<Vec<String>>,
}

impl Table {
    /// Splits a text; a delimiter that was said is believed.
    pub fn split(text: &str, said: Option<Delimiter>) -> Self {
        let delimiter = said.unwrap_or_else(|| guess(text));
        let mut lines: Vec<Vec<String>> = fields(text, delimiter, usize::MAX);
        // The header is the line that names power; without one, nothing is skipped.
        let names_power = |line: &Vec<String>| {
            line.len() > 1
                && line.iter().any(|field| names(field, Kind::Power))
                && line.iter().all(|field| !is_number(field))
        };
        let at = lines.iter().take(LOOKED_AT).position(names_power);
        let (skipped, header) = match at {
            Some(at) => (at + 1, lines[at].clone()),
            None => {
                let first = lines.first().cloned().unwrap_or_default();
                let is_header = first.len() > 1
                    && first
                        .iter()
                        .any(|field| !field.trim().is_empty() && !starts_like_value(field))
                    && first.iter().all(|field| !is_number(field));
                if is_header {
                    (1, first)
                } else {
                    let width = lines
                        .iter()
                        .take(LOOKED_AT)
                        .map(Vec::len)
                        .max()
                        .unwrap_or(0);
                    (0, (1..=width).map(|number| number.to_string()).collect())
                }
            }
        };
        lines.drain(..skipped);
        Self {
            delimiter,
            header: header.iter().map(|name| name.trim().to_owned()).collect(),
            first_line: skipped + 1,
            rows: lines,
        }
    }

    /// The names of the columns in words.
    pub fn columns_in_words(&self) -> String {
        let names: Vec<String> = self
            .header
            .iter()
            .enumerate()
            .map(|(place, name)| format!("{} {name:?}", place + 1))
            .collect();
        names.join(", ")
    }

    /// The column of a name, or of a number from 1. Case does not matter.
    pub fn column(&self, named: &str) -> Option<usize> {
        let wanted = named.trim().to_lowercase();
        let named = |exact: fn(&str, &str) -> bool| {
            self.header
                .iter()
                .position(|name| exact(&name.to_lowercase(), &wanted))
        };
        named(|name, wanted| name == wanted)
            .or_else(|| {
                let number: usize = wanted.parse().ok()?;
                (1..=self.header.len())
                    .contains(&number)
                    .then(|| number - 1)
            })
            .or_else(|| named(|name, wanted| bare(name) == wanted))
    }

    /// Values of a column that are not empty, the first few of them.
    pub fn sample(&self, column: usize) -> impl Iterator<Item = &str> {
        self.rows
            .iter()
            .filter_map(move |row| Some(row.get(column)?.trim()))
            .filter(|value| !value.is_empty())
            .take(LOOKED_AT)
    }
}

/// Whether a header names a kind of column.
pub(super) fn names(header: &str, kind: Kind) -> bool {
    let header = header.to_lowercase();
    let name = bare(&header);
    let pieces: Vec<&str> = name
        .split(|letter: char| !(letter.is_alphanumeric() || letter == '/'))
        .filter(|piece| !piece.is_empty())
        .collect();
    let has = |words: &[&str]| pieces.iter().any(|piece| words.contains(piece));
    // Some other quantity that merely mentions power or time: balance, phase, zone, target.
    const OTHERS: [&str; 20] = [
        "balance",
        "phase",
        "zone",
        "target",
        "normalized",
        "np",
        "max",
        "avg",
        "average",
        "left",
        "right",
        "moving",
        "lap",
        "torque",
        "heart",
        "ftp",
        "ratio",
        "smoothness",
        "interval",
        "accumulated",
    ];
    has(kind.words()) && !has(&OTHERS)
}

/// A header without its unit: what stands before a bracket.
pub(super) fn bare(header: &str) -> &str {
    header
        .split(['(', '[', '{'])
        .next()
        .unwrap_or_default()
        .trim()
}

/// The unit of a header: what stands in a bracket, or behind the last underscore.
pub(super) fn unit(header: &str) -> Option<String> {
    let header = header.to_lowercase();
    let bracketed = header.split(['(', '[', '{']).nth(1).map(|rest| {
        rest.trim_end_matches([')', ']', '}', ' '])
            .trim()
            .to_owned()
    });
    bracketed.or_else(|| Some(header.rsplit_once('_')?.1.to_owned()))
}

fn guess(text: &str) -> Delimiter {
    // The sign by which most lines fall into the same number of fields, more than one.
    let score = |delimiter: Delimiter| {
        let widths: Vec<usize> = fields(text, delimiter, LOOKED_AT)
            .iter()
            .map(Vec::len)
            .collect();
        let mut counts = std::collections::BTreeMap::<usize, usize>::new();
        for width in widths.iter().filter(|width| **width > 1) {
            *counts.entry(*width).or_default() += 1;
        }
        counts
            .into_iter()
            .map(|(width, count)| (count, width))
            .max()
            .unwrap_or((0, 0))
    };
    // A decimal comma splits lines as well: a semicolon, tab or bar that works is preferred.
    let order = [Delimiter::Semicolon, Delimiter::Tab, Delimiter::Bar];
    let best = order.into_iter().max_by_key(|delimiter| score(*delimiter));
    let comma = score(Delimiter::Comma);
    match best {
        Some(best) if score(best).0 > 0 && 2 * score(best).0 >= comma.0 => best,
        _ => Delimiter::Comma,
    }
}

fn fields(text: &str, delimiter: Delimiter, most: usize) -> Vec<Vec<String>> {
    csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter.byte())
        .from_reader(text.as_bytes())
        .records()
        .filter_map(|record| Some(record.ok()?.iter().map(str::to_owned).collect()))
        .take(most)
        .collect()
}

fn is_number(field: &str) -> bool {
    let field = field.trim();
    !field.is_empty()
        && (Decimal::Point.read(field).is_some() || Decimal::Comma.read(field).is_some())
}

fn starts_like_value(field: &str) -> bool {
    field
        .trim()
        .starts_with(|letter: char| letter.is_ascii_digit() || letter == '-')
}
