//! Nothing that was sealed changes unnoticed.

#![allow(clippy::unwrap_used, reason = "a test whose scene cannot be set fails")]

mod common;

use common::{content, event, recording};
use proptest::prelude::*;
use rusqlite::Connection;
use session::{BlockFault, Fault, SealState, VerifyReport, annotate, recover, verify};
use std::path::{Path, PathBuf};
use std::sync::LazyLock;
use units::Timestamp;

/// The bytes of one sealed session, made once.
static SEALED: LazyLock<Vec<u8>> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sealed.prony");
    recording(&path).close().unwrap();
    annotate(&path, &event(500)).unwrap();
    std::fs::read(&path).unwrap()
});

fn copy(folder: &Path) -> PathBuf {
    let path = folder.join("copy.prony");
    std::fs::write(&path, SEALED.as_slice()).unwrap();
    path
}

/// What verification says after somebody with an SQLite tool has first taken the triggers away,
/// run `sql`, and put the triggers back.
fn after(sql: &str) -> VerifyReport {
    let folder = tempfile::tempdir().unwrap();
    let path = copy(folder.path());
    let db = Connection::open(&path).unwrap();
    let triggers: Vec<(String, String)> = db
        .prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
        .unwrap()
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap()
        .collect::<rusqlite::Result<_>>()
        .unwrap();
    for (name, _) in &triggers {
        db.execute_batch(&format!("DROP TRIGGER {name}")).unwrap();
    }
    db.execute_batch(sql).unwrap();
    for (_, definition) in &triggers {
        db.execute_batch(definition).unwrap();
    }
    drop(db);
    verify(&path).unwrap()
}

#[test]
fn doing_nothing_is_no_tampering() {
    let report = after("SELECT 1");
    assert_eq!(report.state, SealState::Sealed, "{report:?}");
    assert!(report.notes.is_empty());
    assert_eq!(after("VACUUM").state, SealState::Sealed);
}

#[test]
fn every_kind_of_tampering_is_found_and_placed() {
    // Block 1 is rows 1 to 21 (19 of `about`, 2 sources); 40 commits fill a block, so the second
    // has packets 0 to 39, that is 0 to 9.75 s.
    let cases = [
        (
            "UPDATE about SET value = value || ' ' WHERE key = 'bike'",
            1,
        ),
        (
            "UPDATE about SET value = '80' WHERE key = 'rider_mass_kg'",
            1,
        ),
        ("DELETE FROM about WHERE key = 'simulated'", 1),
        ("UPDATE source SET calibration = '{}' WHERE id = 2", 1),
        ("UPDATE source SET simulated = 0", 1),
        ("UPDATE packet SET bytes = x'00' WHERE at_ns = 250000000", 2),
        (
            "UPDATE packet SET bytes = zeroblob(length(bytes)) WHERE at_ns = 2750000000",
            2,
        ),
        ("UPDATE packet SET at_ns = at_ns + 1 WHERE at_ns = 0", 2),
        ("UPDATE packet SET source = 2 WHERE at_ns = 0", 2),
        ("UPDATE packet SET link_epoch = 7 WHERE at_ns = 0", 2),
        (
            "UPDATE packet SET characteristic = '2a63' WHERE at_ns = 0",
            2,
        ),
        ("UPDATE event SET body = '{}' WHERE at_ns = 1000000", 2),
        ("UPDATE event SET kind = 'note' WHERE at_ns = 1000000", 2),
        ("DELETE FROM packet WHERE at_ns = 9750000000", 2),
        ("DELETE FROM event WHERE at_ns = 1000000", 2),
        ("UPDATE file SET bytes = CAST(bytes || x'00' AS BLOB)", 3),
        ("UPDATE file SET name = 'other.csv'", 3),
        ("UPDATE seal SET to_ns = 1 WHERE block = 2", 2),
        ("UPDATE seal SET kind = 'end' WHERE block = 3", 3),
        (
            "UPDATE seal SET sha256 = previous_sha256 WHERE block = 2",
            2,
        ),
        ("DELETE FROM seal WHERE block = 2", 2),
        (
            "DELETE FROM packet WHERE seq = (SELECT max(seq) FROM packet)",
            5,
        ),
        ("INSERT INTO packet VALUES (-5, 0, 1, 0, '2A63', x'00')", 1),
        (
            "INSERT INTO event SELECT seq, at_ns, 'note', '{}' FROM packet WHERE at_ns = 0",
            2,
        ),
        // Two packets change places.
        (
            "UPDATE packet SET seq = -1 WHERE seq = 40; UPDATE packet SET seq = 40 WHERE seq = 41; \
          UPDATE packet SET seq = 41 WHERE seq = -1",
            2,
        ),
        (
            "UPDATE event SET body = '{}' WHERE seq = (SELECT max(seq) FROM event)",
            6,
        ),
    ];
    for (sql, expected) in cases {
        let report = after(sql);
        assert_eq!(report.state, SealState::Broken, "{sql}: {report:?}");
        let first = report.faults.iter().find_map(|fault| match fault {
            Fault::Block { block, .. } => Some(*block),
            _ => None,
        });
        assert_eq!(first, Some(expected), "{sql}: {:?}", report.faults);
    }
}

