//! Tables for other people's tools: one header row, one record per line, a comma between fields,
//! a point in numbers (RFC 4180). The columns are described in `CSV.md` beside this crate.
//!
//! Numbers are written with as many digits as it takes to read the same number back. A field that
//! is empty is unknown. Times are seconds of the session's clock.

use analysis::findings::{Cell, Findings};
use analysis::outcome::Estimate;
use session::EventRow;
use std::fmt::Write;

/// Both instruments second by second, aligned: one row per second of the comparison.
pub fn seconds_csv(findings: &Findings) -> String {
    let traces = &findings.traces;
    let mut table = Table::new(&[
        "time_s",
        "reference_w",
        "under_test_w",
        "cadence_rpm",
        "speed_kmh",
        "excluded",
    ]);
    // Exclusions are in order of time: one pass over both.
    let mut exclusions = findings.exclusions.iter().peekable();
    for index in 0..traces.reference_w.len() {
        let second = traces.from_s + index as i64;
        let at = second as f64;
        while exclusions
            .peek()
            .is_some_and(|exclusion| exclusion.to_s <= at)
        {
            exclusions.next();
        }
        let excluded = exclusions.peek().filter(|exclusion| exclusion.from_s <= at);
        let column = |values: &[Option<f64>]| maybe(values.get(index).copied().flatten());
        table.row([
            Field::Bare(second.to_string()),
            column(&traces.reference_w),
            column(&traces.under_test_w),
            column(&traces.cadence_rpm),
            column(&traces.speed_kmh),
            excluded.map_or(Field::Empty, |exclusion| text(&exclusion.reason)),
        ]);
    }
    table.done()
}

/// The steady windows, in order of time.
pub fn windows_csv(findings: &Findings) -> String {
    let mut table = Table::new(&[
        "from_s",
        "to_s",
        "step",
        "cell",
        "level_w",
        "reference_w",
        "under_test_w",
        "cadence_rpm",
        "speed_kmh",
        "difference_pct",
        "u_a_pct",
        "u_pct",
        "expanded_pct",
        "tolerance_pct",
    ]);
    for window in &findings.windows {
        table.row([
            number(window.from_s),
            number(window.to_s),
            place(window.step),
            place(window.cell),
            number(window.level_w),
            number(window.reference_w),
            number(window.under_test_w),
            maybe(window.cadence_rpm),
            maybe(window.speed_kmh),
            number(window.difference_pct),
            number(window.u_a_pct),
            number(window.u_pct),
            number(window.expanded_pct),
            number(window.tolerance_pct),
        ]);
    }
    table.done()
}

/// The conditions, in the order of the findings; `cell` is what `windows` refers to.
pub fn cells_csv(findings: &Findings) -> String {
    let mut table = Table::new(&[
        "cell",
        "treatment",
        "level_w",
        "cadence_rpm",
        "speed_kmh",
        "windows",
        "visits",
        "seconds",
        "reference_w",
        "under_test_w",
        "bias_w",
        "bias_pct",
        "u_a_pct",
        "u_pct",
        "dof",
        "k",
        "expanded_pct",
        "n_eff",
        "lag1",
        "tolerance_pct",
        "accept_within_pct",
        "reject_beyond_pct",
        "p_conform",
        "capability",
        "verdict",
        "remark",
    ]);
    for (index, cell) in findings.cells.iter().enumerate() {
        table.row(cell_fields(index, cell));
    }
    table.done()
}

fn cell_fields(index: usize, cell: &Cell) -> [Field; 26] {
    [
        place(Some(index)),
        text(cell.treatment.name()),
        number(cell.level_w),
        maybe(cell.cadence_rpm),
        maybe(cell.speed_kmh),
        place(Some(cell.windows)),
        place(Some(cell.visits)),
        number(cell.seconds),
        number(cell.reference_w),
        number(cell.under_test_w),
        number(cell.bias_w),
        number(cell.bias_pct),
        number(cell.u_a_pct),
        number(cell.u_pct),
        number(cell.dof),
        number(cell.k),
        number(cell.expanded_pct),
        number(cell.n_eff),
        number(cell.lag1),
        number(cell.tolerance_pct),
        maybe(cell.accept_within_pct),
        number(cell.reject_beyond_pct),
        number(cell.p_conform),
        number(cell.capability),
        text(cell.verdict.words()),
        cell.remark.as_deref().map_or(Field::Empty, text),
    ]
}

/// The terms of the uncertainty of every condition.
pub fn budget_csv(findings: &Findings) -> String {
    let mut table = Table::new(&["cell", "term", "u_pct", "dof", "source"]);
    for (index, cell) in findings.cells.iter().enumerate() {
        for term in &cell.budget {
            table.row([
                place(Some(index)),
                text(&term.term),
                number(term.u_pct),
                number(term.dof),
                text(&term.source),
            ]);
        }
    }
    table.done()
}

/// The spans that did not count.
pub fn exclusions_csv(findings: &Findings) -> String {
    let mut table = Table::new(&["from_s", "to_s", "reason"]);
    for exclusion in &findings.exclusions {
        table.row([
            number(exclusion.from_s),
            number(exclusion.to_s),
            text(&exclusion.reason),
        ]);
    }
    table.done()
}

