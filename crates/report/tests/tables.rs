//! The CSV tables, read back by another reader (the `csv` crate), and compared bit by bit.

mod common;

use analysis::findings::Findings;
use common::{Device, Names};
use report::{csv, tables};

/// Header and records of a table.
fn read(table: &str) -> (Vec<String>, Vec<Vec<String>>) {
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let header = reader
        .headers()
        .expect("a header")
        .iter()
        .map(str::to_owned)
        .collect();
    let rows = reader
        .records()
        .map(|row| row.expect("a record").iter().map(str::to_owned).collect());
    (header, rows.collect())
}

/// A column as numbers; an empty field is `None`.
fn numbers(table: &str, column: &str) -> Vec<Option<f64>> {
    let (header, rows) = read(table);
    let index = header
        .iter()
        .position(|name| name == column)
        .unwrap_or_else(|| {
            panic!("there is no column {column} in {header:?}");
        });
    let parse = |field: &String| match field.as_str() {
        "" => None,
        number => Some(number.parse::<f64>().expect("a number")),
    };
    rows.iter().map(|row| parse(&row[index])).collect()
}

fn words(table: &str, column: &str) -> Vec<String> {
    let (header, rows) = read(table);
    let index = header
        .iter()
        .position(|name| name == column)
        .expect("a column");
    rows.into_iter()
        .map(|mut row| row.swap_remove(index))
        .collect()
}

fn findings() -> Findings {
    common::findings(Device::default(), Names::default())
}

#[test]
fn seconds_read_back_exactly() {
    let findings = findings();
    let table = csv(&tables::seconds(&findings));
    let traces = &findings.traces;
    assert!(traces.reference_w.len() > 2500);
    assert!(traces.under_test_w.contains(&None), "a drop-out is a gap");
    assert_eq!(numbers(&table, "reference_w"), traces.reference_w);
    assert_eq!(numbers(&table, "under_test_w"), traces.under_test_w);
    assert_eq!(numbers(&table, "cadence_rpm"), traces.cadence_rpm);
    assert_eq!(numbers(&table, "speed_kmh"), traces.speed_kmh);
    let excluded = words(&table, "excluded");
    for (index, second) in numbers(&table, "time_s").into_iter().enumerate() {
        let second = second.unwrap();
        assert_eq!(second, (traces.from_s + index as i64) as f64);
        let within = findings
            .exclusions
            .iter()
            .find(|out| out.from_s <= second && second < out.to_s);
        assert_eq!(
            excluded[index],
            within.map_or("", |out| &out.reason),
            "second {second}"
        );
    }
}

#[test]
fn windows_cells_and_budgets_read_back_exactly() {
    let findings = findings();
    let all = |pick: fn(&analysis::findings::Cell) -> f64| -> Vec<Option<f64>> {
        let value = |value: f64| (value < f64::MAX).then_some(value);
        findings
            .cells
            .iter()
            .map(|cell| value(pick(cell)))
            .collect()
    };
    let table = csv(&tables::cells(&findings));
    assert!(findings.cells.len() > 15);
    for (column, expected) in [
        ("level_w", all(|cell| cell.level_w)),
        ("seconds", all(|cell| cell.seconds)),
        ("reference_w", all(|cell| cell.reference_w)),
        ("under_test_w", all(|cell| cell.under_test_w)),
        ("bias_w", all(|cell| cell.bias_w)),
        ("bias_pct", all(|cell| cell.bias_pct)),
        ("u_a_pct", all(|cell| cell.u_a_pct)),
        ("u_pct", all(|cell| cell.u_pct)),
        ("dof", all(|cell| cell.dof)),
        ("k", all(|cell| cell.k)),
        ("expanded_pct", all(|cell| cell.expanded_pct)),
        ("n_eff", all(|cell| cell.n_eff)),
        ("lag1", all(|cell| cell.lag1)),
        ("tolerance_pct", all(|cell| cell.tolerance_pct)),
        ("reject_beyond_pct", all(|cell| cell.reject_beyond_pct)),
        ("p_conform", all(|cell| cell.p_conform)),
        ("capability", all(|cell| cell.capability)),
    ] {
        assert_eq!(numbers(&table, column), expected, "{column}");
    }
    let verdicts: Vec<_> = findings
        .cells
        .iter()
        .map(|cell| cell.verdict.words())
        .collect();
    assert_eq!(words(&table, "verdict"), verdicts);
    let accepted: Vec<_> = findings
        .cells
        .iter()
        .map(|cell| cell.accept_within_pct)
        .collect();
    assert_eq!(numbers(&table, "accept_within_pct"), accepted);

    let table = csv(&tables::windows(&findings));
    let all = |pick: fn(&analysis::findings::WindowFinding) -> f64| -> Vec<Option<f64>> {
        findings
            .windows
            .iter()
            .map(|window| Some(pick(window)))
            .collect()
    };
    assert!(findings.windows.len() > 50);
    assert_eq!(numbers(&table, "from_s"), all(|window| window.from_s));
    assert_eq!(numbers(&table, "to_s"), all(|window| window.to_s));
    assert_eq!(
        numbers(&table, "difference_pct"),
        all(|window| window.difference_pct)
    );
    assert_eq!(
        numbers(&table, "expanded_pct"),
        all(|window| window.expanded_pct)
    );
    assert_eq!(
        numbers(&table, "cell"),
        all(|window| window.cell.unwrap() as f64)
    );

    let table = csv(&tables::budget(&findings));
    let terms = findings.cells.iter().flat_map(|cell| &cell.budget);
    let sources: Vec<&str> = terms.clone().map(|term| term.source.as_str()).collect();
    assert_eq!(words(&table, "source"), sources);
    let u: Vec<_> = terms.map(|term| Some(term.u_pct)).collect();
    assert_eq!(numbers(&table, "u_pct"), u);
}