#[test]
fn a_bad_block_is_named_with_its_rows_and_times_and_is_the_only_one() {
    let report = after("UPDATE packet SET bytes = x'00' WHERE at_ns = 250000000");
    let [fault] = report.faults.as_slice() else {
        panic!("{:?}", report.faults)
    };
    let Fault::Block {
        block: 2,
        times,
        what: BlockFault::Changed,
        ..
    } = fault
    else {
        panic!("{fault:?}")
    };
    assert_eq!(
        *times,
        Some((Timestamp::ZERO, Timestamp::from_millis(9750)))
    );
    let text = fault.to_string();
    assert!(text.starts_with("block 2, rows 22 to "), "{text}");
    assert!(
        text.ends_with(", 0:00.0 to 0:09.8: content or seal were changed"),
        "{text}"
    );
}

/// The same without any SQLite tool: one bit of one packet, flipped where it lies in the file.
#[test]
fn one_flipped_bit_of_a_packet_is_named_with_block_and_time() {
    let changed = common::packet(59);
    // In the file the bytes follow the characteristic.
    let written = [b"2AD2", changed.bytes.as_slice()].concat();
    let places: Vec<usize> = SEALED
        .windows(written.len())
        .enumerate()
        .filter(|(_, window)| *window == written)
        .map(|(place, _)| place)
        .collect();
    let [place] = places.as_slice() else {
        panic!("the bytes of the packet lie in the file at {places:?}")
    };
    let folder = tempfile::tempdir().unwrap();
    let path = copy(folder.path());
    let mut bytes = SEALED.clone();
    bytes[place + 7] ^= 1;
    std::fs::write(&path, &bytes).unwrap();
    let report = verify(&path).unwrap();
    assert_eq!(report.state, SealState::Broken);
    let [fault] = report.faults.as_slice() else {
        panic!("{:?}", report.faults)
    };
    let Fault::Block {
        block: 3,
        times: Some((from, to)),
        what: BlockFault::Changed,
        ..
    } = fault
    else {
        panic!("{fault:?}")
    };
    assert!((*from..=*to).contains(&changed.at), "{fault}");
    // The second block ends with packet 39 (9.75 s), the third with packet 79.
    assert!(
        fault
            .to_string()
            .ends_with(", 0:10.0 to 0:19.8: content or seal were changed"),
        "{fault}"
    );
}

