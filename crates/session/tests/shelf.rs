//! The shelf's list: from the files, from the index, and after everything that can happen to both.

#![allow(
    clippy::unwrap_used,
    reason = "a test may stop where its own data are wrong"
)]

mod common;

use common::{about, recording};
use session::shelf::{
    Direction, ItemState, Judgement, Query, Remark, SILENT_AFTER_NS, ShelfIndex, ShelfItem, SortBy,
    Thumbnail, add_remark, sort,
};
use session::{About, Document, Identity, Recorder, SealState, SourceInfo, verify};
use std::path::Path;
use units::SourceId;

fn device(name: &str, firmware: &str) -> SourceInfo {
    SourceInfo {
        id: SourceId(1),
        name: name.to_owned(),
        role: "under-test".to_owned(),
        place: "hub".to_owned(),
        identity: Identity {
            firmware: Some(firmware.to_owned()),
            ..Identity::default()
        },
        calibration: serde_json::Value::Null,
        simulated: false,
    }
}

fn session(path: &Path, day: u32, name: &str, firmware: &str, script: &str) {
    let about = About {
        session: format!("{day:032x}"),
        started: Some(format!("2026-03-{day:02}T09:30:00+01:00").parse().unwrap()),
        script: Some(Document::new(script, "()")),
        rig: None,
        ..about()
    };
    let mut recorder = Recorder::create(path, &about, &[device(name, firmware)]).unwrap();
    recorder.append_event(&common::event(40)).unwrap();
    recorder.append_event(&common::event(400)).unwrap();
    recorder.close().unwrap();
}

fn judgement(verdict: &str) -> Judgement {
    Judgement {
        verdict: Some(verdict.to_owned()),
        sentence: "One sentence.".to_owned(),
        bias_pct: Some(0.4),
        expanded_pct: Some(1.4),
        thumbnail: Thumbnail {
            seconds_per_point: 2.0,
            under_test_w: vec![Some(200), None],
            reference_w: vec![Some(199), Some(201)],
        },
    }
}

fn names(items: &[ShelfItem]) -> Vec<&str> {
    items.iter().map(|item| item.name.as_str()).collect()
}

#[test]
fn the_list_says_what_the_files_say_and_remembers_what_was_judged() {
    let folder = tempfile::tempdir().unwrap();
    let cache = tempfile::tempdir().unwrap();
    let index = cache.path().join("index.sqlite");
    let (shelf, file) = (folder.path(), Some(index.as_path()));
    session(&shelf.join("a.prony"), 1, "Alpha", "1.0", "level sweep");
    session(&shelf.join("b.prony"), 2, "Beta", "2.0", "first look");
    std::fs::write(shelf.join("c.prony"), "not a session").unwrap();
    std::fs::write(shelf.join("notes.txt"), "not looked at").unwrap();

    let mut first = ShelfIndex::open(shelf, file, "prony 1").unwrap();
    let items = first.items().unwrap();
    assert_eq!(names(&items), ["b", "a", "c"]);
    assert_eq!(items[0].device.as_deref(), Some("Beta"));
    assert_eq!(items[0].firmware.as_deref(), Some("2.0"));
    assert_eq!(items[0].script.as_deref(), Some("first look"));
    assert_eq!(items[0].length_s, 90.0);
    assert_eq!(items[0].state, ItemState::Sealed);
    assert!(matches!(&items[2].state, ItemState::Unreadable { why } if why.contains("c.prony")));
    first
        .keep(&items[1].path, &judgement("shown within"))
        .unwrap();
    assert!(first.keep(&shelf.join("z.prony"), &judgement("x")).is_err());
    let before = first.items().unwrap();
    assert_eq!(before[1].verdict(), Some("shown within"));
    drop(first);

    // The same list from the index of the last start; another program judges anew.
    let mut again = ShelfIndex::open(shelf, file, "prony 1").unwrap();
    assert_eq!(again.items().unwrap(), before);
    let mut newer = ShelfIndex::open(shelf, file, "prony 2").unwrap();
    assert_eq!(newer.items().unwrap()[1].judgement, None);

    // A damaged index, and one that is not there, are made anew; somebody else's file is not.
    let mut bytes = std::fs::read(&index).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle..].fill(0x55);
    std::fs::write(&index, bytes).unwrap();
    let mut rebuilt = ShelfIndex::open(shelf, file, "prony 1").unwrap();
    let items = rebuilt.items().unwrap();
    assert_eq!(names(&items), ["b", "a", "c"]);
    let foreign = cache.path().join("letter.txt");
    std::fs::write(&foreign, "dear reader").unwrap();
    let mut beside = ShelfIndex::open(shelf, Some(&foreign), "prony 1").unwrap();
    assert_eq!(beside.items().unwrap(), items);
    assert_eq!(std::fs::read(&foreign).unwrap(), b"dear reader");

    // A file that goes and one that comes.
    std::fs::remove_file(shelf.join("b.prony")).unwrap();
    session(&shelf.join("d.prony"), 4, "Delta", "1.0", "level sweep");
    assert_eq!(names(&rebuilt.items().unwrap()), ["d", "a", "c"]);
}

