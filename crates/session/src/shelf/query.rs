//! What is searched for, and in which order it is shown.
//!
//! A query is words with a blank between; all of them must fit. `device:`, `firmware:`, `script:`,
//! `reference:`, `verdict:`, `tag:`, `state:`, `serial:` and `rider:` look in one place only,
//! `date:2026-11` takes the beginning of a date, `after:` and `before:` take a whole one (both
//! inclusive). Quotes hold blanks together: `verdict:"shown within"`. Case does not matter.

use super::item::{ItemState, ShelfItem};
use std::cmp::Ordering;

/// A query that was understood. The empty one fits everything.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Query {
    terms: Vec<(Option<Place>, String)>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Place {
    Device,
    Serial,
    Firmware,
    Script,
    Reference,
    Verdict,
    Tag,
    State,
    Rider,
    Date,
    After,
    Before,
}

const PLACES: [(&str, Place); 12] = [
    ("device", Place::Device),
    ("serial", Place::Serial),
    ("firmware", Place::Firmware),
    ("script", Place::Script),
    ("reference", Place::Reference),
    ("verdict", Place::Verdict),
    ("tag", Place::Tag),
    ("state", Place::State),
    ("rider", Place::Rider),
    ("date", Place::Date),
    ("after", Place::After),
    ("before", Place::Before),
];

/// By what the list is ordered.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SortBy {
    /// Beginning of the recording.
    #[default]
    Date,
    /// Name of the device, then its serial number.
    Device,
    /// Firmware of the device.
    Firmware,
    /// Name of the script.
    Script,
    /// Verdict, from *shown within* to *not tested*; what has none comes last.
    Verdict,
    /// Length of the recording.
    Length,
}

/// In which direction.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Direction {
    /// Smallest, first or oldest on top.
    Rising,
    /// Largest, last or newest on top.
    #[default]
    Falling,
}

impl SortBy {
    /// All of them, with the word they go by.
    pub const ALL: [(&'static str, Self); 6] = [
        ("date", Self::Date),
        ("device", Self::Device),
        ("firmware", Self::Firmware),
        ("script", Self::Script),
        ("verdict", Self::Verdict),
        ("length", Self::Length),
    ];
}

impl Query {
    /// Reads what was typed. There is no wrong query: an unknown place is a word like any other.
    pub fn parse(typed: &str) -> Self {
        let terms = pieces(&typed.to_lowercase())
            .into_iter()
            .filter_map(|piece| {
                let found = piece.split_once(':').and_then(|(name, value)| {
                    let place = PLACES.iter().find(|(known, _)| *known == name)?.1;
                    Some((Some(place), value.to_owned()))
                });
                let term = found.unwrap_or((None, piece));
                (!term.1.is_empty()).then_some(term)
            })
            .collect();
        Self { terms }
    }

