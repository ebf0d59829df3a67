//! Shared helpers of the acceptance tests: rehearsed sessions, the program's own binary, and the
//! one way in which a test says that it could not run.

pub mod bluetooth;
pub mod browser;
pub mod rides;
mod riding;
mod screen;

pub use riding::{Noting, record, record_as, ride};
pub use screen::{Killed, Screen, wait_for};

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// The root of the checkout.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .expect("tests/ lies in the root")
        .to_owned()
}

/// The program's binary, of the same build as the running test. `cargo test --workspace` makes it,
/// because the program has integration tests of its own; alone, these tests build it if it is not
/// there.
///
/// # Panics
/// If it cannot be built.
pub fn prony() -> PathBuf {
    let test = std::env::current_exe().expect("a running test has a path");
    let folder = test
        .parent()
        .and_then(Path::parent)
        .expect("tests run in target/PROFILE/deps");
    let binary = folder.join(format!("prony{}", std::env::consts::EXE_SUFFIX));
    if !binary.exists() {
        let mut build = Command::new(env!("CARGO"));
        build
            .args(["build", "--quiet", "--locked", "-p", "prony"])
            .current_dir(root());
        if folder.file_name().is_some_and(|name| name == "release") {
            build.arg("--release");
        }
        let built = build
            .stdin(Stdio::null())
            .status()
            .expect("cargo can be started");
        assert!(built.success(), "the program does not build");
    }
    binary
}

/// Rehearses a ready script on a built-in rig into a session file.
///
/// # Panics
/// If the program fails.
pub fn rehearse(script: &str, rig: &str, seed: u64, out: &Path) {
    let seed = seed.to_string();
    let arguments = [
        "run", "--script", script, "--rig", rig, "--fast", "--seed", &seed, "--out",
    ];
    let outcome = Command::new(prony())
        .args(arguments)
        .arg(out)
        .stdin(Stdio::null())
        .output()
        .expect("the program can be started");
    assert!(
        outcome.status.success(),
        "prony {arguments:?} failed: {}",
        String::from_utf8_lossy(&outcome.stderr)
    );
}

/// The findings of a session as JSON.
///
/// # Panics
/// If the program fails or does not print one JSON document.
pub fn assess(session: &Path) -> serde_json::Value {
    let outcome = Command::new(prony())
        .arg("assess")
        .arg(session)
        .args(["--json", "-"])
        .stdin(Stdio::null())
        .output()
        .expect("the program can be started");
    assert!(
        outcome.status.success(),
        "prony assess failed: {}",
        String::from_utf8_lossy(&outcome.stderr)
    );
    serde_json::from_slice(&outcome.stdout).expect("stdout holds one JSON document")
}

/// Says that a test could not run for want of something. Where everything must be there, in
/// continuous integration, that is a failure.
///
/// # Panics
/// If `CI` is `true`.
#[expect(
    clippy::print_stderr,
    reason = "a test that did not run must say so past the harness"
)]
pub fn could_not_run(test: &str, reason: &str) {
    assert!(
        std::env::var("CI").as_deref() != Ok("true"),
        "{test} could not run: {reason}; in continuous integration that is a failure"
    );
    eprintln!("NOT RUN: {test}: {reason}");
}
