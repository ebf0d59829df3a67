//! How long all findings of one session take, in this process and from the evidence on: the median
//! of many runs, in milliseconds, on stdout. Nothing passes or fails by it.
//!
//!     PRONY_SESSION=FILE cargo bench -p prony --bench findings

#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    missing_docs,
    reason = "a bench says its number on the terminal"
)]

use std::hint::black_box;
use std::path::PathBuf;
use std::time::{Duration, Instant};

const RUNS: usize = 101;

fn main() {
    let Some(path) = std::env::var_os("PRONY_SESSION").map(PathBuf::from) else {
        eprintln!("NOT RUN: set PRONY_SESSION to a session file");
        return;
    };
    let replayed = match prony::replaying::replay(&path) {
        Ok(replayed) => replayed,
        Err(error) => {
            eprintln!("NOT RUN: {error:#}");
            return;
        }
    };
    let evidence = replayed.bench.evidence(replayed.end);
    let settings = &replayed.bench.plan().settings;
    let mut times: Vec<Duration> = (0..RUNS)
        .map(|_| {
            let begin = Instant::now();
            black_box(analysis::assess::assess(black_box(&evidence), settings));
            begin.elapsed()
        })
        .collect();
    times.sort();
    println!("{:.3}", 1000.0 * times[RUNS / 2].as_secs_f64());
}
