//! Tables as text: one header row, one record per line, a comma between fields, a point in numbers
//! (RFC 4180). The columns are described in `CSV.md` beside this crate.
//!
//! Numbers are written with as many digits as it takes to read the same number back. A field that
//! is empty is unknown. Times are seconds of the session's clock.

use crate::tables::{Table, Values};
use std::fmt::{Display, Write};

/// A table as CSV.
pub fn csv(table: &Table<'_>) -> String {
    let names: Vec<_> = table.columns.iter().map(|column| column.name).collect();
    let mut out = names.join(",");
    out.push_str("\r\n");
    for row in 0..table.rows {
        for (index, column) in table.columns.iter().enumerate() {
            if index > 0 {
                out.push(',');
            }
            field(&column.values, row, &mut out);
        }
        out.push_str("\r\n");
    }
    out
}

/// One field of a record: nothing where there is no value.
fn field(values: &Values<'_>, row: usize, out: &mut String) {
    match values {
        Values::Whole(get) => plain(get(row), out),
        // The shortest decimal number that reads back as the same value.
        Values::Real(get) => plain(get(row), out),
        Values::Flag(get) => plain(get(row), out),
        Values::Moment(get) => plain(get(row).map(|moment| moment.to_rfc3339()), out),
        Values::Text(get) => text(&get(row).unwrap_or_default(), out),
    }
}

/// What never needs quotes.
fn plain(value: Option<impl Display>, out: &mut String) {
    if let Some(value) = value {
        write!(out, "{value}").expect("a string takes text");
    }
}

/// A text: quoted where it has to be.
fn text(words: &str, out: &mut String) {
    if words.contains(['"', ',', '\n', '\r']) {
        out.push('"');
        out.push_str(&words.replace('"', "\"\""));
        out.push('"');
    } else {
        out.push_str(words);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables;
    use session::EventRow;
    use units::Timestamp;

    /// RFC 4180, section 2, rules 6 and 7: quotes around, and quotes within doubled.
    #[test]
    fn texts_are_quoted_where_they_have_to_be() {
        let event = |kind: &str| EventRow {
            at: Timestamp::from_millis(1500),
            kind: kind.into(),
            body: serde_json::json!({ "a": 1 }),
        };
        let events = [event("mark"), event("say \"now\", please")];
        assert_eq!(
            csv(&tables::events(&events)),
            "time_s,kind,body\r\n1.5,mark,\"{\"\"a\"\":1}\"\r\n\
             1.5,\"say \"\"now\"\", please\",\"{\"\"a\"\":1}\"\r\n"
        );
    }
}
