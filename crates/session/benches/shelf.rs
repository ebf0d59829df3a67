//! How long the list of a shelf of 1 000 sessions takes: with no index, which is then built from the
//! files, and with the index that an earlier start left behind. Every index is opened anew, as a
//! start of the program does.
//!
//! `cargo bench -p session --bench shelf` prints medians; without `--bench` (as `cargo test` runs it)
//! a small shelf goes through the same steps once.

#![expect(clippy::print_stdout, reason = "a bench prints what it measured")]
#![expect(clippy::disallowed_methods, reason = "a bench measures time")]
#![expect(clippy::unwrap_used, reason = "a bench has nobody to report to")]

use session::shelf::{Judgement, ShelfIndex, Thumbnail};
use session::{About, Document, Identity, Recorder, SourceInfo};
use std::path::Path;
use std::time::Instant;
use units::{Characteristic, Packet, SourceId, Timestamp};

fn main() {
    let full = std::env::args().any(|argument| argument == "--bench");
    let (sessions, repeats) = if full { (1_000, 9) } else { (10, 1) };
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("sessions");
    std::fs::create_dir(&folder).unwrap();
    for number in 0..sessions {
        record(&folder.join(format!("{number:04}.prony")), number);
    }

    let cold = times(repeats, |repeat| {
        let file = home.path().join(format!("cold-{repeat}.index"));
        assert_eq!(list(&folder, &file), sessions);
    });
    say("no index: built from the files", &cold);

    let file = home.path().join("warm.index");
    assert_eq!(list(&folder, &file), sessions);
    let mut index = ShelfIndex::open(&folder, Some(&file), "bench").unwrap();
    for item in index.items().unwrap() {
        index.keep(&item.path, &judgement()).unwrap();
    }
    drop(index);
    let warm = times(repeats, |_| assert_eq!(list(&folder, &file), sessions));
    say("with its index", &warm);

    let one = folder.join("0000.prony");
    let changed = times(repeats, |_| {
        std::fs::remove_file(&one).unwrap();
        record(&one, 0);
        assert_eq!(list(&folder, &file), sessions);
    });
    say("with its index, one file new", &changed);
}

fn list(folder: &Path, file: &Path) -> usize {
    let mut index = ShelfIndex::open(folder, Some(file), "bench").unwrap();
    index.items().unwrap().len()
}

/// A session of two instruments and two minutes, closed and sealed.
fn record(path: &Path, number: usize) {
    let about = About {
        session: format!("{number:032x}"),
        started: Some("2026-03-01T09:30:00+01:00".parse().unwrap()),
        script: Some(Document::new(format!("script {}", number % 7), "()")),
        note: Some(format!("session number {number}")),
        ..About::default()
    };
    let mut recorder = Recorder::create(path, &about, &[source(1), source(2)]).unwrap();
    for second in 0..120 {
        for id in [1, 2] {
            let packet = Packet {
                at: Timestamp::from_secs(second),
                source: SourceId(id),
                epoch: 0,
                characteristic: Characteristic(0x2A63),
                bytes: vec![0; 8],
            };
            recorder.append_packet(&packet).unwrap();
        }
    }
    recorder.close().unwrap();
}

fn source(id: u16) -> SourceInfo {
    SourceInfo {
        id: SourceId(id),
        name: format!("instrument {id}"),
        role: if id == 1 { "under-test" } else { "reference" }.to_owned(),
        place: "hub".to_owned(),
        identity: Identity::default(),
        calibration: serde_json::Value::Null,
        simulated: false,
    }
}

fn judgement() -> Judgement {
    Judgement {
        verdict: Some("likely within".to_owned()),
        sentence: "One sentence about the device, as long as they usually are.".to_owned(),
        bias_pct: Some(0.4),
        expanded_pct: Some(1.4),
        thumbnail: Thumbnail {
            seconds_per_point: 2.0,
            under_test_w: vec![Some(200); 60],
            reference_w: vec![Some(199); 60],
        },
    }
}

fn times(repeats: usize, mut work: impl FnMut(usize)) -> Vec<f64> {
    let mut times: Vec<f64> = (0..repeats)
        .map(|repeat| {
            let begin = Instant::now();
            work(repeat);
            begin.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times
}

fn say(what: &str, times: &[f64]) {
    println!(
        "{what}: median {:.0} ms of {}, longest {:.0} ms",
        times[times.len() / 2],
        times.len(),
        times[times.len() - 1]
    );
}
