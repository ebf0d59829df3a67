//! The whole job in the real window, by keys alone: simulated bench, script, ride at ×60,
//! findings, report kept, reopened from the shelf, put beside an older session, played again.
//!
//! Needs `Xvfb`, `xdotool` and `import`/`convert` (Debian: xvfb, xdotool, imagemagick).

use acceptance::{Screen, could_not_run, prony, rehearse, wait_for};
use std::path::PathBuf;
use std::time::Duration;

const TEST: &str = "the_whole_job_by_keys";

#[test]
fn the_whole_job_by_keys() {
    if let Some(program) = Screen::lacks() {
        could_not_run(TEST, &format!("{program} is not installed"));
        return;
    }
    let folder = tempfile::tempdir().expect("a temporary folder");
    let screen = Screen::open(folder.path(), 500);
    let shelf = screen.shelf();
    std::fs::create_dir_all(&shelf).expect("a folder can be made");
    let older = shelf.join("2025-01-01-090000-first-look-honest.prony");
    rehearse("first-look", "honest", 7, &older);

    let mut program = screen.start(&prony());
    let window = screen.window();
    let key = |key: &str| screen.key(&window, key);

    // Simulated bench and script are preselected; simulated time goes × 60.
    key("Right");
    key("Right");
    key("Return");
    screen.title(&window, "the ride", |title| title.starts_with("First look"));
    let session: PathBuf = wait_for("the session file", || {
        std::fs::read_dir(&shelf)
            .ok()?
            .filter_map(|entry| Some(entry.ok()?.path()))
            .find(|path| path.extension().is_some_and(|end| end == "prony") && *path != older)
    });
    // The cautions, and whatever waits for an answer on the way. When the script has ended and its
    // findings are there, the same key leads to them.
    let label = session
        .file_stem()
        .expect("a session has a name")
        .to_string_lossy()
        .into_owned();
    for _ in 0..90 {
        std::thread::sleep(Duration::from_secs(1));
        key("Return");
        if screen.hand(&["getwindowname", &window]).starts_with(&label) {
            break;
        }
    }
    screen.title(&window, "the findings", |title| title.starts_with(&label));

    // The report is kept beside the session without a dialog.
    let report = session.with_extension("html");
    key("k");
    let kept = wait_for("the report", || {
        std::fs::read_to_string(&report)
            .ok()
            .filter(|text| text.contains("</html>"))
    });
    assert!(kept.contains("<svg"), "the report holds its plots");

    // Let the bench go; the older session is opened from the shelf, then the new one again.
    key("x");
    key("5");
    screen.title(&window, "the shelf", |title| title == "Prony");
    key("Down");
    key("Down");
    key("Return");
    screen.title(&window, "the findings of the older session", |title| {
        title.starts_with("2025-01-01-090000-first-look-honest")
    });
    key("5");
    key("Up");
    key("Return");
    screen.title(&window, "the findings of the new session", |title| {
        title.starts_with(&label)
    });

    // Both are marked and put side by side.
    key("5");
    key("m");
    key("Down");
    key("m");
    key("Return");
    screen.title(&window, "the comparison", |title| {
        title.starts_with("2 sessions side by side")
    });
    assert!(screen.colours() > 20);
    key("Escape");
    screen.title(&window, "the shelf again", |title| title == "Prony");

    // The chosen session is played again, and put away.
    key("space");
    screen.title(&window, "the replay", |title| {
        title.starts_with("Replay of")
    });
    key("x");
    screen.title(&window, "the shelf after the replay", |title| {
        title == "Prony"
    });

    screen.close(&window, &mut program);
    let report = session::verify(&session).expect("the session can be read");
    assert!(
        matches!(report.state, session::SealState::Sealed),
        "{}",
        report.state
    );
}
