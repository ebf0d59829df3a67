//! A claim sheet from before the first sample to the verdicts: kept with its hash, judged from the
//! session, completed by what was measured by hand.

use acceptance::{prony, root};
use serde_json::Value;
use std::path::Path;
use std::process::{Command, Stdio};

fn run(arguments: &[&str]) -> (String, String) {
    let outcome = Command::new(prony())
        .args(arguments)
        .current_dir(root())
        .stdin(Stdio::null())
        .output()
        .expect("the program can be started");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let said = (text(&outcome.stdout), text(&outcome.stderr));
    assert!(outcome.status.success(), "{arguments:?}: {}", said.1);
    said
}

fn verdict<'a>(document: &'a Value, name: &str) -> &'a str {
    let claims = document["claims"].as_array().expect("a list");
    let claim = claims.iter().find(|claim| claim["name"] == name);
    claim
        .and_then(|it| it["verdict"].as_str())
        .expect("the claim is judged")
}

#[test]
fn claims_are_fixed_before_the_ride_and_judged_after_it() {
    const SHEET: &str = "demo-sessions/ferrule-claims.ron";
    const MEASURED: &str = "demo-sessions/ferrule-measurements.ron";
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("claimed.prony");
    let path = path.to_str().expect("a path in UTF-8");
    run(&[
        "run",
        "--script",
        "level-sweep",
        "--rig",
        "honest",
        "--fast",
        "--seed",
        "21",
        "--claims",
        SHEET,
        "--out",
        path,
    ]);

    let archive = session::Archive::open(Path::new(path)).expect("it opens");
    let kept = archive.about().expect("it is readable").claims;
    let kept = kept.expect("the sheet is in the session");
    let sheet = std::fs::read_to_string(root().join(SHEET)).expect("the sheet is there");
    assert_eq!(kept.text, sheet);

    let (plain, _) = run(&["assess", path, "--json", "-"]);
    let plain: Value = serde_json::from_str(&plain).expect("one document");
    assert_eq!(plain["session"]["claims"]["sha256"], kept.sha256());
    assert_eq!(plain["claims"].as_array().map(Vec::len), Some(8));
    for (name, expected) in [
        ("largest power", "shown within"),
        ("what it sends", "shown within"),
        ("update rate", "shown within"),
        ("noise", "not tested"),
        ("mass", "not tested"),
        ("declaration of conformity", "not tested"),
    ] {
        assert_eq!(verdict(&plain, name), expected, "{name}");
    }
    let slope = plain["cells"][0]["budget"]
        .as_array()
        .and_then(|terms| terms.iter().find(|term| term["term"] == "reference slope"))
        .expect("the budget names the slope");
    let source = slope["source"].as_str().expect("a source");
    assert!(source.contains("static check of 2026-03-02"), "{source}");
    assert!(slope["u_pct"].as_f64().expect("a number") < 0.3, "{slope}");

    let (whole, words) = run(&["assess", path, "--measurements", MEASURED, "--json", "-"]);
    let whole: Value = serde_json::from_str(&whole).expect("one document");
    assert!(!words.contains("after the ride"), "{words}");
    for (name, expected) in [
        ("noise", "shown within"),
        ("mass", "shown beyond"),
        ("height", "shown within"),
        ("declaration of conformity", "shown within"),
    ] {
        assert_eq!(verdict(&whole, name), expected, "{name}");
    }
    // Another sheet than the one that was fixed is judged too, but not silently.
    let other = folder.path().join("other.ron");
    std::fs::write(
        &other,
        sheet.replace("PercentOfReading(2.0)", "PercentOfReading(5.0)"),
    )
    .expect("it can be written");
    let other = other.to_str().expect("a path in UTF-8");
    let (late, words) = run(&["assess", path, "--claims", other, "--json", "-"]);
    let late: Value = serde_json::from_str(&late).expect("one document");
    assert_eq!(verdict(&late, "power accuracy"), "shown within");
    assert!(words.contains("given after the ride"), "{words}");
}
