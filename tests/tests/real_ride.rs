//! A real recorded ride, ridden again by the simulated rider, recorded and assessed.
//!
//! The ride is the file `tests/fixtures/hrv-activity.fit` inside the package `fitparser` 0.11.0
//! (MIT): an indoor ride of 1072 records, 1071 of them with power, mean 183.7609710550887 W. The
//! figures were decoded outside the project by two independent libraries (fitdecode 0.11.0 and
//! fitparse 1.2.0).

use acceptance::{assess, could_not_run, prony, root};
use cargo_metadata::MetadataCommand;
use std::process::{Command, Stdio};

const MEAN_W: f64 = 183.760_971_055_088_7;

fn fixture() -> Option<std::path::PathBuf> {
    let metadata = MetadataCommand::new()
        .manifest_path(root().join("Cargo.toml"))
        .exec()
        .ok()?;
    let package = metadata
        .packages
        .iter()
        .find(|package| *package.name == "fitparser")?;
    let path = package
        .manifest_path
        .parent()?
        .join("tests/fixtures/hrv-activity.fit");
    path.exists().then(|| path.into_std_path_buf())
}

#[test]
fn a_real_ride_is_reproduced_recorded_and_assessed() {
    let Some(ride) = fixture() else {
        could_not_run(
            "a_real_ride_is_reproduced",
            "the fitparser package is not in the registry",
        );
        return;
    };
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("ride.prony");
    let outcome = Command::new(prony())
        .args(["run", "--rig", "honest", "--fast", "--ride"])
        .arg(&ride)
        .arg("--out")
        .arg(&path)
        .stdin(Stdio::null())
        .output()
        .expect("the program can be started");
    assert!(
        outcome.status.success(),
        "{}",
        String::from_utf8_lossy(&outcome.stderr)
    );

    let document = assess(&path);
    let duration_s = document["session"]["duration_s"]
        .as_f64()
        .expect("a length");
    assert!((1070.0..1090.0).contains(&duration_s), "{duration_s}");

    // The reference is a crank meter that reads 0.15 % too little; what it recorded over the ride
    // is the recorded mean within 1 %.
    let replayed = prony::replaying::replay(&path).expect("the session replays");
    let evidence = replayed.bench.evidence(replayed.end);
    let reference = evidence
        .streams
        .iter()
        .find(|stream| stream.role == analysis::evidence::Role::PrimaryReference)
        .expect("there is a reference");
    let mean = reference
        .power_w
        .mean_over(units::Timestamp::ZERO, units::Timestamp::from_secs(1072))
        .expect("it was recorded");
    assert!((mean.value / MEAN_W - 1.0).abs() < 0.01, "{mean:?}");
}
