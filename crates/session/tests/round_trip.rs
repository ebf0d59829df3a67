//! What goes in comes out, in the order it went in.

#![allow(clippy::unwrap_used, reason = "a test whose scene cannot be set fails")]

mod common;

use common::{about, append, content, event, packet, recording, source};
use proptest::prelude::*;
use session::{Archive, EXTENSION, Entry, EntryRef, Error, EventRow, Recorder, SealState, verify};
use std::ops::ControlFlow;
use units::{Characteristic, Packet, SourceId, Span, Timestamp};

#[test]
fn a_session_reads_back_as_it_was_recorded() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ride with spaces é.prony");
    let closed = recording(&path).close().unwrap();
    let found = content(&path).unwrap();
    assert_eq!(found.about, about());
    assert!(found.about.is_simulated());
    assert_eq!(found.sources, [source(1), source(2)]);
    let mut expected = Vec::new();
    for n in 0..130 {
        expected.push(Entry::Packet(packet(n)));
        if n % 10 == 0 {
            expected.push(Entry::Event(event(n)));
        }
    }
    assert_eq!(found.entries, expected);
    assert_eq!(found.files.len(), 1);
    assert_eq!(found.files[0].0.length_bytes, 6000);
    assert_eq!(found.files[0].1[250..252], [250, 0]);

    let archive = Archive::open(&path).unwrap();
    assert_eq!(archive.packet_count().unwrap(), 130);
    assert_eq!(archive.packets().unwrap().len(), 130);
    assert_eq!(archive.events().unwrap().len(), 13);
    assert_eq!(archive.duration().unwrap(), Span::from_millis(129 * 250));
    assert_eq!(archive.file("other.csv").unwrap(), None);
    assert!(archive.is_closed().unwrap());
    assert_eq!(
        archive.head_sha256().unwrap(),
        Some(closed.head_sha256.clone())
    );
    let report = verify(&path).unwrap();
    assert_eq!(report.state, SealState::Sealed, "{report:?}");
    assert_eq!(
        (report.packets, report.events, report.blocks),
        (130, 13, closed.blocks)
    );
    assert_eq!(report.head_sha256, Some(closed.head_sha256));
    assert_eq!(report.state.to_string(), "sealed");
}

#[test]
fn a_closed_session_is_one_file_and_a_closed_recorder_takes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("one").with_extension(EXTENSION);
    let mut recorder = recording(&path);
    assert!(folder.path().join("one.prony-wal").exists());
    let first = recorder.close().unwrap();
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    assert!(matches!(
        recorder.append_packet(&packet(0)),
        Err(Error::Closed { .. })
    ));
    assert!(matches!(
        recorder.append_event(&event(0)),
        Err(Error::Closed { .. })
    ));
    assert!(matches!(
        recorder.add_source(&source(9)),
        Err(Error::Closed { .. })
    ));
    assert_eq!(recorder.close().unwrap(), first);
    // Reading and verifying leave no trace either.
    let before = std::fs::read(&path).unwrap();
    content(&path).unwrap();
    verify(&path).unwrap();
    assert_eq!(std::fs::read(&path).unwrap(), before);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

#[test]
fn a_running_recording_can_be_read_up_to_its_last_commit() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("live.prony");
    let mut recorder = recording(&path);
    let archive = Archive::open(&path).unwrap();
    recorder.append_packet(&packet(130)).unwrap();
    assert_eq!(recorder.waiting(), 1);
    assert_eq!(archive.packet_count().unwrap(), 130);
    recorder.commit().unwrap();
    assert_eq!(archive.packet_count().unwrap(), 131);
    assert_eq!(archive.duration().unwrap(), Span::from_millis(130 * 250));
    assert!(!archive.is_closed().unwrap());
    // The reader keeps the file from becoming single, which is said, and nothing is lost.
    let error = recorder.close().unwrap_err();
    assert!(matches!(error, Error::InUse { .. }), "{error}");
    assert!(archive.is_closed().unwrap());
    drop(archive);
    recorder.close().unwrap();
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    assert_eq!(verify(&path).unwrap().state, SealState::Sealed);
}

