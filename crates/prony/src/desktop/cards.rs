//! What can be chosen: the ready scripts and the built-in simulated benches, as cards.

use desk::{RigCard, ScriptCard};
use protocol::{ReadyScript, Script, ready_scripts};
use std::sync::Arc;

/// The ready scripts, shortest first as they come.
pub fn scripts() -> Vec<ScriptCard> {
    ready_scripts().iter().map(script_card).collect()
}

fn script_card(ready: &ReadyScript) -> ScriptCard {
    match ready.load() {
        Ok(script) => ScriptCard {
            view: Arc::new(bench::view::script_view(script.plan())),
            about: script.decides().to_owned(),
            effort: effort(&script),
            problem: None,
        },
        Err(errors) => ScriptCard {
            view: Arc::new(bench::model::ScriptView {
                name: ready.name.to_owned(),
                title: ready.name.to_owned(),
                ..Default::default()
            }),
            about: String::new(),
            effort: String::new(),
            problem: Some(errors.to_string()),
        },
    }
}

fn effort(script: &Script) -> String {
    let plan = script.plan();
    let work = plan.energy().get() / 1000.0;
    match plan.highest_power() {
        Some(power) => format!("up to {power:.0}, {work:.0} kJ of work"),
        None => format!("{work:.0} kJ of work"),
    }
}

/// The simulated benches, the plain good one first.
pub fn rigs() -> Vec<RigCard> {
    rig::built_in_names()
        .filter_map(|name| {
            let plan = rig::built_in(name).ok()?;
            let instruments = rig::Rig::new(plan.clone(), 0)
                .sources()
                .into_iter()
                .map(|source| {
                    format!(
                        "{}: {}, at the {}",
                        source.name,
                        role(source.role),
                        source.place
                    )
                })
                .collect();
            Some(RigCard {
                name: name.to_owned(),
                title: plan.title().to_owned(),
                about: "Simulated: rider, flywheel, brake and meters of an invented workshop. No \
                        radio, no bicycle, nothing can be damaged."
                    .to_owned(),
                instruments,
                simulated: true,
            })
        })
        .collect()
}

fn role(role: &str) -> &'static str {
    match role {
        "under-test" => "under test",
        "reference" => "reference",
        "second-reference" => "second reference",
        _ => "witness",
    }
}
