//! What was judged: cells, the whole, the budget, the claims.

use super::number::{dof, some_estimate};
use analysis::findings::{BudgetTerm, Cell, ClaimFinding, Findings};
use serde_json::{Value, json};

pub(super) fn cell(cell: &Cell) -> Value {
    json!({
        "treatment": cell.treatment.name(),
        "level_w": cell.level_w,
        "cadence_rpm": cell.cadence_rpm,
        "speed_kmh": cell.speed_kmh,
        "windows": cell.windows,
        "visits": cell.visits,
        "seconds": cell.seconds,
        "reference_w": cell.reference_w,
        "under_test_w": cell.under_test_w,
        "bias_w": cell.bias_w,
        "bias_pct": cell.bias_pct,
        "u_a_pct": cell.u_a_pct,
        "u_pct": cell.u_pct,
        "dof": dof(cell.dof),
        "k": cell.k,
        "expanded_pct": cell.expanded_pct,
        "n_eff": cell.n_eff,
        "tolerance_pct": cell.tolerance_pct,
        "p_conform": cell.p_conform,
        "capability": cell.capability,
        "verdict": cell.verdict.words(),
        "remark": cell.remark,
        "budget": cell.budget.iter().map(term).collect::<Vec<_>>(),
    })
}

pub(super) fn overall(findings: &Findings) -> Value {
    let overall = &findings.overall;
    json!({
        "under_test": findings.under_test,
        "reference": findings.reference,
        "treatment": overall.treatment.name(),
        "verdict": overall.verdict.words(),
        "by_treatment": overall.by_treatment.iter().map(|(treatment, verdict)| json!({
            "treatment": treatment.name(),
            "verdict": verdict.words(),
        })).collect::<Vec<_>>(),
        "worst_cell": overall.worst_cell,
        "p_conform": overall.p_conform,
        "bias_pct": some_estimate(overall.bias_pct.as_ref()),
        "tolerance_pct": overall.tolerance_pct,
        "cells_judged": overall.cells_judged,
        "blocked_by": overall.blocked_by,
        "sentence": overall.sentence,
        "rule": findings.rule,
    })
}

pub(super) fn term(term: &BudgetTerm) -> Value {
    json!({
        "term": term.term,
        "u_pct": term.u_pct,
        "dof": dof(term.dof),
        "source": term.source,
    })
}

pub(super) fn claim(claim: &ClaimFinding) -> Value {
    json!({
        "name": claim.name,
        "text": claim.text,
        "limit": claim.limit,
        "measured": claim.measured,
        "expanded": claim.expanded,
        "unit": claim.unit,
        "verdict": claim.verdict.words(),
        "rule": claim.rule,
        "remark": claim.remark,
    })
}
