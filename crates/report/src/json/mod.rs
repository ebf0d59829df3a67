//! The JSON document of one session's findings, described field by field in `SCHEMA.md`.
//!
//! Percentages are of the reference, seconds are of the session's clock. An infinite number of
//! degrees of freedom and everything unknown is `null`; what was not tested is absent and listed
//! with its reason in `not_tested`.

mod comparison;
mod examinations;
mod further;
mod judgement;
mod made;
mod number;
mod recording;

pub use crate::facts::SessionFacts;
use analysis::findings::Findings;
pub use comparison::{COMPARISON_SCHEMA, comparison_document};
use number::unsign_zeros;
use serde_json::{Value, json};

/// Version of the document's shape. Fields may be added under the same version; a field that
/// changes its meaning or goes away raises it.
pub const SCHEMA: &str = "prony-findings-1";

/// The document of one session.
pub fn document(facts: &SessionFacts, findings: &Findings) -> Value {
    let mut document = json!({
        "schema": SCHEMA,
        "session": recording::session(facts, findings),
        "sources": recording::sources(facts, findings),
        "alignment": recording::alignment(findings),
        "cells": findings.cells.iter().map(judgement::cell).collect::<Vec<_>>(),
        "overall": judgement::overall(findings),
        "examinations": examinations::all(findings),
        "budget": findings.budget.iter().map(judgement::term).collect::<Vec<_>>(),
        "claims": findings.claims.iter().map(judgement::claim).collect::<Vec<_>>(),
        "exclusions": recording::exclusions(findings),
        "anomalies": findings.anomalies,
        "not_tested": findings.not_tested.iter().map(|not| json!({
            "examination": not.examination,
            "reason": not.reason,
        })).collect::<Vec<_>>(),
    });
    unsign_zeros(&mut document);
    document
}