    /// Whether an item fits. `now_ns` (ns since 1970-01-01 UTC) tells *recording* from
    /// *interrupted*.
    pub fn fits(&self, item: &ShelfItem, now_ns: i64) -> bool {
        self.terms
            .iter()
            .all(|(place, words)| fits(item, *place, words, now_ns))
    }
}

/// Orders items; equal ones newest first, then by name, so that the order never depends on the
/// file system.
pub fn sort(items: &mut [ShelfItem], by: SortBy, direction: Direction) {
    items.sort_by(|a, b| compare(a, b, by, direction));
}

/// The places of the items that fit a query, in order, as [`sort`] has it.
pub fn found(
    items: &[ShelfItem],
    query: &Query,
    by: SortBy,
    direction: Direction,
    now_ns: i64,
) -> Vec<usize> {
    let mut found: Vec<usize> = (0..items.len())
        .filter(|at| query.fits(&items[*at], now_ns))
        .collect();
    found.sort_by(|a, b| compare(&items[*a], &items[*b], by, direction));
    found
}

fn compare(a: &ShelfItem, b: &ShelfItem, by: SortBy, direction: Direction) -> Ordering {
    let order = match by {
        SortBy::Date => a.started.cmp(&b.started),
        SortBy::Device => lower(&a.device)
            .cmp(&lower(&b.device))
            .then_with(|| a.serial.cmp(&b.serial)),
        SortBy::Firmware => lower(&a.firmware).cmp(&lower(&b.firmware)),
        SortBy::Script => lower(&a.script).cmp(&lower(&b.script)),
        SortBy::Verdict => verdict_rank(a).cmp(&verdict_rank(b)),
        SortBy::Length => a.length_s.total_cmp(&b.length_s),
    };
    let order = match direction {
        Direction::Rising => order,
        Direction::Falling => order.reverse(),
    };
    order
        .then_with(|| b.started.cmp(&a.started))
        .then_with(|| a.name.cmp(&b.name))
}

/// Words apart at blanks, except within quotes; the quotes go.
fn pieces(typed: &str) -> Vec<String> {
    let (mut pieces, mut piece, mut quoted) = (Vec::new(), String::new(), false);
    for letter in typed.chars() {
        match letter {
            '"' => quoted = !quoted,
            blank if blank.is_whitespace() && !quoted => {
                pieces.extend((!piece.is_empty()).then(|| std::mem::take(&mut piece)));
            }
            other => piece.push(other),
        }
    }
    pieces.extend((!piece.is_empty()).then_some(piece));
    pieces
}

fn fits(item: &ShelfItem, place: Option<Place>, words: &str, now_ns: i64) -> bool {
    let has = |text: &str| text.to_lowercase().contains(words);
    let maybe = |text: &Option<String>| text.as_deref().is_some_and(has);
    let date = || {
        item.started
            .map(|started| started.format("%Y-%m-%d").to_string())
    };
    match place {
        Some(Place::Device) => maybe(&item.device),
        Some(Place::Serial) => maybe(&item.serial),
        Some(Place::Firmware) => maybe(&item.firmware),
        Some(Place::Script) => maybe(&item.script),
        Some(Place::Reference) => item.references.iter().any(|name| has(name)),
        Some(Place::Verdict) => has(item.verdict().unwrap_or("not judged")),
        Some(Place::Tag) => item.tags.iter().any(|tag| tag.to_lowercase() == words),
        Some(Place::State) => has(item.state_words(now_ns)),
        Some(Place::Rider) => maybe(&item.rider),
        Some(Place::Date) => date().is_some_and(|date| date.starts_with(words)),
        Some(Place::After) => date().is_some_and(|date| date.as_str() >= words),
        // A month or a year stands for its last day.
        Some(Place::Before) => {
            date().is_some_and(|date| date.as_str() <= words || date.starts_with(words))
        }
        None => {
            has(&item.name)
                || [
                    &item.device,
                    &item.serial,
                    &item.firmware,
                    &item.script,
                    &item.rider,
                ]
                .into_iter()
                .any(maybe)
                || item
                    .references
                    .iter()
                    .chain(&item.tags)
                    .any(|text| has(text))
                || item.notes.iter().any(|note| has(&note.words))
                || item.verdict().is_some_and(has)
                || date().is_some_and(|date| has(&date))
                || has(item.state_words(now_ns))
                || matches!(&item.state, ItemState::Unreadable { why } if has(why))
        }
    }
}

fn lower(text: &Option<String>) -> Option<String> {
    text.as_deref().map(str::to_lowercase)
}

fn verdict_rank(item: &ShelfItem) -> usize {
    const ORDER: [&str; 6] = [
        "shown within",
        "likely within",
        "likely beyond",
        "shown beyond",
        "bench not capable",
        "not tested",
    ];
    item.verdict()
        .and_then(|verdict| ORDER.iter().position(|known| *known == verdict))
        .unwrap_or(ORDER.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quotes_hold_words_together() {
        assert_eq!(pieces("a  \"b c\" d:\"e f\""), ["a", "b c", "d:e f"]);
        assert_eq!(Query::parse("   "), Query::default());
        assert_eq!(Query::parse("tag:"), Query::default());
    }
}
