//! How long scripts take to load and a run to be ridden by the runner alone.
//!
//! `cargo bench -p protocol` prints medians; without `--bench` (as `cargo test` runs it) a short
//! script goes through the same steps once.

#![expect(clippy::print_stdout, reason = "a bench prints what it measured")]
#![expect(clippy::disallowed_methods, reason = "a bench measures time")]
#![expect(clippy::unwrap_used, reason = "a bench has nobody to report to")]

use protocol::{Command, Input, Runner, RunnerConfig, Script, ready_scripts};
use std::fmt::Write;
use std::time::Instant;
use units::Timestamp;

fn main() {
    let full = std::env::args().any(|argument| argument == "--bench");
    let (steps, repeats) = if full { (10_000, 15) } else { (100, 1) };
    let text = script(steps);
    let label = format!("load a script of {steps} steps, {} kB", text.len() / 1000);
    median(&label, repeats, || {
        drop(Script::from_ron("long", &text).unwrap());
    });
    median("load every ready script", repeats, || {
        for ready in ready_scripts() {
            drop(ready.load().unwrap());
        }
    });
    let plan = Script::from_ron("long", &text).unwrap().plan().clone();
    median(
        &format!("ride {steps} steps, deadlines only"),
        repeats,
        || {
            let mut runner = Runner::new(plan.clone(), RunnerConfig::default());
            runner.handle(Timestamp::ZERO, Input::Start);
            let accept = Input::Command(Command::AcceptReadiness);
            runner.handle(Timestamp::from_secs(1), accept);
            while let Some(deadline) = runner.poll_timeout() {
                runner.handle(deadline, Input::Tick);
                while runner.poll_output().is_some() {}
            }
        },
    );
}

fn script(steps: usize) -> String {
    let mut text = String::from("Script(\n  title: \"long\",\n  steps: [\n");
    for number in 0..steps {
        let power_w = 100 + number % 200;
        writeln!(
            text,
            "    Hold(power_w: {power_w}, seconds: 3, settle_seconds: 1),"
        )
        .unwrap();
    }
    text.push_str("  ],\n)\n");
    text
}

fn median(what: &str, repeats: usize, mut work: impl FnMut()) {
    let mut took: Vec<f64> = (0..repeats)
        .map(|_| {
            let begin = Instant::now();
            work();
            begin.elapsed().as_secs_f64() * 1000.0
        })
        .collect();
    took.sort_by(f64::total_cmp);
    let (median, least) = (took[repeats / 2], took[0]);
    println!("{what}: median {median:.1} ms, least {least:.1} ms of {repeats}");
}
