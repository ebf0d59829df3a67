//! The course of the comparison: its seconds, what did not count, what was lost, how the clocks lie.

use super::table::{Rows, Table};
use analysis::findings::Findings;

/// Both instruments second by second, aligned: one row per second of the comparison.
pub fn seconds(findings: &Findings) -> Table<'_> {
    let traces = &findings.traces;
    // Exclusions are in order of time: one pass over both.
    let mut exclusions = findings.exclusions.iter().peekable();
    let rows = (0..traces.reference_w.len()).map(|index| {
        let at_s = traces.from_s + index as i64;
        while exclusions
            .peek()
            .is_some_and(|exclusion| exclusion.to_s <= at_s as f64)
        {
            exclusions.next();
        }
        let excluded = exclusions
            .peek()
            .filter(|exclusion| exclusion.from_s <= at_s as f64)
            .map(|exclusion| exclusion.reason.as_str());
        (index, at_s, excluded)
    });
    Rows::of("seconds", rows)
        .whole("time_s", |(_, at_s, _)| at_s)
        .maybe_real("reference_w", |(row, ..)| at(&traces.reference_w, row))
        .maybe_real("under_test_w", |(row, ..)| at(&traces.under_test_w, row))
        .maybe_real("cadence_rpm", |(row, ..)| at(&traces.cadence_rpm, row))
        .maybe_real("speed_kmh", |(row, ..)| at(&traces.speed_kmh, row))
        .maybe_text("excluded", |(_, _, excluded)| excluded)
        .table()
}

fn at(values: &[Option<f64>], row: usize) -> Option<f64> {
    values.get(row).copied().flatten()
}

/// The spans that did not count.
pub fn exclusions(findings: &Findings) -> Table<'_> {
    Rows::of("exclusions", &findings.exclusions)
        .time("from_s", |exclusion| exclusion.from_s)
        .time("to_s", |exclusion| exclusion.to_s)
        .text("reason", |exclusion| exclusion.reason.as_str())
        .table()
}

/// The drop-outs of the device under test.
pub fn dropouts(findings: &Findings) -> Table<'_> {
    Rows::of("dropouts", &findings.dropouts)
        .time("from_s", |dropout| dropout.from.as_secs_f64())
        .time("to_s", |dropout| dropout.to.as_secs_f64())
        .text("kind", |dropout| dropout.kind.words())
        .real("lost_kj", |dropout| dropout.lost_kj)
        .table()
}

/// Lag and drift of every source against the primary reference.
pub fn alignment(findings: &Findings) -> Table<'_> {
    Rows::of("alignment", &findings.alignment)
        .text("source", |found| found.source.as_str())
        .real("lag_s", |found| found.lag_s)
        .real("lag_u_s", |found| found.lag_u_s)
        .maybe_real("drift_ppm", |found| Some(found.drift_ppm.as_ref()?.value))
        .maybe_real("drift_u_ppm", |found| Some(found.drift_ppm.as_ref()?.u))
        .maybe_text("refused", |found| {
            Some(found.refused.as_ref()?.reason.as_str())
        })
        .table()
}