#[test]
fn exclusions_drop_outs_and_alignment_read_back_exactly() {
    let findings = findings();
    let table = csv(&tables::exclusions(&findings));
    let reasons: Vec<_> = findings
        .exclusions
        .iter()
        .map(|out| out.reason.clone())
        .collect();
    assert!(reasons.len() > 5);
    assert_eq!(words(&table, "reason"), reasons);
    let table = csv(&tables::dropouts(&findings));
    let lost: Vec<_> = findings
        .dropouts
        .iter()
        .map(|found| Some(found.lost_kj))
        .collect();
    assert!(lost.len() >= 3);
    assert_eq!(numbers(&table, "lost_kj"), lost);
    let table = csv(&tables::alignment(&findings));
    let lags: Vec<_> = findings
        .alignment
        .iter()
        .map(|found| Some(found.lag_s))
        .collect();
    assert!(!lags.is_empty());
    assert_eq!(numbers(&table, "lag_s"), lags);
}

#[test]
fn hostile_names_survive_the_way_out_and_back() {
    let names = Names {
        device: "a,\"b\"\r\nc;=1+1",
        ..Names::default()
    };
    let findings = common::findings(Device::default(), names);
    let table = csv(&tables::alignment(&findings));
    assert!(words(&table, "source").contains(&names.device.to_owned()));
}

/// Every column of every table stands in the table's chapter of CSV.md in backticks, and nothing
/// else does; its type and whether it may be empty stand in PARQUET.md.
#[test]
fn every_column_is_described() {
    let session = common::Session::default();
    let (recorded, findings) = (session.recorded(), findings());
    let all = tables::all(&recorded, &findings);
    assert_eq!(all.len(), 10);
    for (document, words) in [
        ("CSV.md", include_str!("../CSV.md")),
        ("PARQUET.md", include_str!("../PARQUET.md")),
    ] {
        for table in &all {
            let heading = format!("\n## {}\n", table.name);
            let (_, rest) = words
                .split_once(&heading)
                .unwrap_or_else(|| panic!("{document} has no chapter {}", table.name));
            let chapter = rest.split("\n## ").next().expect("there is a first part");
            let described: Vec<&str> = chapter
                .lines()
                .filter(|line| line.starts_with("| `"))
                .flat_map(|line| {
                    let first = line.split('|').nth(1).expect("a row has cells");
                    first.split('`').skip(1).step_by(2)
                })
                .collect();
            let columns: Vec<&str> = table.columns.iter().map(|column| column.name).collect();
            assert_eq!(described, columns, "{document}: {}", table.name);
        }
    }
}
