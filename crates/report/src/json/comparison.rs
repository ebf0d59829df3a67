//! The JSON document of a comparison, described field by field in `COMPARE.md`.
//!
//! Sessions are named by their number, counted from 1 in the order they were given.

use super::number::{dof, estimate, unsign_zeros};
use crate::compared::{Compared, ComparedSession};
use analysis::comparing::{Bounds, Change, Condition, Counts, Instrument, Overlay};
use analysis::outcome::{Layer, NotTested};
use serde_json::{Value, json};

/// Version of the shape of the document of a comparison. Fields may be added under the same
/// version; a field that changes its meaning or goes away raises it.
pub const COMPARISON_SCHEMA: &str = "prony-comparison-1";

/// The document of a comparison.
pub fn comparison_document(compared: &Compared<'_>) -> Value {
    let found = compared.comparison;
    let overlay = found.overlay(compared.along);
    let mut not_tested: Vec<&NotTested> = Vec::new();
    not_tested.extend(found.spread.as_ref().err());
    not_tested.extend(found.states.as_ref().err());
    not_tested.extend(found.order.as_ref().err());
    not_tested.extend(overlay.as_ref().err());
    let mut document = json!({
        "schema": COMPARISON_SCHEMA,
        "program": format!("prony {}", env!("CARGO_PKG_VERSION")),
        "kind": kind(compared),
        "treatment": found.treatment.name(),
        "judged_by": compared.judged_by,
        "sessions": compared
            .sessions
            .iter()
            .enumerate()
            .map(|(index, one)| session(compared, index, one))
            .collect::<Vec<_>>(),
        "conditions": found.conditions.iter().map(condition).collect::<Vec<_>>(),
        "shifts": found.shifts.iter().enumerate().filter_map(|(index, shift)| {
            let shift = shift.as_ref()?;
            Some(json!({
                "session": index + 1,
                "conditions": shift.conditions,
                "change": change(&shift.change),
            }))
        }).collect::<Vec<_>>(),
        "means": found.means.as_ref().map(|means| json!({
            "conditions": means.conditions,
            "errors_pct": means.errors_pct.iter().map(estimate).collect::<Vec<_>>(),
        })),
        "spread": spread(compared),
        "states": states(compared),
        "order": order(compared),
        "overlay": overlay.ok().map(laid_over),
        "not_tested": not_tested.iter().map(|not| json!({
            "examination": not.examination,
            "reason": not.reason,
        })).collect::<Vec<_>>(),
        "sentences": found.sentences,
        "basis": found.basis,
        "cautions": found.cautions,
    });
    unsign_zeros(&mut document);
    document
}

fn kind(compared: &Compared<'_>) -> Value {
    let kind = &compared.comparison.kind;
    let groups = kind.group_names.iter().enumerate().map(|(group, name)| {
        let members = kind.groups.iter().enumerate();
        json!({
            "name": name,
            "sessions": members
                .filter(|(_, of)| **of == group)
                .map(|(index, _)| index + 1)
                .collect::<Vec<_>>(),
        })
    });
    json!({
        "name": kind.kind.name(),
        "words": kind.kind.words(),
        "told": kind.told.name(),
        "sentences": kind.sentences,
        "groups": groups.collect::<Vec<_>>(),
    })
}

fn session(compared: &Compared<'_>, index: usize, one: &ComparedSession<'_>) -> Value {
    let (about, side) = (&one.facts.about, one.side);
    let overall = &side.findings.overall;
    let common = compared.comparison.common[index].iter();
    json!({
        "number": index + 1,
        "file": one.file,
        "id": about.session,
        "program": about.program,
        "started": about.started.map(|started| started.to_rfc3339()),
        "duration_s": side.findings.duration_s,
        "simulated": one.facts.is_simulated(),
        "script": side.script.as_ref().map(|script| json!({
            "name": script.name,
            "sha256": script.sha256,
        })),
        "bike": side.bike,
        "device": instrument(&side.device),
        "reference": instrument(&side.reference),
        "calibrations": side.calibrations.iter().map(|calibration| json!({
            "at_s": calibration.at_s,
            "procedure": calibration.procedure,
        })).collect::<Vec<_>>(),
        "verdict": overall.verdict.words(),
        "sentence": overall.sentence,
        "blocked_by": overall.blocked_by,
        "rule": side.findings.rule,
        "common": common.map(|one| json!({
            "term": one.term,
            "because": one.because,
        })).collect::<Vec<_>>(),
        "seal": one.seal.state,
        "seal_sha256": one.seal.head_sha256,
    })
}

fn instrument(instrument: &Instrument) -> Value {
    json!({
        "name": instrument.name,
        "maker": instrument.maker,
        "model": instrument.model,
        "serial": instrument.serial,
        "firmware": instrument.firmware,
    })
}

