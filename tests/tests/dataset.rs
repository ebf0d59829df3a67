//! A Parquet dataset of many sessions: what replaces what, and what never does. Whether the files
//! hold what they should, `tests/exported.sh` asks others.

use acceptance::{prony, root};
use prony::exporting::{Destinations, export};
use session::{About, Archive, Recorder};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;

const TABLES: usize = 10;

fn demo(name: &str) -> PathBuf {
    root().join("demo-sessions").join(format!("{name}.prony"))
}

fn id(session: &Path) -> String {
    let archive = Archive::open(session).expect("it opens");
    archive.about().expect("it reads").session
}

/// Every file below a folder, by its path within.
fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut next = vec![folder.to_owned()];
    while let Some(folder) = next.pop() {
        for entry in std::fs::read_dir(folder).expect("it can be listed") {
            let path = entry.expect("it can be listed").path();
            if path.is_dir() {
                next.push(path);
            } else {
                found.insert(path.clone(), std::fs::read(path).expect("it can be read"));
            }
        }
    }
    let within = |path: PathBuf| path.strip_prefix(folder).expect("it is below").to_owned();
    found
        .into_iter()
        .map(|(path, bytes)| (within(path), bytes))
        .collect()
}

/// What the program says if a session cannot be put into a dataset.
fn put(session: &Path, dataset: &Path) -> Result<(), String> {
    let into = Destinations {
        csv: None,
        parquet: Some(dataset.to_owned()),
    };
    export(session, &into, |_, _| true)
        .map(drop)
        .map_err(|error| format!("{error:#}"))
}

/// A session in which nothing was received.
fn empty_session(path: &Path, about: &About) {
    let archive = Archive::open(&demo("first-look-honest")).expect("it opens");
    let sources = archive.sources().expect("they read");
    let mut recorder = Recorder::create(path, about, &sources).expect("a file");
    recorder.close().expect("it closes");
}

fn about() -> About {
    let archive = Archive::open(&demo("first-look-honest")).expect("it opens");
    archive.about().expect("it reads")
}

#[test]
fn a_session_replaces_its_own_partitions_and_no_others() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let dataset = folder.path().join("dataset");
    let session = folder.path().join("sweep.prony");
    std::fs::copy(demo("level-sweep-honest"), &session).expect("it can be copied");
    let mut command = Command::new(prony());
    command
        .arg("export")
        .arg(&session)
        .arg(demo("first-look-honest"));
    let done = command
        .arg("--parquet")
        .arg(&dataset)
        .output()
        .expect("it starts");
    assert!(
        done.status.success(),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
    let before = files(&dataset);
    assert_eq!(before.len(), 2 * TABLES);
    for session in [&session, &demo("first-look-honest")] {
        let part = format!("session={}/part.parquet", id(session));
        for table in [
            "seconds",
            "windows",
            "cells",
            "budget",
            "exclusions",
            "dropouts",
            "alignment",
            "raw",
            "events",
            "sessions",
        ] {
            assert!(
                before.contains_key(&Path::new(table).join(&part)),
                "{table}: {part}"
            );
        }
    }

    put(&session, &dataset).expect("it can be exported again");
    assert!(
        files(&dataset) == before,
        "the same session gives the same files"
    );

    // A note makes another last block and one more event, and touches nothing else.
    let note = session::EventRow {
        at: units::Timestamp::ZERO,
        kind: "note".into(),
        body: serde_json::json!({ "words": "published" }),
    };
    session::annotate(&session, &note).expect("it takes a note");
    put(&session, &dataset).expect("it can be exported again");
    let after = files(&dataset);
    let changed: Vec<String> = before
        .iter()
        .filter(|(path, bytes)| after[*path] != **bytes)
        .map(|(path, _)| path.display().to_string())
        .collect();
    let part = format!("session={}/part.parquet", id(&session));
    assert_eq!(
        changed,
        [format!("events/{part}"), format!("sessions/{part}")]
    );
    assert_eq!(after.len(), before.len());
}

