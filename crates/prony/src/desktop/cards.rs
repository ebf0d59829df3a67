//! The benches that a session can be started on: the simulated ones, and the remembered ones of
//! real instruments.

use crate::bench_file::{self, BenchFile};
use crate::places;
use anyhow::{Context, Result, bail};
use bench::plan::{place_from_name, place_name};
use desk::RigCard;
use std::path::PathBuf;

const BENCHES: &str = "benches";

/// The simulated benches, the plain good one first, then the remembered ones.
pub fn rigs() -> Vec<RigCard> {
    simulated().chain(remembered()).collect()
}

fn simulated() -> impl Iterator<Item = RigCard> {
    rig::built_in_names().filter_map(|name| {
        let plan = rig::built_in(name).ok()?;
        let sources = rig::Rig::new(plan.clone(), 0).sources();
        let place = |wanted: &str| {
            sources
                .iter()
                .find(|source| source.role == wanted)
                .map(|source| place_from_name(source.place))
        };
        Some(RigCard {
            name: name.to_owned(),
            title: plan.title().to_owned(),
            about: "Simulated: rider, flywheel, brake and meters of an invented workshop. No \
                    radio, no bicycle, nothing can be damaged."
                .to_owned(),
            under_test: place("under-test"),
            reference: place("reference"),
            instruments: sources
                .iter()
                .map(|source| {
                    format!(
                        "{}: {}, {}",
                        source.name,
                        role(source.role),
                        place_words(source.place)
                    )
                })
                .collect(),
            simulated: true,
        })
    })
}

fn remembered() -> impl Iterator<Item = RigCard> {
    let mut paths: Vec<PathBuf> = places::folder(BENCHES)
        .ok()
        .and_then(|folder| std::fs::read_dir(folder).ok())
        .into_iter()
        .flatten()
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|found| found == "ron"))
        .collect();
    paths.sort();
    paths.into_iter().filter_map(|path| {
        let bench = bench_file::read(&path).ok()?;
        let place = |wanted: &str| {
            bench
                .instruments
                .iter()
                .find(|(_, plan)| plan.role.name() == wanted)
                .map(|(_, plan)| plan.place)
        };
        Some(RigCard {
            name: path.display().to_string(),
            title: bench.name.clone(),
            about: match bench.rider_ceiling_w {
                Some(ceiling) => format!("Real instruments, no target above {ceiling:.0} W."),
                None => "Real instruments.".to_owned(),
            },
            under_test: place("under-test"),
            reference: place("reference"),
            instruments: bench
                .instruments
                .iter()
                .map(|(device, plan)| {
                    format!(
                        "{}: {}, {} ({device})",
                        plan.name,
                        role(plan.role.name()),
                        place_words(place_name(plan.place))
                    )
                })
                .collect(),
            simulated: false,
        })
    })
}

/// Remembers a bench under its name and gives its file.
///
/// # Errors
/// If it has not exactly one device under test and one reference, or cannot be written.
pub fn remember(bench: &BenchFile) -> Result<PathBuf> {
    let name = places::plain(bench.name.trim());
    if name.is_empty() {
        bail!("give the bench a name");
    }
    let path = places::folder(BENCHES)?.join(format!("{name}.ron"));
    let text = bench_file::to_ron(bench);
    // Read before it is written: what is on the disk can always be used.
    bench_file::parse(&text, &path)?;
    std::fs::write(&path, text).with_context(|| format!("cannot write {}", path.display()))?;
    Ok(path)
}

/// Forgets a bench by its file.
///
/// # Errors
/// If the file is not one of the remembered benches, or cannot be deleted.
pub fn forget(file: &str) -> Result<()> {
    let path = PathBuf::from(file);
    if path.parent() != Some(places::folder(BENCHES)?.as_path()) {
        bail!("{file} is not a remembered bench");
    }
    std::fs::remove_file(&path).with_context(|| format!("cannot delete {file}"))
}

/// Where an instrument measures, in words.
fn place_words(place: &str) -> String {
    match place {
        "one-side" => "one side doubled".to_owned(),
        "unknown" => "place not known".to_owned(),
        known => format!("at the {known}"),
    }
}

fn role(role: &str) -> &'static str {
    match role {
        "under-test" => "under test",
        "reference" => "reference",
        "second-reference" => "second reference",
        _ => "witness",
    }
}