fn condition(condition: &Condition) -> Value {
    let cells = condition
        .cells
        .iter()
        .enumerate()
        .filter_map(|(index, it)| {
            let it = it.as_ref()?;
            Some(json!({
                "session": index + 1,
                "treatment": it.cell.treatment.name(),
                "windows": it.cell.windows,
                "visits": it.cell.visits,
                "seconds": it.cell.seconds,
                "reference_w": it.cell.reference_w,
                "under_test_w": it.cell.under_test_w,
                "bias_w": it.cell.bias_w,
                "bias_pct": it.cell.bias_pct,
                "u_pct": it.cell.u_pct,
                "dof": dof(it.cell.dof),
                "expanded_pct": it.cell.expanded_pct,
                "tolerance_pct": it.cell.tolerance_pct,
                "verdict": it.cell.verdict.words(),
                "counts": it.counts == Counts::Yes,
                "change": it.change.as_ref().map(change),
            }))
        });
    json!({
        "condition": condition.words,
        "level_w": condition.level_w,
        "cadence_rpm": condition.cadence_rpm,
        "speed_kmh": condition.speed_kmh,
        "cells": cells.collect::<Vec<_>>(),
    })
}

fn change(change: &Change) -> Value {
    json!({
        "value_pct": change.value_pct,
        "independent": bounds(&change.independent),
        "cancelled": change.cancelled.as_ref().map(bounds),
        "shown": change.shown.name(),
    })
}

fn bounds(bounds: &Bounds) -> Value {
    json!({ "u_pct": bounds.u_pct, "dof": dof(bounds.dof), "interval": bounds.interval })
}

fn spread(compared: &Compared<'_>) -> Value {
    let Ok(spread) = &compared.comparison.spread else {
        return Value::Null;
    };
    json!({
        "sessions": spread.sessions,
        "conditions": spread.conditions,
        "s_shared_pct": spread.s_shared_pct,
        "s_own_pct": spread.s_own_pct,
        "s_pct": spread.s_pct,
        "dof": dof(spread.dof),
        "interval": spread.interval_pct,
        "limit_pct": spread.limit_pct,
        "expected_pct": spread.expected_pct,
        "nested": spread.nested.as_ref().map(|nested| json!({
            "s_within_pct": nested.s_r,
            "s_within_interval": nested.s_r_interval,
            "s_between_pct": nested.s_l,
            "s_reproducibility_pct": nested.s_reproducibility,
            "groups": nested.groups,
            "results": nested.results,
        })),
        "sentence": spread.sentence,
    })
}

fn states(compared: &Compared<'_>) -> Value {
    let Ok(found) = &compared.comparison.states else {
        return Value::Null;
    };
    json!({
        "difference_pct": estimate(&found.result.difference),
        "interval": found.result.interval,
        "p": found.result.p,
        "sentence": found.sentence,
    })
}

fn order(compared: &Compared<'_>) -> Value {
    let Ok(found) = &compared.comparison.order else {
        return Value::Null;
    };
    let number = |index: &usize| index + 1;
    json!({
        "is_an_order": found.result.is_an_order() && found.result.tiers.len() > 1,
        "tiers": found.result.tiers.iter().map(|tier| {
            tier.iter().map(number).collect::<Vec<_>>()
        }).collect::<Vec<_>>(),
        "pairs": found.result.pairs.iter().map(|pair| json!({
            "better": number(&pair.better),
            "worse": number(&pair.worse),
            "difference_pct": estimate(&pair.difference),
            "interval": pair.interval,
            "p": pair.p,
            "apart": pair.apart,
        })).collect::<Vec<_>>(),
        "sentence": found.sentence,
    })
}

/// The steps and the curves of the differences; power second by second is in the sessions.
fn laid_over(overlay: &Overlay) -> Value {
    let curves = overlay
        .plots
        .iter()
        .filter(|plot| !plot.y.starts_with("power"));
    let curves = curves.flat_map(|plot| {
        plot.layers.iter().filter_map(|layer| match layer {
            Layer::Line { label, runs, .. } => Some(json!({
                "plot": plot.name,
                "label": label,
                "x": plot.x,
                "y": plot.y,
                "runs": runs,
            })),
            _ => None,
        })
    });
    json!({
        "along": overlay.along.name(),
        "steps": overlay.steps.iter().map(|step| json!({
            "title": step.title,
            "target_w": step.target_w,
            "at_s": step.at_s,
            "longest_s": step.longest_s,
            "began_s": step.began_s,
        })).collect::<Vec<_>>(),
        "curves": curves.collect::<Vec<_>>(),
    })
}