#[test]
fn another_session_of_the_same_identifier_is_refused() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let dataset = folder.path().join("dataset");
    put(&demo("first-look-honest"), &dataset).expect("it can be exported");
    let before = files(&dataset);
    let other = folder.path().join("other.prony");
    let mut about = about();
    about.bike = Some("another one".to_owned());
    empty_session(&other, &about);
    assert_eq!(id(&other), id(&demo("first-look-honest")));
    let refused = put(&other, &dataset).expect_err("it is another session");
    for words in [
        "other.prony",
        "another session with the same identifier",
        "nothing was replaced",
    ] {
        assert!(refused.contains(words), "{refused}");
    }
    assert!(files(&dataset) == before);

    // The same when the row in `sessions` is not there, as after an export that was broken off.
    std::fs::remove_dir_all(dataset.join("sessions")).expect("it can be removed");
    let refused = put(&other, &dataset).expect_err("it is another session");
    assert!(refused.contains("another session"), "{refused}");

    let foreign = dataset.join(format!("sessions/session={}", id(&other)));
    std::fs::create_dir_all(&foreign).expect("a folder");
    std::fs::write(foreign.join("part.parquet"), "PAR1 something else PAR1").expect("a file");
    let refused = put(&other, &dataset).expect_err("it is no such file");
    assert!(
        refused.contains("not a whole Parquet file") && refused.contains("part.parquet"),
        "{refused}"
    );
}

/// Whatever breaks off an export, what was there stays whole, and exporting again mends it.
#[test]
fn an_export_that_fails_leaves_everything_as_it_was() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let dataset = folder.path().join("dataset");
    let session = demo("first-look-honest");
    put(&session, &dataset).expect("it can be exported");
    let before = files(&dataset);
    for tables in 0..TABLES {
        let into = Destinations {
            csv: None,
            parquet: Some(dataset.clone()),
        };
        let stopped = export(&session, &into, |written, of| {
            assert_eq!(of, TABLES);
            written < tables
        });
        assert!(
            stopped
                .err()
                .is_some_and(|error| format!("{error:#}").contains("given up"))
        );
        assert!(files(&dataset) == before, "given up after {tables} tables");
    }

    // A folder that is in the way of one table; the other session is not half there.
    let half = folder.path().join("half");
    std::fs::create_dir_all(&half).expect("a folder");
    std::fs::write(half.join("raw"), "in the way").expect("a file");
    let failed = put(&session, &half).expect_err("there is no room for raw");
    assert!(
        failed.contains("raw") && failed.contains("cannot "),
        "{failed}"
    );
    assert_eq!(files(&half).len(), 1, "nothing but what was in the way");

    // What a program that was killed in the middle has left is swept away.
    let leftover = dataset.join(format!("raw/session={}/_1.writing", id(&session)));
    std::fs::write(&leftover, "half a file").expect("a file");
    std::fs::remove_dir_all(dataset.join("sessions")).expect("it can be removed");
    put(&session, &dataset).expect("it can be exported");
    assert!(files(&dataset) == before);
}

#[test]
fn an_identifier_that_is_no_name_is_refused() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (index, id) in ["../../evil", "a=b/c", "", "x y", "con:"]
        .into_iter()
        .enumerate()
    {
        let session = folder.path().join(format!("{index}.prony"));
        let about = About {
            session: id.to_owned(),
            ..about()
        };
        empty_session(&session, &about);
        let dataset = folder.path().join("dataset");
        let refused = put(&session, &dataset).expect_err("it is no name");
        assert!(refused.contains("cannot name a folder"), "{refused}");
        assert!(!dataset.exists() && !folder.path().join("evil").exists());
    }
    let mut neither = Command::new(prony());
    let neither = neither
        .arg("export")
        .arg(demo("first-look-honest"))
        .output()
        .expect("it starts");
    assert_eq!(neither.status.code(), Some(2));
}
