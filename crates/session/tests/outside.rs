//! The documented format, read by somebody else: Python's own `sqlite3` and `hashlib` recompute
//! the seals from the description in the crate's documentation.

#![allow(clippy::unwrap_used, reason = "a test whose scene cannot be set fails")]

mod common;

use common::{event, recording};
use session::{Archive, annotate};
use std::process::Command;

#[test]
fn python_recomputes_the_seals() {
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/seal_check.py");
    let frozen = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/v1.prony");
    // STRICT tables need SQLite 3.37.
    let probe = "import sqlite3, sys; sys.exit(sqlite3.sqlite_version_info < (3, 37))";
    if !Command::new("python3")
        .args(["-c", probe])
        .status()
        .is_ok_and(|s| s.success())
    {
        println!("skipped: no python3 with SQLite 3.37 or later here");
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("outside.prony");
    recording(&path).close().unwrap();
    annotate(&path, &event(200)).unwrap();
    for path in [path.as_path(), frozen.as_ref()] {
        let output = Command::new("python3")
            .arg(script)
            .arg(path)
            .output()
            .unwrap();
        let head = Archive::open(path).unwrap().head_sha256().unwrap().unwrap();
        assert_eq!(String::from_utf8_lossy(&output.stdout).trim(), head);
        assert!(output.status.success(), "{output:?}");
    }
}
