//! `prony compare` on rehearsed sessions whose truth is known: repeats, before and after a change,
//! different devices, as many as there may be, and everything that is refused.

use acceptance::{prony, rehearse, root};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// Short, and steady at several levels.
const SCRIPT: &str = "first-look";

fn run(sessions: &[&Path], arguments: &[&str]) -> Output {
    Command::new(prony())
        .arg("compare")
        .args(sessions)
        .args(arguments)
        .stdin(Stdio::null())
        .output()
        .expect("the program can be started")
}

fn compared(sessions: &[&Path], arguments: &[&str]) -> Value {
    let outcome = run(sessions, &[arguments, &["--json", "-"]].concat());
    assert!(
        outcome.status.success(),
        "{}",
        String::from_utf8_lossy(&outcome.stderr)
    );
    serde_json::from_slice(&outcome.stdout).expect("stdout holds one JSON document")
}

/// What is said when it is refused, and the exit status.
fn refused(sessions: &[&Path], arguments: &[&str]) -> (i32, String) {
    let outcome = run(sessions, arguments);
    assert!(outcome.stdout.is_empty(), "a refusal has no result");
    let words = String::from_utf8_lossy(&outcome.stderr).into_owned();
    (outcome.status.code().expect("it was not killed"), words)
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

fn sentences(document: &Value) -> String {
    let list = document["sentences"].as_array().expect("a list");
    let words: Vec<&str> = list.iter().filter_map(Value::as_str).collect();
    words.join(" ")
}

/// A built-in rig with one text replaced by another, as a file.
fn changed_rig(folder: &Path, rig: &str, changes: &[(&str, &str)]) -> PathBuf {
    let source = root().join(format!("crates/rig/rigs/{rig}.ron"));
    let mut text = std::fs::read_to_string(source).expect("the rig is in the checkout");
    for (from, to) in changes {
        assert!(text.contains(from), "{rig}.ron has no {from}");
        text = text.replacen(from, to, 1);
    }
    let path = folder.join("changed.ron");
    std::fs::write(&path, text).expect("a temporary file can be written");
    path
}

#[test]
fn two_rides_on_one_bench_are_repeats_and_show_no_change() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let [one, two] = ["one", "two"].map(|name| folder.path().join(format!("{name}.prony")));
    rehearse(SCRIPT, "workshop", 1, &one);
    rehearse(SCRIPT, "workshop", 2, &two);
    let found = compared(&[&one, &two], &[]);
    assert_eq!(found["schema"], "prony-comparison-1");
    assert_eq!(found["kind"]["name"], "repeats", "{}", found["kind"]);
    let words = sentences(&found);
    assert!(words.contains("no change is shown"), "{words}");
    assert!(words.contains("no order"), "{words}");
    // Nothing changed: the mean change is within its own interval of zero, the narrower one too.
    let change = &found["shifts"][0]["change"];
    assert_eq!(change["shown"], "not-shown");
    let cancelled = &change["cancelled"]["interval"];
    assert!(number(&cancelled[0]) < 0.0 && number(&cancelled[1]) > 0.0);
    assert!(
        number(&change["cancelled"]["u_pct"]) < number(&change["independent"]["u_pct"]),
        "the same meter and the same bike are common to both"
    );
    // The same script is laid over itself, every step where it began.
    assert_eq!(found["overlay"]["along"], "step");
    let steps = found["overlay"]["steps"].as_array().expect("steps");
    assert!(steps.len() > 3);
    assert!(steps.iter().all(|step| step["began_s"][1].is_number()));
    let by_clock = compared(&[&one, &two], &["--by", "clock"]);
    assert_eq!(by_clock["overlay"]["along"], "clock");
    // What the person knows better stands, and what the sessions tell is said as well.
    let told = compared(&[&one, &two], &["--as", "units"]);
    assert_eq!(told["kind"]["name"], "units");
    assert_eq!(told["kind"]["told"], "repeats");
}

/// The rig's trainer reads 5.4 % too much before the update and 6.6 % after it, so that its error
/// changes by 1.2 % of the reference (the drivetrain changes that by less than a fortieth).
#[test]
fn an_update_that_changes_the_reading_is_found_within_its_interval() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let [before, after] = ["before", "after"].map(|name| folder.path().join(name));
    rehearse(SCRIPT, "workshop", 3, &before);
    let changes = [
        ("gain_pct: 5.4", "gain_pct: 6.6"),
        ("firmware: \"0.8.7\"", "firmware: \"0.9.0\""),
    ];
    let rig = changed_rig(folder.path(), "workshop", &changes);
    rehearse(SCRIPT, rig.to_str().expect("a plain path"), 4, &after);
    let found = compared(&[&before, &after], &[]);
    assert_eq!(found["kind"]["name"], "before-after", "{}", found["kind"]);
    let words = sentences(&found);
    assert!(
        words.contains("0.8.7 in session 1 and 0.9.0 in session 2"),
        "{words}"
    );
    let change = &found["shifts"][0]["change"];
    for interval in ["independent", "cancelled"] {
        let interval = &change[interval]["interval"];
        let truth = 1.2;
        assert!(
            number(&interval[0]) < truth && truth < number(&interval[1]),
            "{truth} is not in {interval}"
        );
    }
    assert_ne!(change["shown"], "not-shown", "{change}");
}

