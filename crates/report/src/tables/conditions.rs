//! What was compared under which conditions: windows, cells, and the terms of their uncertainty.

use super::table::{Rows, Table};
use analysis::findings::Findings;

/// The steady windows, in order of time.
pub fn windows(findings: &Findings) -> Table<'_> {
    Rows::of("windows", &findings.windows)
        .time("from_s", |window| window.from_s)
        .time("to_s", |window| window.to_s)
        .place("step", |window| window.step)
        .place("cell", |window| window.cell)
        .real("level_w", |window| window.level_w)
        .real("reference_w", |window| window.reference_w)
        .real("under_test_w", |window| window.under_test_w)
        .maybe_real("cadence_rpm", |window| window.cadence_rpm)
        .maybe_real("speed_kmh", |window| window.speed_kmh)
        .real("difference_pct", |window| window.difference_pct)
        .real("u_a_pct", |window| window.u_a_pct)
        .real("u_pct", |window| window.u_pct)
        .real("expanded_pct", |window| window.expanded_pct)
        .real("tolerance_pct", |window| window.tolerance_pct)
        .table()
}

/// The conditions, in the order of the findings; `cell` is what `windows` refers to.
pub fn cells(findings: &Findings) -> Table<'_> {
    Rows::of("cells", findings.cells.iter().enumerate())
        .count("cell", |(index, _)| index)
        .text("treatment", |(_, cell)| cell.treatment.name())
        .real("level_w", |(_, cell)| cell.level_w)
        .maybe_real("cadence_rpm", |(_, cell)| cell.cadence_rpm)
        .maybe_real("speed_kmh", |(_, cell)| cell.speed_kmh)
        .count("windows", |(_, cell)| cell.windows)
        .count("visits", |(_, cell)| cell.visits)
        .time("seconds", |(_, cell)| cell.seconds)
        .real("reference_w", |(_, cell)| cell.reference_w)
        .real("under_test_w", |(_, cell)| cell.under_test_w)
        .real("bias_w", |(_, cell)| cell.bias_w)
        .real("bias_pct", |(_, cell)| cell.bias_pct)
        .real("u_a_pct", |(_, cell)| cell.u_a_pct)
        .real("u_pct", |(_, cell)| cell.u_pct)
        .real("dof", |(_, cell)| cell.dof)
        .real("k", |(_, cell)| cell.k)
        .real("expanded_pct", |(_, cell)| cell.expanded_pct)
        .real("n_eff", |(_, cell)| cell.n_eff)
        .real("lag1", |(_, cell)| cell.lag1)
        .real("tolerance_pct", |(_, cell)| cell.tolerance_pct)
        .maybe_real("accept_within_pct", |(_, cell)| cell.accept_within_pct)
        .real("reject_beyond_pct", |(_, cell)| cell.reject_beyond_pct)
        .real("p_conform", |(_, cell)| cell.p_conform)
        .real("capability", |(_, cell)| cell.capability)
        .text("verdict", |(_, cell)| cell.verdict.words())
        .maybe_text("remark", |(_, cell)| cell.remark.as_deref())
        .table()
}

/// The terms of the uncertainty of every condition.
pub fn budget(findings: &Findings) -> Table<'_> {
    let terms = findings
        .cells
        .iter()
        .enumerate()
        .flat_map(|(index, cell)| cell.budget.iter().map(move |term| (index, term)));
    Rows::of("budget", terms)
        .count("cell", |(index, _)| index)
        .text("term", |(_, term)| term.term.as_str())
        .real("u_pct", |(_, term)| term.u_pct)
        .real("dof", |(_, term)| term.dof)
        .text("source", |(_, term)| term.source.as_str())
        .table()
}
