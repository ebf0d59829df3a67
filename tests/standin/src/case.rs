//! One process for each test, because the address of the bus belongs to the process.

use crate::bus::PrivateBus;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

const CASE: &str = "STANDIN_CASE";
const FOLDER: &str = "STANDIN_FOLDER";
/// A test that takes longer than this hangs.
const PATIENCE_S: u64 = 180;

/// Runs the body of the test `name`, which no other test's name may contain, in a process of its own,
/// in which the system bus is a private one in the folder that the body is given. The body starts the
/// bus there, usually by starting a [`StandIn`](crate::StandIn).
///
/// Without `dbus-daemon` the test says loudly that it was not run; where `CI=true` it fails.
///
/// # Panics
/// When the test fails, hangs, or cannot be run in CI.
pub fn alone(name: &str, body: impl FnOnce(&Path)) {
    alone_within(name, PATIENCE_S, body);
}

/// As [`alone`], for a test that may take this many seconds.
///
/// # Panics
/// As [`alone`].
pub fn alone_within(name: &str, seconds: u64, body: impl FnOnce(&Path)) {
    if std::env::var(CASE).is_ok_and(|case| case == name) {
        let folder = std::env::var_os(FOLDER).expect("whoever sets the case sets the folder");
        body(Path::new(&folder));
        return;
    }
    if !PrivateBus::is_installed() {
        not_run(name);
        return;
    }
    let folder = tempfile::tempdir().expect("a temporary folder can be made");
    let log = std::fs::File::create(folder.path().join("log")).expect("the folder is ours");
    let errors = log.try_clone().expect("an open file can be shared");
    let mut child = Command::new(std::env::current_exe().expect("a running test has a path"))
        .args([name, "--include-ignored", "--nocapture", "--test-threads=1"])
        .env(CASE, name)
        .env(FOLDER, folder.path())
        // A task of the Linux library that panics when a call of its own goes unanswered costs
        // nothing but a line on stderr; a backtrace of it would read 60 MiB of symbols into the
        // memory that tests measure.
        .env("RUST_BACKTRACE", "0")
        .env(
            "DBUS_SYSTEM_BUS_ADDRESS",
            PrivateBus::address_in(folder.path()),
        )
        .stdin(Stdio::null())
        .stdout(log)
        .stderr(errors)
        .spawn()
        .expect("a test can start itself");
    for _ in 0..seconds * 20 {
        if let Some(status) = child.try_wait().expect("our own child can be asked") {
            let log = std::fs::read_to_string(folder.path().join("log")).unwrap_or_default();
            let ran = log.contains("1 passed");
            assert!(
                status.success() && ran,
                "{name} failed in its own process:\n{log}"
            );
            show(&log);
            return;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    let _ = child.kill();
    let _ = child.wait();
    let log = std::fs::read_to_string(folder.path().join("log")).unwrap_or_default();
    panic!("{name} hangs after {seconds} s:\n{log}");
}

#[expect(
    clippy::print_stdout,
    reason = "the figures of a test are seen with --nocapture"
)]
fn show(log: &str) {
    println!("{log}");
}

fn not_run(name: &str) {
    let words = format!("{name} WAS NOT RUN: {}", crate::bus::BusError::Missing);
    assert!(
        std::env::var("CI").map_or(true, |ci| ci != "true"),
        "{words}"
    );
    // Past the harness, which would keep the output of a test that passes to itself.
    let _ = writeln!(std::io::stderr(), "\n*** {words}\n");
}
