//! Makes the small sample of format version 1 that the tests keep:
//!
//! `cargo run -p session --example freeze_v1 -- crates/session/tests/data/v1.prony`
//!
//! It was run once, when the version was fixed, and is not run again: the sample stands for the
//! files that are out there. A new version gets a sample and a program of its own.

use session::{About, Document, EventRow, Identity, Recorder, SourceInfo, annotate};
use std::error::Error;
use std::path::PathBuf;
use units::{Characteristic, Packet, SourceId, Timestamp};

fn main() -> Result<(), Box<dyn Error>> {
    let path = PathBuf::from(std::env::args_os().nth(1).ok_or("name the file to make")?);
    let about = About {
        session: "00000000000000000000000000000001".to_owned(),
        program: "prony 0.1.0".to_owned(),
        started: Some("2026-01-15T18:00:00.125+01:00".parse()?),
        script: Some(Document::new("frozen", "one step")),
        claims: Some(Document::new("frozen claims", "power within 2 %")),
        decision_rule: Some(Document::new("frozen rule", "guarded both ways")),
        bike: Some("test frame".to_owned()),
        environment: Some("20 °C".to_owned()),
        rider: Some("nobody".to_owned()),
        rider_mass_kg: Some(75.5),
        note: Some("made to be read by every later version".to_owned()),
        rig: Some("(seed: 1)".to_owned()),
    };
    let source = |id, name: &str, role: &str, place: &str| SourceInfo {
        id: SourceId(id),
        name: name.to_owned(),
        role: role.to_owned(),
        place: place.to_owned(),
        identity: Identity {
            firmware: Some("1.2.3".to_owned()),
            ..Identity::default()
        },
        calibration: serde_json::json!({ "slope": 1.0 }),
        simulated: true,
    };
    let sources = [
        source(1, "sample trainer", "under test", "hub"),
        source(2, "sample meter", "reference", "crank"),
    ];
    let mut recorder = Recorder::create(&path, &about, &sources)?;
    for n in 0..50_u8 {
        recorder.append_packet(&Packet {
            at: Timestamp::from_millis(i64::from(n) * 500 - 1000),
            source: SourceId(1 + u16::from(n % 2)),
            epoch: 1,
            characteristic: Characteristic(0x2A63),
            bytes: vec![0x20, 0x00, n, 0x00, 0xFF, n],
        })?;
        if n % 25 == 0 {
            recorder.append_event(&EventRow {
                at: Timestamp::from_millis(i64::from(n) * 500),
                kind: "mark".to_owned(),
                body: serde_json::json!({ "n": n, "half": 0.5, "words": "ü" }),
            })?;
        }
        recorder.commit()?;
    }
    recorder.append_file(
        Timestamp::ZERO,
        "original.csv",
        b"time,power\n0,100\n".to_vec(),
    )?;
    recorder.close()?;
    drop(recorder);
    annotate(
        &path,
        &EventRow {
            at: Timestamp::from_secs(60),
            kind: "note".to_owned(),
            body: serde_json::json!({ "author": "nobody", "reason": "a sample needs one" }),
        },
    )?;
    Ok(())
}