#[test]
fn what_does_not_fit_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.prony");
    std::fs::write(&path, "a letter").unwrap();
    let error = Recorder::create(&path, &about(), &[])
        .map(drop)
        .unwrap_err();
    assert!(matches!(error, Error::Exists { .. }), "{error}");
    assert_eq!(std::fs::read(&path).unwrap(), b"a letter");
    let mut recorder =
        Recorder::create(&folder.path().join("b.prony"), &about(), &[source(1)]).unwrap();
    let refused = recorder.append_packet(&packet(1)).unwrap_err();
    assert!(
        matches!(
            refused,
            Error::UnknownSource {
                source_id: SourceId(2),
                ..
            }
        ),
        "{refused}"
    );
    recorder.add_source(&source(2)).unwrap();
    recorder.append_packet(&packet(1)).unwrap();
    assert!(matches!(
        recorder.add_source(&source(2)),
        Err(Error::Taken { .. })
    ));
    recorder
        .append_file(Timestamp::ZERO, "a.fit", vec![1])
        .unwrap();
    let refused = recorder
        .append_file(Timestamp::ZERO, "a.fit", vec![2])
        .unwrap_err();
    assert!(refused.to_string().contains("a.fit"), "{refused}");
}

#[test]
fn what_is_not_a_session_is_said_to_be_none() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("x.prony");
    let open = || Archive::open(&path).map(drop).unwrap_err();
    assert!(matches!(open(), Error::Missing { .. }));
    std::fs::write(&path, "").unwrap();
    assert!(open().to_string().contains("it is empty"), "{}", open());
    std::fs::write(&path, [b'x'; 5000]).unwrap();
    assert!(
        open().to_string().contains("not an SQLite file"),
        "{}",
        open()
    );
    std::fs::remove_file(&path).unwrap();
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute_batch("CREATE TABLE t (a)").unwrap();
    drop(other);
    assert!(
        open().to_string().contains("application id is 0"),
        "{}",
        open()
    );
    std::fs::remove_file(&path).unwrap();
    recording(&path).close().unwrap();
    rusqlite::Connection::open(&path)
        .unwrap()
        .pragma_update(None, "user_version", 2)
        .unwrap();
    assert!(
        matches!(
            open(),
            Error::NewerFormat {
                found: 2,
                known: 1,
                ..
            }
        ),
        "{}",
        open()
    );
    assert!(verify(&path).is_err());
}

/// Rows of any content, in any grouping of commits.
fn entries() -> impl Strategy<Value = Vec<(Entry, bool)>> {
    let packet = (
        any::<i64>(),
        1u16..4,
        any::<u32>(),
        any::<u16>(),
        any::<Vec<u8>>(),
    )
        .prop_map(|(at, source, epoch, characteristic, bytes)| {
            Entry::Packet(Packet {
                at: Timestamp::from_nanos(at),
                source: SourceId(source),
                epoch,
                characteristic: Characteristic(characteristic),
                bytes,
            })
        });
    let event = (any::<i64>(), ".{0,8}", ".{0,12}", any::<f64>()).prop_map(|(at, kind, s, x)| {
        Entry::Event(EventRow {
            at: Timestamp::from_nanos(at),
            kind: kind.replace('\0', " "),
            body: serde_json::json!({ "words": s, "number": x }),
        })
    });
    proptest::collection::vec((prop_oneof![3 => packet, 1 => event], any::<bool>()), 0..80)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn any_rows_come_back_in_order(rows in entries()) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("any.prony");
        let sources = [source(1), source(2), source(3)];
        let mut recorder = Recorder::create(&path, &about(), &sources).unwrap();
        for (entry, commit) in &rows {
            append(&mut recorder, entry).unwrap();
            if *commit {
                recorder.commit().unwrap();
            }
        }
        recorder.close().unwrap();
        let archive = Archive::open(&path).unwrap();
        let expected: Vec<Entry> = rows.into_iter().map(|(entry, _)| entry).collect();
        prop_assert_eq!(&archive.entries().unwrap(), &expected);
        let mut last = 0;
        archive.for_each_entry(|entry| {
            let seq = match entry {
                EntryRef::Packet(packet) => packet.seq,
                EntryRef::Event(event) => event.seq,
            };
            assert!(seq > last);
            last = seq;
            ControlFlow::Continue(())
        }).unwrap();
        let packets = expected.iter().filter(|e| matches!(e, Entry::Packet(_))).count();
        prop_assert_eq!(archive.packet_count().unwrap(), packets as i64);
        prop_assert_eq!(verify(&path).unwrap().state, SealState::Sealed);
    }
}