#[test]
fn a_good_trainer_and_a_bad_one_are_told_apart_and_reported() {
    let demo = |name: &str| root().join(format!("demo-sessions/level-sweep-{name}.prony"));
    let (good, bad) = (demo("honest"), demo("workshop"));
    let folder = tempfile::tempdir().expect("a temporary folder");
    let page = folder.path().join("report.html");
    let outcome = run(
        &[&good, &bad],
        &["--report", page.to_str().expect("a plain path")],
    );
    assert!(outcome.status.success());
    let summary = String::from_utf8_lossy(&outcome.stdout);
    assert!(summary.contains("session 1 – then session 2"), "{summary}");
    assert!(summary.contains("nothing as common"), "{summary}");
    let page = std::fs::read_to_string(page).expect("the report was written");
    assert!(page.contains("not an accredited laboratory"));
    assert!(page.contains("SIMULATED"));
    assert!(!page.contains("http:") && !page.contains("https:"));
    let found = compared(&[&good, &bad], &[]);
    assert_eq!(found["kind"]["name"], "devices");
    assert_eq!(found["order"]["is_an_order"], true);
    let pair = &found["order"]["pairs"][0];
    assert_eq!((&pair["better"], &pair["worse"]), (&1.into(), &2.into()));
    assert_eq!(pair["apart"], true);
    // Every verdict and every cell is that of `assess`: there is no second judgement.
    for (index, path) in [&good, &bad].into_iter().enumerate() {
        let assessed = acceptance::assess(path);
        let session = &found["sessions"][index];
        assert_eq!(session["verdict"], assessed["overall"]["verdict"]);
        assert_eq!(session["seal"], "sealed");
        let errors: Vec<&Value> = assessed["cells"]
            .as_array()
            .expect("cells")
            .iter()
            .map(|cell| &cell["bias_pct"])
            .collect();
        for condition in found["conditions"].as_array().expect("conditions") {
            let cells = condition["cells"].as_array().expect("cells");
            let own = cells.iter().find(|cell| cell["session"] == index + 1);
            if let Some(own) = own {
                assert!(errors.contains(&&own["bias_pct"]));
            }
        }
    }
}

#[test]
fn twelve_are_compared_and_thirteen_are_not() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let sessions: Vec<PathBuf> = (0..13)
        .map(|seed| {
            let path = folder.path().join(format!("{seed}.prony"));
            rehearse(SCRIPT, "honest", seed, &path);
            path
        })
        .collect();
    let paths: Vec<&Path> = sessions.iter().map(PathBuf::as_path).collect();
    let found = compared(&paths[..12], &[]);
    assert_eq!(found["sessions"].as_array().expect("a list").len(), 12);
    assert_eq!(found["kind"]["name"], "repeats");
    // Twelve repeats of a rig that changes nothing between them: the spread is what the budgets
    // expect or less, and its interval is a useful one.
    let spread = &found["spread"];
    assert_eq!(spread["sessions"], 12);
    let [low, high] = [0, 1].map(|end| number(&spread["interval"][end]));
    assert!(low < number(&spread["s_pct"]) && number(&spread["s_pct"]) < high);
    assert!(low < number(&spread["expected_pct"]), "{spread}");
    let (status, words) = refused(&paths, &[]);
    assert_eq!(status, 2);
    assert!(words.contains("2 to 12") && words.contains("13"), "{words}");
    let (status, words) = refused(&paths[..1], &[]);
    assert_eq!(status, 2);
    assert!(words.contains("2 to 12"), "{words}");
}

#[test]
fn what_cannot_be_compared_is_refused_by_name() {
    let demo = |name: &str| root().join(format!("demo-sessions/{name}.prony"));
    let good = demo("level-sweep-honest");
    let folder = tempfile::tempdir().expect("a temporary folder");
    let (status, words) = refused(&[&good, &good], &[]);
    assert_eq!(status, 1);
    assert!(words.contains("given twice"), "{words}");
    let copy = folder.path().join("copy.prony");
    std::fs::copy(&good, &copy).expect("a session can be copied");
    let (status, words) = refused(&[&good, &copy], &[]);
    assert_eq!(status, 1);
    assert!(words.contains("hold the same session"), "{words}");
    let missing = folder.path().join("missing.prony");
    let (status, words) = refused(&[&good, &missing], &[]);
    assert_eq!(status, 1);
    assert!(words.contains("missing.prony"), "{words}");
    let torn = folder.path().join("torn.prony");
    std::fs::write(&torn, "not a session").expect("a temporary file can be written");
    let (status, words) = refused(&[&good, &torn], &[]);
    assert_eq!(status, 1);
    assert!(words.contains("torn.prony"), "{words}");
    // A session that holds nothing to be judged.
    let script = folder.path().join("short.ron");
    let text = "Script(title: \"Short\", steps: [CoolDown(seconds: 20, power_w: 100)])";
    std::fs::write(&script, text).expect("a temporary file can be written");
    let short = folder.path().join("short.prony");
    rehearse(script.to_str().expect("a plain path"), "honest", 1, &short);
    let (status, words) = refused(&[&good, &short], &[]);
    assert_eq!(status, 1);
    assert!(
        words.contains("short.prony") && words.contains("no condition that could be judged"),
        "{words}"
    );
    // Another script: the conditions are compared, the rides are not laid over each other.
    let other = demo("first-look-honest");
    let found = compared(&[&good, &other], &[]);
    assert!(found["overlay"].is_null());
    let reasons = found["not_tested"].to_string();
    assert!(reasons.contains("rode another script"), "{reasons}");
    assert!(!found["conditions"].as_array().expect("a list").is_empty());
}
