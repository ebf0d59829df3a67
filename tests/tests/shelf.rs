//! The shelf of the whole program: listed, judged, searched and tagged from the command line.

use acceptance::{prony, root};
use prony::shelving::Shelf;
use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output, Stdio};

fn shelf_of_demos() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for name in ["level-sweep-honest", "level-sweep-workshop"] {
        let file = format!("{name}.prony");
        let from = root().join("demo-sessions").join(&file);
        std::fs::copy(from, folder.path().join(&file)).expect("a demo session can be copied");
    }
    folder
}

fn run(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(prony())
        .args(["shelf", "--folder"])
        .arg(folder)
        .args(arguments)
        .env("XDG_CACHE_HOME", folder.join("cache"))
        .env("XDG_CONFIG_HOME", folder.join("config"))
        .env("XDG_DATA_HOME", folder.join("data"))
        .stdin(Stdio::null())
        .output()
        .expect("the program can be started")
}

fn list(folder: &Path, arguments: &[&str]) -> Vec<Value> {
    let outcome = run(folder, &[arguments, &["--json", "-"]].concat());
    assert!(
        outcome.status.success(),
        "{arguments:?}: {}",
        String::from_utf8_lossy(&outcome.stderr)
    );
    let document: Value =
        serde_json::from_slice(&outcome.stdout).expect("stdout holds one JSON document");
    document["sessions"].as_array().expect("a list").clone()
}

#[test]
fn the_command_line_lists_judges_searches_and_tags() {
    let folder = shelf_of_demos();
    let at = folder.path();
    let before = list(at, &[]);
    assert_eq!(before.len(), 2);
    assert!(before.iter().all(|session| session["verdict"].is_null()));

    let judged = list(at, &["--judge"]);
    assert!(judged.iter().all(|session| session["verdict"].is_string()));
    // What is injected into the workshop rig is 4 %, far beyond ±2 %; see its file.
    let found = list(at, &["--search", "verdict:\"shown beyond\""]);
    assert_eq!(found.len(), 1);
    assert_eq!(found[0]["name"], "level-sweep-workshop");
    // The verdict is that of `assess`, not a second judgement.
    let assessed = acceptance::assess(&at.join("level-sweep-workshop.prony"));
    assert_eq!(found[0]["verdict"], assessed["overall"]["verdict"]);

    let name = "level-sweep-honest";
    let tagged = list(
        at,
        &[
            "--session",
            name,
            "--tag",
            "published",
            "--note",
            "video 12",
        ],
    );
    let tagged = tagged.iter().find(|session| session["name"] == name);
    let tagged = tagged.expect("it is listed");
    assert_eq!(tagged["tags"][0], "published");
    assert_eq!(tagged["notes"][0]["words"], "video 12");
    assert_eq!(list(at, &["--search", "tag:published"]).len(), 1);
    let verified = session::verify(&at.join(format!("{name}.prony"))).expect("it reads");
    assert_eq!(verified.state, session::SealState::Sealed);

    let refused = run(at, &["--tag", "x"]);
    assert_eq!(refused.status.code(), Some(2));
    let refused = run(at, &["--sort", "colour"]);
    let words = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        words.contains("colour") && words.contains("firmware"),
        "{words}"
    );
}

/// The thumbnail is the ride: its mean is that of the seconds it was made from.
#[test]
fn the_window_gets_thumbnails_one_session_at_a_time() {
    let folder = shelf_of_demos();
    let mut shelf = Shelf::with_index(folder.path(), None).expect("a shelf");
    let mut judged = 0;
    while let Some(item) = shelf.judge_next().expect("the index takes it") {
        let judgement = item.judgement.as_ref().expect("just judged");
        let points: Vec<f64> = judgement
            .thumbnail
            .reference_w
            .iter()
            .flatten()
            .map(|w| f64::from(*w))
            .collect();
        assert!(points.len() > 60, "{}", points.len());
        let highest = points.iter().copied().fold(0.0, f64::max);
        assert!((200.0..420.0).contains(&highest), "{highest} W");
        judged += 1;
    }
    assert_eq!(judged, 2);
    assert!(shelf.interrupted().is_empty());
}
