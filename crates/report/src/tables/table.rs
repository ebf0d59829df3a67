//! A table as named columns of one type each. A column is a question that is put to a row when it
//! is needed, so that a table takes no memory beside the rows it is made from.

use chrono::{DateTime, FixedOffset};
use std::borrow::Cow;
use std::rc::Rc;

/// Version of the tables. Columns may be added under the same version; a column that changes its
/// meaning or goes away raises it.
pub const SCHEMA: i64 = 1;

/// A table, described once and rendered in several forms.
pub struct Table<'a> {
    /// What it is called: the name of its file, and of its chapter in the documents.
    pub name: &'static str,
    /// How many rows it has.
    pub rows: usize,
    /// Its columns, in order.
    pub columns: Vec<Column<'a>>,
}

/// A column of a table.
pub struct Column<'a> {
    /// What it is called; the unit is in the name.
    pub name: &'static str,
    /// Whether every row has a value in it.
    pub presence: Presence,
    /// Its values.
    pub values: Values<'a>,
}

/// Whether every row has a value in a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Presence {
    /// Every row has one.
    Always,
    /// A row may have none: unknown, not given, or infinite.
    Perhaps,
}

/// The values of a column by number of the row; `None` where a row has none.
pub enum Values<'a> {
    /// Whole numbers: seconds, counts, places in another table.
    Whole(Asked<'a, i64>),
    /// Numbers. Neither an infinite one nor what is not a number is ever given.
    Real(Asked<'a, f64>),
    /// Texts.
    Text(Asked<'a, Cow<'a, str>>),
    /// Yes or no.
    Flag(Asked<'a, bool>),
    /// Moments of the wall clock.
    Moment(Asked<'a, DateTime<FixedOffset>>),
}

/// The value of a row.
pub type Asked<'a, T> = Box<dyn Fn(usize) -> Option<T> + 'a>;

/// The rows that a table is made from, and the columns that were named so far.
pub(super) struct Rows<'a, R> {
    rows: Rc<[R]>,
    table: Table<'a>,
}

impl<'a, R: Copy + 'a> Rows<'a, R> {
    pub(super) fn of(name: &'static str, rows: impl IntoIterator<Item = R>) -> Self {
        let rows: Rc<[R]> = rows.into_iter().collect();
        let table = Table {
            name,
            rows: rows.len(),
            columns: Vec::new(),
        };
        Self { rows, table }
    }

    pub(super) fn table(self) -> Table<'a> {
        self.table
    }

    /// A whole number that every row has.
    pub(super) fn whole(self, name: &'static str, get: impl Fn(R) -> i64 + 'a) -> Self {
        let values = Values::Whole(self.asked(move |row| Some(get(row))));
        self.with(name, Presence::Always, values)
    }

    /// A count that every row has.
    pub(super) fn count(self, name: &'static str, get: impl Fn(R) -> usize + 'a) -> Self {
        self.whole(name, move |row| whole(get(row)))
    }

    /// Number of a row of another table, or of a step.
    pub(super) fn place(self, name: &'static str, get: impl Fn(R) -> Option<usize> + 'a) -> Self {
        let values = Values::Whole(self.asked(move |row| get(row).map(whole)));
        self.with(name, Presence::Perhaps, values)
    }

    /// A time on the session's clock, s, which every row has.
    pub(super) fn time(self, name: &'static str, get: impl Fn(R) -> f64 + 'a) -> Self {
        let values = Values::Real(self.asked(move |row| known(get(row))));
        self.with(name, Presence::Always, values)
    }

    /// A number. What the house writes as the largest number means *infinite* and is left empty,
    /// as is what is not a number.
    pub(super) fn real(self, name: &'static str, get: impl Fn(R) -> f64 + 'a) -> Self {
        self.maybe_real(name, move |row| Some(get(row)))
    }

    /// A number, where there is one.
    pub(super) fn maybe_real(
        self,
        name: &'static str,
        get: impl Fn(R) -> Option<f64> + 'a,
    ) -> Self {
        let values = Values::Real(self.asked(move |row| get(row).and_then(known)));
        self.with(name, Presence::Perhaps, values)
    }

    /// A text that every row has.
    pub(super) fn text<S: Into<Cow<'a, str>>>(
        self,
        name: &'static str,
        get: impl Fn(R) -> S + 'a,
    ) -> Self {
        let values = Values::Text(self.asked(move |row| Some(get(row).into())));
        self.with(name, Presence::Always, values)
    }

    /// A text, where there is one.
    pub(super) fn maybe_text<S: Into<Cow<'a, str>>>(
        self,
        name: &'static str,
        get: impl Fn(R) -> Option<S> + 'a,
    ) -> Self {
        let values = Values::Text(self.asked(move |row| get(row).map(Into::into)));
        self.with(name, Presence::Perhaps, values)
    }

    /// Yes or no, which every row has.
    pub(super) fn flag(self, name: &'static str, get: impl Fn(R) -> bool + 'a) -> Self {
        let values = Values::Flag(self.asked(move |row| Some(get(row))));
        self.with(name, Presence::Always, values)
    }

    /// A moment of the wall clock, where it is known.
    pub(super) fn moment(
        self,
        name: &'static str,
        get: impl Fn(R) -> Option<DateTime<FixedOffset>> + 'a,
    ) -> Self {
        let values = Values::Moment(self.asked(get));
        self.with(name, Presence::Perhaps, values)
    }

    fn asked<T>(&self, get: impl Fn(R) -> Option<T> + 'a) -> Asked<'a, T> {
        let rows = Rc::clone(&self.rows);
        Box::new(move |row| get(rows[row]))
    }

    fn with(mut self, name: &'static str, presence: Presence, values: Values<'a>) -> Self {
        self.table.columns.push(Column {
            name,
            presence,
            values,
        });
        self
    }
}

fn known(value: f64) -> Option<f64> {
    (value.is_finite() && value.abs() < f64::MAX).then_some(value)
}

fn whole(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn infinite_and_unknown_are_no_values() {
        let table = Rows::of("x", [f64::MAX, f64::NAN, f64::NEG_INFINITY, 0.1])
            .real("value", |value| value)
            .table();
        let Values::Real(value) = &table.columns[0].values else {
            panic!("a column of numbers");
        };
        let values: Vec<_> = (0..table.rows).map(value).collect();
        assert_eq!(values, [None, None, None, Some(0.1)]);
    }
}
