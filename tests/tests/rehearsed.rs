//! A whole session on the simulated bench: ridden, recorded, verified, replayed, judged.

use acceptance::{assess, rehearse};
use bench::Happening;
use serde_json::Value;
use session::SealState;

fn strings<'a>(document: &'a Value, list: &str, field: &str) -> Vec<&'a str> {
    document[list]
        .as_array()
        .expect("the document has this list")
        .iter()
        .filter_map(|entry| entry[field].as_str())
        .collect()
}

/// What was injected is written in crates/rig/rigs/workshop.ron: gain, speed dependence, warm-up
/// drift, lag with smoothing, two drop-outs to zero.
#[test]
fn the_faults_of_a_faulty_trainer_appear_within_their_uncertainty() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("workshop.prony");
    rehearse("level-sweep", "workshop", 1, &path);

    let report = session::verify(&path).expect("the file can be read");
    assert!(
        matches!(report.state, SealState::Sealed),
        "{}",
        report.state
    );

    let replayed = prony::replaying::replay(&path).expect("the session replays");
    assert_eq!(replayed.bench.end_reason(), Some("complete"));
    let flags = |list: &[(units::Timestamp, Happening)]| {
        list.iter()
            .filter(|(_, happening)| matches!(happening, Happening::Flag { .. }))
            .cloned()
            .collect::<Vec<_>>()
    };
    assert!(
        !flags(&replayed.recorded).is_empty(),
        "a faulty trainer raises flags while riding"
    );
    assert_eq!(
        flags(&replayed.concluded),
        flags(&replayed.recorded),
        "replay raises other flags"
    );
    let conclusions = |list: &[(units::Timestamp, Happening)]| {
        list.iter()
            .filter(|(_, happening)| !matches!(happening, Happening::Rules(_)))
            .cloned()
            .collect::<Vec<_>>()
    };
    assert_eq!(
        conclusions(&replayed.concluded),
        conclusions(&replayed.recorded),
        "replay concludes something else than the ride did"
    );

    let document = assess(&path);
    for key in [
        "schema",
        "session",
        "sources",
        "alignment",
        "cells",
        "overall",
        "examinations",
        "budget",
        "claims",
        "exclusions",
        "anomalies",
        "not_tested",
    ] {
        assert!(!document[key].is_null(), "{key} is missing");
    }
    assert!(strings(&document, "cells", "verdict").contains(&"shown beyond"));
    assert_eq!(document["overall"]["verdict"], "shown beyond");

    let dropouts = document["examinations"]["dropouts"]
        .as_array()
        .expect("a list");
    let zeros = dropouts
        .iter()
        .filter(|found| found["kind"] == "zero_under_load")
        .count();
    assert_eq!(zeros, 2, "{dropouts:?}");
}

#[test]
fn a_good_trainer_is_nowhere_shown_beyond() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (rig, seed) in [("honest", 1), ("honest", 2), ("honest", 3)] {
        let path = folder.path().join(format!("{rig}-{seed}.prony"));
        rehearse("level-sweep", rig, seed, &path);
        let document = assess(&path);
        let verdicts = strings(&document, "cells", "verdict");
        assert!(verdicts.len() > 8, "{rig}: {verdicts:?}");
        assert!(
            !verdicts.contains(&"shown beyond"),
            "{rig} seed {seed}: {verdicts:?}"
        );
    }
}

/// The same session assessed twice gives the same bytes.
#[test]
fn findings_are_reproducible() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("first-look.prony");
    rehearse("first-look", "honest", 5, &path);
    assert_eq!(assess(&path).to_string(), assess(&path).to_string());
}
