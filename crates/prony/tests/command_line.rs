//! The command line as its user meets it: exit status, where the words go, and what they say.
//!
//! Exit status 0 done, 1 the work failed, 2 unusable arguments (the project's design, section 5;
//! 2 for usage is also the habit of the common Unix tools).

use std::process::{Command, Output, Stdio};

fn prony(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_prony"))
        .args(arguments)
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("WAYLAND_SOCKET")
        .stdin(Stdio::null())
        .output()
        .expect("the program can be started")
}

fn stderr(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn mistakes_are_named_with_a_remedy_and_an_exit_status() {
    for (arguments, status, words) in [
        (&["fly"][..], 2, "fly"),
        (&["run"], 2, "--rig"),
        (&["run", "--rig", "honest"], 2, "--script"),
        (
            &[
                "run",
                "--rig",
                "honnest",
                "--script",
                "first-look",
                "--fast",
            ],
            2,
            "honest",
        ),
        (
            &["run", "--rig", "honest", "--script", "first-lok", "--fast"],
            2,
            "first-look",
        ),
        (
            &["run", "--rig", "honest", "--ride", "no-such.fit"],
            2,
            "no-such.fit",
        ),
        (
            &["run", "--bench", "no-such.ron", "--script", "first-look"],
            2,
            "no-such.ron",
        ),
        (&["assess", "no-such.prony"], 1, "no-such.prony"),
        (&["verify", "no-such.prony"], 1, "no-such.prony"),
        (&["plan", "--claim", "0"], 2, "--claim"),
    ] {
        let output = prony(arguments);
        let said = stderr(&output);
        assert_eq!(
            output.status.code(),
            Some(status),
            "prony {arguments:?}: {said}"
        );
        assert!(
            said.contains(words),
            "prony {arguments:?} does not name {words}: {said}"
        );
        assert!(
            output.stdout.is_empty(),
            "prony {arguments:?} wrote a result"
        );
    }
}

#[cfg(target_os = "linux")]
#[test]
fn without_a_display_it_says_what_to_run_instead() {
    let output = prony(&[]);
    assert_eq!(output.status.code(), Some(1));
    let said = stderr(&output);
    assert!(
        said.contains("prony run --script first-look --rig honest --fast"),
        "{said}"
    );
}

#[test]
fn a_file_that_is_no_session_is_refused_by_name() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("letter.prony");
    std::fs::write(&path, "Dear workshop, this is not a session.").expect("the folder is ours");
    for command in ["assess", "verify"] {
        let output = prony(&[command, &path.to_string_lossy()]);
        assert_eq!(output.status.code(), Some(1));
        assert!(
            stderr(&output).contains("letter.prony"),
            "{}",
            stderr(&output)
        );
    }
}

#[test]
fn a_session_is_never_overwritten() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("taken.prony");
    std::fs::write(&path, "somebody's work").expect("the folder is ours");
    let path = path.to_string_lossy().into_owned();
    let output = prony(&[
        "run",
        "--rig",
        "honest",
        "--script",
        "first-look",
        "--fast",
        "--out",
        &path,
    ]);
    assert_eq!(output.status.code(), Some(1));
    assert!(
        stderr(&output).contains("taken.prony"),
        "{}",
        stderr(&output)
    );
    let kept = std::fs::read_to_string(&path).expect("it is still there");
    assert_eq!(kept, "somebody's work");
}

#[test]
fn a_plan_is_one_json_document() {
    let output = prony(&["plan", "--claim", "2", "--reference", "1", "--json", "-"]);
    assert!(output.status.success(), "{}", stderr(&output));
    let document: serde_json::Value =
        serde_json::from_slice(&output.stdout).expect("stdout holds one JSON document");
    assert_eq!(document["schema"], "prony-plan-1");
    assert!(
        document["levels"]
            .as_array()
            .is_some_and(|levels| !levels.is_empty())
    );
}

/// A rig whose trainer offers at most 150 W.
fn weak_rig(folder: &std::path::Path) -> String {
    let text = rig::built_in_text("honest").expect("a built-in rig");
    let weak = text.replacen(
        "    title:",
        "    brake: (power_range_w: (0, 150)),\n    title:",
        1,
    );
    assert_ne!(text, weak, "the rig file no longer says what is replaced");
    let path = folder.join("weak.ron");
    std::fs::write(&path, weak).expect("a file");
    path.display().to_string()
}

#[test]
fn a_script_beyond_the_device_is_refused_with_its_steps_and_capped_on_request() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let rig = weak_rig(folder.path());
    let out = folder.path().join("capped.prony").display().to_string();
    let mut arguments = vec![
        "run",
        "--script",
        "first-look",
        "--rig",
        &rig,
        "--fast",
        "--out",
        &out,
    ];
    let refused = prony(&arguments);
    assert_eq!(refused.status.code(), Some(2));
    let words = stderr(&refused);
    for part in [
        "--cap",
        "upper level",
        "200\u{a0}W",
        "the limit is 150\u{a0}W",
    ] {
        assert!(words.contains(part), "{part:?} is missing: {words}");
    }
    arguments.push("--cap");
    let ridden = prony(&arguments);
    assert_eq!(ridden.status.code(), Some(0), "{}", stderr(&ridden));
    assert!(stderr(&ridden).contains("the limit is 150\u{a0}W"));
}

#[test]
fn a_plan_lists_what_a_script_asks_for() {
    let output = prony(&["plan", "--script", "level-sweep", "--above", "240"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let words = String::from_utf8_lossy(&output.stdout).into_owned();
    // By hand: the staircases hold 250 and 300 W for 150 s each, once up and once down.
    for part in [
        "Level sweep",
        "10:00.0 above 240\u{a0}W",
        "highest 300\u{a0}W",
        "anchor",
    ] {
        assert!(words.contains(part), "{part:?} is missing: {words}");
    }
    let output = prony(&[
        "plan",
        "--script",
        "level-sweep",
        "--above",
        "240",
        "--json",
        "-",
    ]);
    let document: serde_json::Value =
        serde_json::from_slice(&output.stdout).expect("stdout holds one JSON document");
    assert_eq!(document["script"]["above_s"], 600.0);
    assert_eq!(document["script"]["highest_w"], 300.0);
    assert_eq!(
        document["script"]["curve"][0],
        serde_json::json!([0.0, 100.0])
    );
    assert_eq!(document["levels"].as_array().map(Vec::len), Some(5));
}