#[test]
fn notes_and_tags_are_added_behind_the_end_and_change_nothing_before() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.prony");
    session(&path, 1, "Alpha", "1.0", "level sweep");
    let before = common::content(&path).unwrap();
    let written = "2026-04-01T10:00:00+02:00".parse().unwrap();
    let mut index = ShelfIndex::open(folder.path(), None, "prony 1").unwrap();
    index.items().unwrap();
    for remark in [
        Remark::Tag("published".into()),
        Remark::Tag("chain".into()),
        Remark::Note(" fan was off \n".into()),
        Remark::Tag("chain".into()),
        Remark::Untag("published".into()),
    ] {
        add_remark(&path, &remark, written).unwrap();
    }
    let item = index.items().unwrap().remove(0);
    assert_eq!(item.tags, ["chain"]);
    assert_eq!(item.notes.len(), 1);
    assert_eq!(item.notes[0].words, "fan was off");
    assert_eq!(item.notes[0].written, Some(written));
    assert_eq!(item.length_s, 90.0, "a remark is no part of the ride");
    assert_eq!(verify(&path).unwrap().state, SealState::Sealed);
    let after = common::content(&path).unwrap();
    assert_eq!(after.about, before.about);
    assert_eq!(after.entries[..before.entries.len()], before.entries[..]);
    assert_eq!(after.entries.len(), before.entries.len() + 5);
}

#[test]
fn an_interrupted_recording_is_told_from_a_running_one_by_its_silence() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("torn.prony");
    let recorder = recording(&path);
    let mut index = ShelfIndex::open(folder.path(), None, "prony 1").unwrap();
    let item = index.items().unwrap().remove(0);
    assert_eq!(item.state, ItemState::Open);
    assert!(item.written_ns > 0);
    assert!(!item.is_interrupted(item.written_ns + SILENT_AFTER_NS - 1));
    assert!(item.is_interrupted(item.written_ns + SILENT_AFTER_NS));
    assert_eq!(item.state_words(item.written_ns), "recording");
    let error = add_remark(
        &path,
        &Remark::Tag("x".into()),
        "2026-04-01T10:00:00Z".parse().unwrap(),
    );
    assert!(error.is_err(), "an open recording takes no remark");
    drop(recorder);
    assert!(matches!(
        session::recover(&path).unwrap(),
        session::Recovery::Recovered { .. }
    ));
    assert_eq!(index.items().unwrap()[0].state, ItemState::Sealed);
}

#[test]
fn sessions_are_found_by_place_and_by_word_and_put_in_order() {
    let folder = tempfile::tempdir().unwrap();
    let shelf = folder.path();
    session(
        &shelf.join("a.prony"),
        1,
        "Alpha trainer",
        "1.0",
        "level sweep",
    );
    session(
        &shelf.join("b.prony"),
        12,
        "Beta trainer",
        "2.1",
        "first look",
    );
    session(
        &shelf.join("c.prony"),
        20,
        "alpha trainer",
        "1.2",
        "level sweep",
    );
    let mut index = ShelfIndex::open(shelf, None, "prony 1").unwrap();
    index.items().unwrap();
    index
        .keep(&shelf.join("a.prony"), &judgement("shown within"))
        .unwrap();
    index
        .keep(&shelf.join("c.prony"), &judgement("likely beyond"))
        .unwrap();
    let written = "2026-04-01T10:00:00Z".parse().unwrap();
    add_remark(
        &shelf.join("b.prony"),
        &Remark::Tag("Video 7".into()),
        written,
    )
    .unwrap();
    let mut items = index.items().unwrap();
    let found = |typed: &str| -> String {
        let query = Query::parse(typed);
        let fitting = items.iter().filter(|item| query.fits(item, i64::MAX));
        fitting.map(|item| item.name.as_str()).collect()
    };
    for (typed, expected) in [
        ("", "cba"),
        ("ALPHA", "ca"),
        ("alpha sweep", "ca"),
        ("device:alpha firmware:1.2", "c"),
        ("script:\"first look\"", "b"),
        ("tag:\"video 7\"", "b"),
        ("tag:video", ""),
        ("verdict:within", "a"),
        ("verdict:\"not judged\"", "b"),
        ("date:2026-03-1", "b"),
        ("after:2026-03-12", "cb"),
        ("before:2026-03-12", "ba"),
        ("before:2026-03", "cba"),
        ("state:sealed", "cba"),
        ("nowhere:x", ""),
    ] {
        assert_eq!(found(typed), expected, "{typed:?}");
    }
    let mut ordered = |by, direction| {
        sort(&mut items, by, direction);
        items
            .iter()
            .map(|item| item.name.as_str())
            .collect::<String>()
    };
    assert_eq!(ordered(SortBy::Date, Direction::Rising), "abc");
    assert_eq!(ordered(SortBy::Device, Direction::Rising), "cab");
    assert_eq!(ordered(SortBy::Firmware, Direction::Falling), "bca");
    assert_eq!(ordered(SortBy::Verdict, Direction::Rising), "acb");
}
