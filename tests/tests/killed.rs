//! A recording that is killed loses at most the last 300 ms, and its file still verifies.

use acceptance::{could_not_run, prony};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

#[test]
#[expect(
    clippy::disallowed_methods,
    reason = "a test of real time reads the real clock"
)]
fn kill_9_loses_at_most_the_last_300_ms() {
    if !cfg!(unix) {
        could_not_run(
            "kill_9_loses_at_most_the_last_300_ms",
            "there is no kill -9 here",
        );
        return;
    }
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("killed.prony");
    let binary = prony();
    let mut child = Command::new(binary)
        .args(["run", "--script", "first-look", "--rig", "honest", "--out"])
        .arg(&path)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program can be started");
    // The session's clock starts a little after the process; the file tells when it is there.
    let deadline = Instant::now() + Duration::from_secs(30);
    while !path.exists() && Instant::now() < deadline {
        std::thread::sleep(Duration::from_millis(5));
    }
    let begun = Instant::now();
    std::thread::sleep(Duration::from_secs(5));
    child.kill().expect("a child can be killed");
    let ridden_s = begun.elapsed().as_secs_f64();
    child.wait().expect("a killed child can be waited for");

    let report = session::verify(&path).expect("an interrupted file can be read");
    assert!(
        !matches!(report.state, session::SealState::Broken),
        "{}",
        report.state
    );
    let archive = session::Archive::open(&path).expect("an interrupted file opens");
    let (_, last) = archive
        .time_range()
        .expect("it has rows")
        .expect("it has a range");
    drop(archive);
    // 300 ms is the bar of the design. The file appears before the session's clock starts, so the
    // ride was at most `ridden_s` long; 250 ms of slack are for the interval of the packets
    // themselves, which come four times a second, and not for the recorder.
    assert!(
        last.as_secs_f64() > ridden_s - 0.3 - 0.25 - 0.2,
        "killed after {ridden_s:.3} s, last row at {last}"
    );
    let recovered = session::recover(&path).expect("an interrupted file recovers");
    assert!(matches!(recovered, session::Recovery::Recovered { .. }));
    let report = session::verify(&path).expect("a recovered file can be read");
    assert!(
        matches!(report.state, session::SealState::Sealed),
        "{}",
        report.state
    );
}
