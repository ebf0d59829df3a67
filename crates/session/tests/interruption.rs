//! A recording that ends without being closed: everything committed is there, and it is said to
//! be what it is.

#![allow(clippy::unwrap_used, reason = "a test whose scene cannot be set fails")]

mod common;

use common::{about, content, event, packet, recording, source};
use proptest::prelude::*;
use session::{
    Archive, Entry, Error, RECOVERED, Recorder, Recovery, SealState, annotate, recover, verify,
};
use std::path::{Path, PathBuf};
use units::Timestamp;

/// Copies a session with its companions, as they lie there, as a crash would leave them.
fn crash(path: &Path, folder: &Path) -> PathBuf {
    let copy = folder.join("crashed.prony");
    std::fs::copy(path, &copy).unwrap();
    std::fs::copy(with_suffix(path, "-wal"), with_suffix(&copy, "-wal")).unwrap();
    copy
}

fn with_suffix(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    name.into()
}

#[test]
fn a_dropped_recorder_leaves_everything_committed() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("dropped.prony");
    let mut recorder = recording(&path);
    recorder.append_packet(&packet(130)).unwrap();
    drop(recorder);
    let committed = content(&path).unwrap();
    assert_eq!(committed.entries.len(), 143);
    let report = verify(&path).unwrap();
    // 130 commits are three blocks of 40 and ten over; one of these ten came with an event.
    let SealState::UnsealedTail {
        rows: 11,
        times: Some((from, to)),
    } = report.state
    else {
        panic!("{report:?}")
    };
    assert_eq!(
        (from, to),
        (Timestamp::from_secs(30), Timestamp::from_millis(129 * 250))
    );
    let text = report.state.to_string();
    assert_eq!(
        text,
        "not closed, unsealed tail of 11 rows (0:30.0 to 0:32.3)"
    );
    assert!(matches!(
        annotate(&path, &event(0)),
        Err(Error::NotClosed { .. })
    ));

    assert_eq!(
        recover(&path).unwrap(),
        Recovery::Recovered { unsealed_rows: 11 }
    );
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    assert_eq!(verify(&path).unwrap().state, SealState::Sealed);
    let mut recovered = content(&path).unwrap();
    let Some(Entry::Event(last)) = recovered.entries.pop() else {
        panic!()
    };
    assert_eq!((last.kind.as_str(), last.at), (RECOVERED, to));
    assert_eq!(last.body["unsealed_rows"], 11);
    assert_eq!(recovered, committed);
    assert_eq!(recover(&path).unwrap(), Recovery::AlreadyClosed);
}

#[test]
fn a_crash_in_the_middle_leaves_everything_committed() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("running.prony");
    let mut recorder = recording(&path);
    let crashed = crash(&path, folder.path());
    let expected = content(&path).unwrap();
    assert_eq!(content(&crashed).unwrap(), expected);
    assert!(matches!(
        verify(&crashed).unwrap().state,
        SealState::UnsealedTail { rows: 11, .. }
    ));
    recover(&crashed).unwrap();
    assert_eq!(verify(&crashed).unwrap().state, SealState::Sealed);
    assert!(!with_suffix(&crashed, "-wal").exists());
    recorder.close().unwrap();
}

/// An annotation that was cut off while SQLite was rewriting pages: the file itself is half new,
/// its companion holds what it was before.
#[test]
fn a_cut_off_addition_is_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("noted.prony");
    recording(&path).close().unwrap();
    let before = content(&path).unwrap();
    let db = rusqlite::Connection::open(&path).unwrap();
    db.execute_batch("PRAGMA cache_size = 1; BEGIN IMMEDIATE")
        .unwrap();
    for seq in 1000..1500 {
        db.execute("INSERT INTO event VALUES (?1, 0, 'mark', '{}')", [seq])
            .unwrap();
    }
    let half = folder.path().join("half.prony");
    std::fs::copy(&path, &half).unwrap();
    std::fs::copy(
        with_suffix(&path, "-journal"),
        with_suffix(&half, "-journal"),
    )
    .unwrap();
    drop(db);
    assert_ne!(std::fs::read(&half).unwrap(), std::fs::read(&path).unwrap());
    for error in [Archive::open(&half).map(drop), verify(&half).map(drop)] {
        assert!(matches!(error, Err(Error::Interrupted { .. })), "{error:?}");
    }
    assert_eq!(recover(&half).unwrap(), Recovery::AlreadyClosed);
    assert_eq!(content(&half).unwrap(), before);
    assert_eq!(verify(&half).unwrap().state, SealState::Sealed);
}

