//! A long script loads; how long it takes is printed, not judged.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "test helpers are tests as well"
)]

use protocol::{Runner, RunnerConfig, Script};
use std::fmt::Write;

#[test]
fn ten_thousand_steps_load() {
    let mut text = String::from("Script(\n  title: \"long\",\n  steps: [\n");
    for number in 0..10_000 {
        let power_w = 100 + number % 200;
        writeln!(
            text,
            "    Hold(power_w: {power_w}, seconds: 3, settle_seconds: 1),"
        )
        .unwrap();
    }
    text.push_str("  ],\n)\n");
    #[expect(
        clippy::disallowed_methods,
        reason = "a test that only prints the time it took"
    )]
    let began = std::time::Instant::now();
    let script = Script::from_ron("long", &text).unwrap();
    println!(
        "10 000 steps, {} kB: {:?}",
        text.len() / 1000,
        began.elapsed()
    );
    assert_eq!(script.plan().steps.len(), 10_000);
    assert_eq!(script.plan().steps[9_999].place.line, 10_003);
    let runner = Runner::new(script.plan().clone(), RunnerConfig::default());
    assert_eq!(runner.plan().steps.len(), 10_000);
}
