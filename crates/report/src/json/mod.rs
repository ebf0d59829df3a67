//! The JSON document of one session's findings, described field by field in `SCHEMA.md`.
//!
//! Percentages are of the reference, seconds are of the session's clock. An infinite number of
//! degrees of freedom and everything unknown is `null`; what was not tested is absent and listed
//! with its reason in `not_tested`.

mod comparison;
mod examinations;
mod further;
mod judgement;
mod recording;

pub use comparison::{COMPARISON_SCHEMA, comparison_document};

use analysis::findings::Findings;
use analysis::outcome::Estimate;
use serde_json::{Value, json};

/// Version of the document's shape. Fields may be added under the same version; a field that
/// changes its meaning or goes away raises it.
pub const SCHEMA: &str = "prony-findings-1";

/// What the findings do not know about their session.
#[derive(Clone, Debug, Default)]
pub struct SessionFacts {
    /// What the session says about itself.
    pub about: session::About,
    /// The instruments as the file keeps them.
    pub sources: Vec<session::SourceInfo>,
    /// `sealed` or `broken` where the seals were checked, `closed` where the recording was ended in
    /// order and they were not; other words say how it ended otherwise. `None`: not known.
    pub sealed: Option<String>,
    /// SHA-256 of the block that ended the recording, in hexadecimal digits.
    pub seal_sha256: Option<String>,
}

impl SessionFacts {
    /// Whether no real instruments stand behind the session.
    pub fn is_simulated(&self) -> bool {
        self.about.is_simulated() || self.sources.iter().any(|source| source.simulated)
    }

    /// The instrument behind a stream: its own, or one of several that bear its name.
    pub fn source_of(&self, stream: &str) -> Option<&session::SourceInfo> {
        let of_several = |info: &session::SourceInfo| {
            let rest = stream.strip_prefix(info.name.as_str());
            rest.is_some_and(|rest| rest.is_empty() || rest.starts_with(" · "))
        };
        self.sources.iter().find(|info| of_several(info))
    }
}

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

/// A sum of nothing and a rounded small negative are a negative zero in a double; on paper a zero
/// has no sign. Every other number is printed with all the digits that reading it back needs.
fn unsign_zeros(value: &mut Value) {
    match value {
        Value::Number(number) if number.as_f64() == Some(0.0) && number.is_f64() => {
            *value = json!(0.0);
        }
        Value::Array(items) => items.iter_mut().for_each(unsign_zeros),
        Value::Object(members) => members.values_mut().for_each(unsign_zeros),
        _ => {}
    }
}

/// An estimate as value, standard uncertainty and degrees of freedom.
fn estimate(estimate: &Estimate) -> Value {
    json!({ "value": estimate.value, "u": estimate.u, "dof": dof(estimate.dof) })
}

fn some_estimate(found: Option<&Estimate>) -> Value {
    found.map_or(Value::Null, estimate)
}

/// Infinite degrees of freedom are written as `f64::MAX` in the house and as `null` outside.
fn dof(dof: f64) -> Value {
    if dof < f64::MAX {
        json!(dof)
    } else {
        Value::Null
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_zero_has_no_sign_and_nothing_else_changes() {
        let mut value = json!([[-0.0, -1e-300, 0.1 + 0.2], { "value": -0.0, "u": 3 }]);
        unsign_zeros(&mut value);
        assert_eq!(
            value.to_string(),
            r#"[[0.0,-1e-300,0.30000000000000004],{"u":3,"value":0.0}]"#
        );
    }
}