#[test]
fn a_session_that_is_being_recorded_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("busy.prony");
    let mut recorder = recording(&path);
    assert!(matches!(recover(&path), Err(Error::InUse { .. })));
    assert!(matches!(
        annotate(&path, &event(0)),
        Err(Error::InUse { .. })
    ));
    recorder.append_packet(&packet(130)).unwrap();
    recorder.close().unwrap();
    assert_eq!(verify(&path).unwrap().state, SealState::Sealed);
}

#[test]
fn a_session_interrupted_right_after_its_opening_is_recovered() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("opened.prony");
    drop(Recorder::create(&path, &about(), &[source(1)]).unwrap());
    assert_eq!(
        verify(&path).unwrap().state,
        SealState::UnsealedTail {
            rows: 0,
            times: None
        }
    );
    assert_eq!(
        recover(&path).unwrap(),
        Recovery::Recovered { unsealed_rows: 0 }
    );
    assert_eq!(verify(&path).unwrap().state, SealState::Sealed);
    assert_eq!(content(&path).unwrap().about, about());
}

#[test]
fn what_is_broken_is_not_sealed_over() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("broken.prony");
    drop(recording(&path));
    let db = rusqlite::Connection::open(&path).unwrap();
    let trigger: String = db
        .query_row(
            "SELECT sql FROM sqlite_schema WHERE name = 'packet_no_update'",
            [],
            |row| row.get(0),
        )
        .unwrap();
    db.execute_batch("DROP TRIGGER packet_no_update; UPDATE packet SET source = 1 WHERE seq = 24")
        .unwrap();
    db.execute_batch(&trigger).unwrap();
    drop(db);
    let error = recover(&path).unwrap_err().to_string();
    assert!(error.contains("block 2, rows 22 to "), "{error}");
    assert_eq!(Archive::open(&path).unwrap().packet_count().unwrap(), 130);
}

#[test]
fn a_note_after_the_end_is_a_block_of_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("noted.prony");
    let closed = recording(&path).close().unwrap();
    let before = content(&path).unwrap();
    annotate(&path, &event(900)).unwrap();
    annotate(&path, &event(901)).unwrap();
    let report = verify(&path).unwrap();
    assert_eq!(
        (report.state, report.blocks),
        (SealState::Sealed, closed.blocks + 2)
    );
    let mut after = content(&path).unwrap();
    assert_eq!(after.entries.pop(), Some(Entry::Event(event(901))));
    assert_eq!(after.entries.pop(), Some(Entry::Event(event(900))));
    assert_eq!(after, before);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    /// The write-ahead log torn off anywhere: what is there is a beginning of the recording.
    #[test]
    fn a_torn_log_gives_a_beginning_of_the_recording(place in any::<prop::sample::Index>()) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("running.prony");
        let mut recorder = Recorder::create(&path, &about(), &[source(1), source(2)]).unwrap();
        for n in 0..60 {
            recorder.append_packet(&packet(n)).unwrap();
            recorder.commit().unwrap();
        }
        let crashed = crash(&path, folder.path());
        let log = with_suffix(&crashed, "-wal");
        let bytes = std::fs::read(&log).unwrap();
        std::fs::write(&log, &bytes[..place.index(bytes.len() + 1)]).unwrap();
        let packets = Archive::open(&crashed).unwrap().packets().unwrap();
        let expected: Vec<_> = (0..packets.len() as i64).map(packet).collect();
        prop_assert_eq!(&packets, &expected);
        let report = verify(&crashed).unwrap();
        prop_assert!(matches!(report.state, SealState::UnsealedTail { .. }), "{:?}", report);
        recover(&crashed).unwrap();
        prop_assert_eq!(Archive::open(&crashed).unwrap().packets().unwrap(), expected);
        prop_assert_eq!(verify(&crashed).unwrap().state, SealState::Sealed);
    }
}