/// A note to a sealed session is a block of its own: every row and seal that was there stays, and
/// the chain goes on from the last of them.
#[test]
fn a_note_goes_to_a_new_block_and_changes_nothing() {
    type Row = Vec<rusqlite::types::Value>;
    let rows = |path: &Path, table: &str| -> Vec<Row> {
        let db = Connection::open(path).unwrap();
        let mut statement = db
            .prepare(&format!("SELECT * FROM {table} ORDER BY 1"))
            .unwrap();
        let columns = statement.column_count();
        let read = statement.query_map([], |row| (0..columns).map(|i| row.get(i)).collect());
        read.unwrap().collect::<rusqlite::Result<_>>().unwrap()
    };
    let folder = tempfile::tempdir().unwrap();
    let path = copy(folder.path());
    let tables = ["about", "source", "packet", "event", "file", "seal"];
    let before = tables.map(|table| rows(&path, table));
    let head = verify(&path).unwrap().head_sha256.unwrap();
    annotate(&path, &event(600)).unwrap();
    for (table, before) in tables.iter().zip(&before) {
        let after = rows(&path, table);
        let added = usize::from(["event", "seal"].contains(table));
        assert_eq!(after.len(), before.len() + added, "{table}");
        assert_eq!(&after[..before.len()], before.as_slice(), "{table}");
    }
    let seal = rows(&path, "seal").pop().unwrap();
    assert_eq!(seal[1], "annotation".to_owned().into());
    assert_eq!(seal[7], head.into(), "it continues the block before it");
    assert_eq!(verify(&path).unwrap().state, SealState::Sealed);
}

#[test]
fn rows_added_behind_the_end_are_found() {
    let report = after("INSERT INTO event SELECT max(last_seq) + 1, 0, 'mark', '{}' FROM seal");
    assert!(
        matches!(report.faults.as_slice(), [Fault::Tail { .. }]),
        "{report:?}"
    );
    // An `about` row that comes late would overrule what was fixed.
    let report = after("INSERT INTO about SELECT max(last_seq) + 1, 'x', 'y' FROM seal");
    assert_eq!(report.state, SealState::Broken);
}

#[test]
fn a_cut_end_is_not_sealed() {
    // The seals of note and end are gone with all they covered: a recording never closed.
    let report = after(
        "DELETE FROM seal WHERE block >= 5;
         DELETE FROM packet WHERE seq > (SELECT max(last_seq) FROM seal);
         DELETE FROM event WHERE seq > (SELECT max(last_seq) FROM seal)",
    );
    assert!(
        matches!(report.state, SealState::UnsealedTail { rows: 0, .. }),
        "{report:?}"
    );
    assert_eq!(after("DELETE FROM seal").state, SealState::Broken);
}

#[test]
fn missing_triggers_and_foreign_tables_are_seen() {
    let folder = tempfile::tempdir().unwrap();
    let path = copy(folder.path());
    let db = Connection::open(&path).unwrap();
    db.execute_batch("CREATE INDEX mine ON packet (at_ns); ANALYZE")
        .unwrap();
    let report = verify(&path).unwrap();
    assert_eq!(report.state, SealState::Sealed);
    assert_eq!(report.notes, ["index mine is not part of the format"]);
    db.execute_batch("DROP TRIGGER packet_no_update").unwrap();
    let report = verify(&path).unwrap();
    assert_eq!(
        report.faults,
        [Fault::Definition {
            name: "trigger packet_no_update".into()
        }]
    );
    db.execute_batch("ALTER TABLE event ADD COLUMN more TEXT")
        .unwrap();
    assert_eq!(verify(&path).unwrap().state, SealState::Broken);
    drop(db);
    assert!(recover(&path).is_err());
}

