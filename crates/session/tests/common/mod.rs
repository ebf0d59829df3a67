//! What the tests of this crate share.

#![allow(dead_code, reason = "each test program uses its own part of it")]

use serde_json::json;
use session::{
    About, Archive, Document, Entry, EventRow, FileInfo, Identity, Recorder, SourceInfo,
};
use std::path::Path;
use units::{Characteristic, Packet, SourceId, Timestamp};

/// Everything that a session holds, as it reads.
#[derive(Debug, PartialEq)]
pub struct Content {
    pub about: About,
    pub sources: Vec<SourceInfo>,
    pub entries: Vec<Entry>,
    pub files: Vec<(FileInfo, Vec<u8>)>,
}

pub fn content(path: &Path) -> session::Result<Content> {
    let archive = Archive::open(path)?;
    let mut files = Vec::new();
    for info in archive.files()? {
        let bytes = archive.file(&info.name)?.unwrap_or_default();
        files.push((info, bytes));
    }
    Ok(Content {
        about: archive.about()?,
        sources: archive.sources()?,
        entries: archive.entries()?,
        files,
    })
}

pub fn about() -> About {
    About {
        session: "5e551011".to_owned(),
        program: "prony 0.1.0".to_owned(),
        started: Some("2026-03-01T09:30:00.250+01:00".parse().unwrap()),
        script: Some(Document::new("first look", "(steps: [])")),
        claims: Some(Document::new("claims of the test", "(claims: [])")),
        decision_rule: Some(Document::new("guarded", "both ways, 95 %")),
        bike: Some("steel frame, 50/34, 11–28".to_owned()),
        environment: Some("21.5 °C, one fan".to_owned()),
        rider: Some("rider A".to_owned()),
        rider_mass_kg: Some(73.4),
        note: None,
        rig: Some("(gain: 1.02)".to_owned()),
    }
}

pub fn source(id: u16) -> SourceInfo {
    SourceInfo {
        id: SourceId(id),
        name: format!("instrument {id}"),
        role: "reference".to_owned(),
        place: "crank".to_owned(),
        identity: Identity {
            serial: Some(format!("SN{id}")),
            ..Identity::default()
        },
        calibration: json!({ "slope": 1.004, "date": "2026-02-11" }),
        simulated: true,
    }
}

pub fn packet(n: i64) -> Packet {
    Packet {
        at: Timestamp::from_millis(n * 250),
        source: SourceId((n % 2) as u16 + 1),
        epoch: (n / 100) as u32,
        characteristic: Characteristic(if n % 2 == 0 { 0x2A63 } else { 0x2AD2 }),
        bytes: (0..n % 20).map(|i| (n * 7 + i) as u8).collect(),
    }
}

pub fn event(n: i64) -> EventRow {
    EventRow {
        at: Timestamp::from_millis(n * 250 + 1),
        kind: "mark".to_owned(),
        body: json!({ "n": n, "words": "fan moved" }),
    }
}

pub fn append(recorder: &mut Recorder, entry: &Entry) -> session::Result<()> {
    match entry {
        Entry::Packet(packet) => recorder.append_packet(packet),
        Entry::Event(event) => recorder.append_event(event),
    }
}

/// A session with several blocks, two sources, packets, events and a file; not closed yet.
pub fn recording(path: &Path) -> Recorder {
    let mut recorder = Recorder::create(path, &about(), &[source(1), source(2)]).unwrap();
    for n in 0..130 {
        recorder.append_packet(&packet(n)).unwrap();
        if n % 10 == 0 {
            recorder.append_event(&event(n)).unwrap();
        }
        if n == 60 {
            let bytes = (0..6000).map(|i| (i % 251) as u8).collect();
            recorder
                .append_file(Timestamp::ZERO, "ride.csv", bytes)
                .unwrap();
        }
        recorder.commit().unwrap();
    }
    recorder
}
