//! What can be said about a text in columns, as lists to pick from.

use desk::ColumnChoice;
use session::import::{Column, Columns, Decimal, Delimiter, Kind, TimeKind};

/// Titles of the lists that are not about one column.
const TIMES: &str = "times written as";
const DELIMITER: &str = "separator";
const DECIMAL: &str = "decimal sign";

/// The lists for a text: what each kind of value is taken from, how times are written, and the signs.
/// Nothing for formats that say themselves what they hold.
pub fn choices(columns: &Columns, names: &[String]) -> Vec<ColumnChoice> {
    if names.is_empty() {
        return Vec::new();
    }
    let of_kind = Kind::ALL.iter().map(|(title, kind)| {
        let named = columns.columns.iter().rfind(|column| column.kind == *kind);
        let named = named.and_then(|column| column.named.as_deref());
        ColumnChoice {
            title: (*title).to_owned(),
            choices: names.to_vec(),
            chosen: named.and_then(|named| names.iter().position(|name| name == named)),
            none: Some("not there".to_owned()),
        }
    });
    of_kind
        .chain([
            of_words(TIMES, &TimeKind::ALL, columns.time_kind),
            of_words(DELIMITER, &Delimiter::ALL, columns.delimiter),
            of_words(DECIMAL, &Decimal::ALL, columns.decimal),
        ])
        .collect()
}

fn of_words<T: Copy + PartialEq>(
    title: &str,
    known: &[(&'static str, T)],
    chosen: Option<T>,
) -> ColumnChoice {
    ColumnChoice {
        title: title.to_owned(),
        choices: known.iter().map(|(word, _)| (*word).to_owned()).collect(),
        chosen: known.iter().position(|(_, one)| Some(*one) == chosen),
        none: None,
    }
}

/// What is said once `choice` was picked in the list at `at`; the rest stays as it was read. With
/// another delimiter the columns are others, and everything is guessed anew.
pub fn said(columns: &Columns, names: &[String], at: usize, choice: Option<usize>) -> Columns {
    let mut said = columns.clone();
    let kinds = Kind::ALL.len();
    if let Some((_, kind)) = Kind::ALL.get(at) {
        said.columns.retain(|column| column.kind != *kind);
        said.columns.push(Column {
            kind: *kind,
            named: choice.and_then(|choice| names.get(choice)).cloned(),
        });
        // Times in another column are written in a way of their own.
        if matches!(kind, Kind::Time | Kind::Date) {
            said.time_kind = None;
        }
    } else if at == kinds {
        said.time_kind = picked(&TimeKind::ALL, choice);
    } else if at == kinds + 1 {
        said = Columns {
            delimiter: picked(&Delimiter::ALL, choice),
            ..Columns::default()
        };
    } else if at == kinds + 2 {
        said.decimal = picked(&Decimal::ALL, choice);
    }
    said
}

fn picked<T: Copy>(known: &[(&'static str, T)], choice: Option<usize>) -> Option<T> {
    known.get(choice?).map(|(_, one)| *one)
}
