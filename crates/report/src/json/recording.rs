//! What was recorded: session, sources, alignment, exclusions.

use super::number::some_estimate;
use crate::facts::SessionFacts;
use analysis::evidence::{Place, Role};
use analysis::findings::{DriftApplied, Findings, Stretch};
use serde_json::{Value, json};
use units::Timestamp;

pub(super) fn session(facts: &SessionFacts, findings: &Findings) -> Value {
    let about = &facts.about;
    let document = |document: &Option<session::Document>| {
        document
            .as_ref()
            .map(|text| json!({ "name": text.name, "sha256": text.sha256() }))
    };
    json!({
        "id": about.session,
        "program": about.program,
        "started": about.started.map(|started| started.to_rfc3339()),
        "duration_s": findings.duration_s,
        "script": document(&about.script),
        "decision_rule": document(&about.decision_rule),
        "claims": document(&about.claims),
        "simulated": about.is_simulated(),
        "bike": about.bike,
        "environment": about.environment,
        "rider": about.rider,
        "rider_mass_kg": about.rider_mass_kg,
        "note": about.note,
        "sealed": facts.sealed,
        "seal_sha256": facts.seal_sha256,
    })
}

pub(super) fn sources(facts: &SessionFacts, findings: &Findings) -> Vec<Value> {
    findings
        .sources
        .iter()
        .map(|source| {
            let identity = facts.source_of(&source.name).map(|info| &info.identity);
            json!({
                "name": source.name,
                "role": role(source.role),
                "place": place(source.place),
                "maker": identity.and_then(|identity| identity.maker.clone()),
                "model": identity.and_then(|identity| identity.model.clone()),
                "serial": identity.and_then(|identity| identity.serial.clone()),
                "firmware": identity.and_then(|identity| identity.firmware.clone()),
                "packets": source.packets,
                "coverage_pct": source.coverage_pct,
                "rate_hz": source.rate_hz,
            })
        })
        .collect()
}

pub(super) fn alignment(findings: &Findings) -> Vec<Value> {
    findings
        .alignment
        .iter()
        .map(|alignment| {
            json!({
                "source": alignment.source,
                "lag_s": alignment.lag_s,
                "lag_u_s": alignment.lag_u_s,
                "shift_s": alignment.shift_s,
                "pivot_s": alignment.pivot.as_secs_f64(),
                "drift_applied": alignment.drift_applied == DriftApplied::Yes,
                "drift_ppm": some_estimate(alignment.drift_ppm.as_ref()),
                "segments": alignment.segments.len(),
                "pieces": alignment.stretches.iter().map(piece).collect::<Vec<_>>(),
                "refused": alignment.refused.as_ref().map(|not| not.reason.clone()),
            })
        })
        .collect()
}

fn piece(stretch: &Stretch) -> Value {
    json!({
        "from_s": stretch.from.map(Timestamp::as_secs_f64),
        "to_s": stretch.to.map(Timestamp::as_secs_f64),
        "lag_s": stretch.lag_s,
        "lag_u_s": stretch.lag_u_s,
    })
}

pub(super) fn exclusions(findings: &Findings) -> Vec<Value> {
    findings
        .exclusions
        .iter()
        .map(|exclusion| {
            json!({
                "from_s": exclusion.from_s,
                "to_s": exclusion.to_s,
                "reason": exclusion.reason,
            })
        })
        .collect()
}

fn role(role: Role) -> &'static str {
    match role {
        Role::UnderTest => "under_test",
        Role::PrimaryReference => "reference",
        Role::SecondReference => "second_reference",
        Role::Witness => "witness",
    }
}

fn place(place: Place) -> &'static str {
    match place {
        Place::Pedals => "pedals",
        Place::Crank => "crank",
        Place::OneSide => "one_side",
        Place::Hub => "hub",
        Place::Unknown => "unknown",
    }
}
