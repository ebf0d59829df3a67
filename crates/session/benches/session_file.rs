//! How long the session file takes, for a ten-hour session of five sources at 4 Hz.
//!
//! `cargo bench -p session` prints medians; without `--bench` (as `cargo test` runs it) a small
//! session goes through the same steps once.

#![expect(clippy::print_stdout, reason = "a bench prints what it measured")]
#![expect(clippy::disallowed_methods, reason = "a bench measures time")]
#![expect(clippy::unwrap_used, reason = "a bench has nobody to report to")]

use session::{About, Archive, EntryRef, Recorder, SourceInfo, verify};
use std::ops::ControlFlow;
use std::time::Instant;
use units::{Characteristic, Packet, SourceId, Timestamp};

fn main() {
    let full = std::env::args().any(|argument| argument == "--bench");
    let (packets, repeats) = if full { (720_000, 9) } else { (2_000, 1) };
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bench.prony");

    let begin = Instant::now();
    let mut recorder = Recorder::create(&path, &About::default(), &sources()).unwrap();
    for n in 0..packets {
        recorder.append_packet(&packet(n)).unwrap();
        if n % 5_000 == 4_999 {
            recorder.commit().unwrap();
        }
    }
    recorder.close().unwrap();
    println!(
        "append {packets} packets and close: {:.0} ms",
        millis(begin)
    );
    let length = std::fs::metadata(&path).unwrap().len();
    println!("file: {:.1} MB", length as f64 / 1e6);

    median("open", repeats, || drop(Archive::open(&path).unwrap()));
    let archive = Archive::open(&path).unwrap();
    median("for_each_packet", repeats, || {
        let mut bytes = 0;
        archive
            .for_each_packet(|packet| bytes += packet.bytes.len())
            .unwrap();
        assert_eq!(bytes as i64, packets * 30);
    });
    median("for_each_entry", repeats, || {
        let mut count = 0;
        archive
            .for_each_entry(|entry| {
                count += i64::from(matches!(entry, EntryRef::Packet(_)));
                ControlFlow::Continue(())
            })
            .unwrap();
        assert_eq!(count, packets);
    });
    median("packets, as a vector", repeats, || {
        assert_eq!(archive.packets().unwrap().len() as i64, packets);
    });
    median("packet_count and time_range", repeats, || {
        assert_eq!(archive.packet_count().unwrap(), packets);
        archive.time_range().unwrap().unwrap();
    });
    median("verify", repeats, || {
        assert!(verify(&path).unwrap().faults.is_empty())
    });

    let live = folder.path().join("live.prony");
    let mut recorder = Recorder::create(&live, &About::default(), &sources()).unwrap();
    let mut n = 0;
    let mut times: Vec<f64> = (0..if full { 400 } else { 5 })
        .map(|_| {
            for _ in 0..5 {
                recorder.append_packet(&packet(n)).unwrap();
                n += 1;
            }
            let begin = Instant::now();
            recorder.commit().unwrap();
            millis(begin)
        })
        .collect();
    times.sort_by(f64::total_cmp);
    println!(
        "commit of 5 packets: median {:.2} ms, 99 % {:.2} ms, longest {:.2} ms",
        times[times.len() / 2],
        times[times.len() * 99 / 100],
        times[times.len() - 1]
    );
}

fn median(name: &str, repeats: usize, mut work: impl FnMut()) {
    let mut times: Vec<f64> = (0..repeats)
        .map(|_| {
            let begin = Instant::now();
            work();
            millis(begin)
        })
        .collect();
    times.sort_by(f64::total_cmp);
    println!("{name}: median {:.1} ms of {repeats}", times[repeats / 2]);
}

fn millis(begin: Instant) -> f64 {
    begin.elapsed().as_secs_f64() * 1e3
}

fn sources() -> Vec<SourceInfo> {
    (1..=5)
        .map(|id| SourceInfo {
            id: SourceId(id),
            name: format!("instrument {id}"),
            role: "reference".to_owned(),
            place: "crank".to_owned(),
            identity: Default::default(),
            calibration: serde_json::Value::Null,
            simulated: true,
        })
        .collect()
}

/// Packet `n` of five sources at 4 Hz, with the 30 bytes of a full indoor bike data value.
fn packet(n: i64) -> Packet {
    Packet {
        at: Timestamp::from_millis(n * 50),
        source: SourceId((n % 5) as u16 + 1),
        epoch: 1,
        characteristic: Characteristic(0x2AD2),
        bytes: (0..30).map(|i| (n * 31 + i * 7) as u8).collect(),
    }
}