/// The drop-outs of the device under test.
pub fn dropouts_csv(findings: &Findings) -> String {
    let mut table = Table::new(&["from_s", "to_s", "kind", "lost_kj"]);
    for dropout in &findings.dropouts {
        table.row([
            number(dropout.from.as_secs_f64()),
            number(dropout.to.as_secs_f64()),
            text(dropout.kind.words()),
            number(dropout.lost_kj),
        ]);
    }
    table.done()
}

/// Lag and drift of every source against the primary reference.
pub fn alignment_csv(findings: &Findings) -> String {
    let mut table = Table::new(&[
        "source",
        "lag_s",
        "lag_u_s",
        "drift_ppm",
        "drift_u_ppm",
        "refused",
    ]);
    for found in &findings.alignment {
        let drift = |pick: fn(&Estimate) -> f64| maybe(found.drift_ppm.as_ref().map(pick));
        table.row([
            text(&found.source),
            number(found.lag_s),
            number(found.lag_u_s),
            drift(|estimate| estimate.value),
            drift(|estimate| estimate.u),
            found
                .refused
                .as_ref()
                .map_or(Field::Empty, |refused| text(&refused.reason)),
        ]);
    }
    table.done()
}

/// What happened during the session, as the caller read it from the file. `body` is JSON.
pub fn events_csv(events: &[EventRow]) -> String {
    let mut table = Table::new(&["time_s", "kind", "body"]);
    for event in events {
        table.row([
            number(event.at.as_secs_f64()),
            text(&event.kind),
            if event.body.is_null() {
                Field::Empty
            } else {
                text(&event.body.to_string())
            },
        ]);
    }
    table.done()
}

/// Every sample of every stream as it was received, on the session's clock (that of the primary
/// reference in an imported session), in the order of the streams.
pub fn raw_csv(evidence: &analysis::evidence::Evidence) -> String {
    let mut table = Table::new(&["source", "quantity", "time_s", "value"]);
    for stream in &evidence.streams {
        let quantities = [
            ("power_w", &stream.power_w),
            ("cadence_rpm", &stream.cadence_rpm),
            ("speed_kmh", &stream.speed_kmh),
        ];
        for (quantity, series) in quantities {
            for (at, value) in series.iter() {
                table.row([
                    text(&stream.name),
                    text(quantity),
                    number(at.as_secs_f64()),
                    number(value),
                ]);
            }
        }
    }
    table.done()
}

/// One field of a record.
enum Field {
    /// Unknown.
    Empty,
    /// A number: needs no quotes.
    Bare(String),
    /// A text: quoted where it has to be.
    Text(String),
}

fn text(words: &str) -> Field {
    Field::Text(words.to_owned())
}

/// The shortest decimal number that reads back as the same value. What the house writes as the
/// largest number means *infinite* and is left empty, as is what is not a number.
fn number(value: f64) -> Field {
    if value.is_finite() && value.abs() < f64::MAX {
        Field::Bare(format!("{value}"))
    } else {
        Field::Empty
    }
}

fn maybe(value: Option<f64>) -> Field {
    value.map_or(Field::Empty, number)
}

fn place(value: Option<usize>) -> Field {
    value.map_or(Field::Empty, |value| Field::Bare(value.to_string()))
}

struct Table(String);

impl Table {
    fn new(columns: &[&str]) -> Self {
        Self(columns.join(",") + "\r\n")
    }

    fn row<const N: usize>(&mut self, fields: [Field; N]) {
        for (index, field) in fields.iter().enumerate() {
            if index > 0 {
                self.0.push(',');
            }
            match field {
                Field::Empty => {}
                Field::Bare(number) => self.0.push_str(number),
                Field::Text(words) if words.contains(['"', ',', '\n', '\r']) => {
                    let _ = write!(self.0, "\"{}\"", words.replace('"', "\"\""));
                }
                Field::Text(words) => self.0.push_str(words),
            }
        }
        self.0.push_str("\r\n");
    }

    fn done(self) -> String {
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use units::Timestamp;

    /// RFC 4180, section 2, rules 6 and 7: quotes around, and quotes within doubled.
    #[test]
    fn texts_are_quoted_where_they_have_to_be() {
        let event = |kind: &str| EventRow {
            at: Timestamp::from_millis(1500),
            kind: kind.into(),
            body: serde_json::json!({ "a": 1 }),
        };
        let table = events_csv(&[event("mark"), event("say \"now\", please")]);
        assert_eq!(
            table,
            "time_s,kind,body\r\n1.5,mark,\"{\"\"a\"\":1}\"\r\n\
             1.5,\"say \"\"now\"\", please\",\"{\"\"a\"\":1}\"\r\n"
        );
    }

    #[test]
    fn infinite_and_unknown_are_empty() {
        assert!(matches!(number(f64::MAX), Field::Empty));
        assert!(matches!(number(f64::NAN), Field::Empty));
        assert!(matches!(number(0.1), Field::Bare(text) if text == "0.1"));
    }
}
