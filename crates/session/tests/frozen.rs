//! Old files stay readable. Each sample was made when its format version was fixed and is never
//! made anew; `examples/freeze_v1.rs` says how.

#![allow(clippy::unwrap_used, reason = "a test whose scene cannot be set fails")]

mod common;

use common::content;
use session::{Archive, Document, Entry, SealState, verify};
use std::path::Path;
use units::{Characteristic, Packet, SourceId, Span, Timestamp};

#[test]
fn version_1_reads_as_it_did_when_it_was_new() {
    let path = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/v1.prony"));
    let bytes = std::fs::read(path).unwrap();
    let found = content(path).unwrap();
    assert_eq!(found.about.session, "00000000000000000000000000000001");
    assert_eq!(
        found.about.started.unwrap().to_rfc3339(),
        "2026-01-15T18:00:00.125+01:00"
    );
    assert_eq!(
        found.about.script,
        Some(Document::new("frozen", "one step"))
    );
    assert_eq!(found.about.rider_mass_kg, Some(75.5));
    assert!(found.about.is_simulated());
    let [trainer, meter] = found.sources.as_slice() else {
        panic!("{:?}", found.sources)
    };
    assert_eq!(
        (trainer.role.as_str(), trainer.place.as_str()),
        ("under test", "hub")
    );
    assert_eq!(meter.identity.firmware.as_deref(), Some("1.2.3"));
    assert_eq!(meter.calibration["slope"], 1.0);
    assert_eq!(found.entries.len(), 53);
    let seventh = Packet {
        at: Timestamp::from_millis(2000),
        source: SourceId(1),
        epoch: 1,
        characteristic: Characteristic(0x2A63),
        bytes: vec![0x20, 0x00, 6, 0x00, 0xFF, 6],
    };
    assert_eq!(found.entries[7], Entry::Packet(seventh));
    let Some(Entry::Event(note)) = found.entries.last() else {
        panic!()
    };
    assert_eq!(
        (note.kind.as_str(), note.at),
        ("note", Timestamp::from_secs(60))
    );
    assert_eq!(found.files[0].1, b"time,power\n0,100\n");

    let archive = Archive::open(path).unwrap();
    assert_eq!(archive.format_version(), 1);
    assert_eq!(archive.packet_count().unwrap(), 50);
    assert_eq!(archive.duration().unwrap(), Span::from_secs(61));
    let report = verify(path).unwrap();
    assert_eq!(
        (report.state, report.blocks),
        (SealState::Sealed, 4),
        "{report:?}"
    );
    assert_eq!(
        report.head_sha256.as_deref(),
        Some("6b227e2e025e9cb61336597e7b352f19cbf8669e379d959fd79db05fd6d9d8e7")
    );
    assert_eq!(
        std::fs::read(path).unwrap(),
        bytes,
        "reading must not change the file"
    );
}