#[test]
fn the_triggers_refuse_every_change() {
    let folder = tempfile::tempdir().unwrap();
    let path = copy(folder.path());
    let db = Connection::open(&path).unwrap();
    for table in ["about", "source", "packet", "event", "file", "seal"] {
        let column = if table == "seal" { "block" } else { "seq" };
        for sql in [
            format!("UPDATE {table} SET {column} = {column}"),
            format!("DELETE FROM {table}"),
            format!("INSERT OR REPLACE INTO {table} SELECT * FROM {table} LIMIT 1"),
            format!("REPLACE INTO {table} SELECT * FROM {table} ORDER BY {column} DESC LIMIT 1"),
        ] {
            let error = db.execute_batch(&sql).unwrap_err().to_string();
            assert!(error.contains("is append-only"), "{sql}: {error}");
        }
    }
    for sql in [
        "REPLACE INTO about SELECT 1000000, key, 'x' FROM about WHERE key = 'bike'",
        "REPLACE INTO source SELECT 1000000, id, '', '', '', '', '', 0 FROM source WHERE id = 1",
        "REPLACE INTO file SELECT 1000000, 0, name, x'' FROM file",
    ] {
        let error = db.execute_batch(sql).unwrap_err().to_string();
        assert!(error.contains("is append-only"), "{sql}: {error}");
    }
    drop(db);
    assert_eq!(std::fs::read(&path).unwrap(), SEALED.as_slice());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    /// Any one value of any row replaced by another of any type.
    #[test]
    fn any_changed_value_is_found(
        place in any::<prop::sample::Index>(),
        column in any::<prop::sample::Index>(),
        row in any::<prop::sample::Index>(),
        number in any::<i32>(),
    ) {
        let tables: [(&str, &[&str]); 6] = [
            ("about", &["key", "value"]),
            ("source", &["id", "name", "role", "place", "identity", "calibration", "simulated"]),
            ("packet", &["at_ns", "source", "link_epoch", "characteristic", "bytes"]),
            ("event", &["at_ns", "kind", "body"]),
            ("file", &["at_ns", "name", "bytes"]),
            ("seal", &["kind", "first_seq", "last_seq", "row_count", "from_ns", "to_ns",
                       "previous_sha256", "sha256"]),
        ];
        let (table, columns) = tables[place.index(tables.len())];
        let column = columns[column.index(columns.len())];
        let value = match column {
            "bytes" => format!("CAST(bytes || '{number}' AS BLOB)"),
            "at_ns" | "source" | "link_epoch" | "id" | "simulated" | "first_seq" | "last_seq"
            | "row_count" | "from_ns" | "to_ns" => format!("ifnull({column}, 0) + {number} + ({number} = 0)"),
            _ => format!("{column} || '{number}'"),
        };
        let offset = row.index(1 << 20);
        let report = after(&format!(
            "UPDATE {table} SET {column} = {value} WHERE rowid = (
                SELECT rowid FROM {table}
                LIMIT 1 OFFSET {offset} % (SELECT count(*) FROM {table}))"
        ));
        prop_assert_eq!(report.state, SealState::Broken);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// Bytes of the file itself, wherever they lie. Free space may change; content may not.
    #[test]
    fn flipped_bytes_never_pass_for_sealed_content(
        flips in proptest::collection::vec((any::<prop::sample::Index>(), 1u8..), 1..4),
    ) {
        let folder = tempfile::tempdir().unwrap();
        let path = copy(folder.path());
        let original = content(&path).unwrap();
        let mut bytes = SEALED.clone();
        // Flip where something is written: most of a small database is unused.
        let written: Vec<usize> = (0..bytes.len()).filter(|&i| bytes[i] != 0).collect();
        for (place, mask) in flips {
            bytes[written[place.index(written.len())]] ^= mask;
        }
        std::fs::write(&path, &bytes).unwrap();
        let sealed = verify(&path).is_ok_and(|report| report.state == SealState::Sealed);
        let found = content(&path);
        if sealed {
            prop_assert_eq!(found.unwrap(), original);
        }
    }

    /// Cut off, or overwritten from some place on, like a copy that failed.
    #[test]
    fn a_file_cut_short_is_not_sealed(place in any::<prop::sample::Index>(), zeros in any::<bool>()) {
        let folder = tempfile::tempdir().unwrap();
        let path = copy(folder.path());
        let mut bytes = SEALED.clone();
        let place = place.index(bytes.len() - 4096);
        if zeros {
            bytes[place..].fill(0);
        } else {
            bytes.truncate(place);
        }
        std::fs::write(&path, &bytes).unwrap();
        let sealed = verify(&path).is_ok_and(|report| report.state == SealState::Sealed);
        prop_assert!(!sealed);
        let _ = content(&path);
        let _ = recover(&path);
    }
}
