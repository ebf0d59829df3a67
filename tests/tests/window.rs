//! The real window, on a display of its own: it paints, a session starts by two keys, Escape takes
//! the load off, and closing the window leaves a sealed file and a released brake.
//!
//! Needs `Xvfb`, `xdotool` and `import`/`convert` (Debian: xvfb, xdotool, imagemagick).

use acceptance::{Screen, could_not_run, prony, wait_for};
use bench::Happening;
use std::path::Path;
use std::time::Duration;

const TEST: &str = "the_window_paints_rides_releases_and_closes";

fn recorded(shelf: &Path) -> Option<std::path::PathBuf> {
    std::fs::read_dir(shelf)
        .ok()?
        .filter_map(|entry| Some(entry.ok()?.path()))
        .find(|path| path.extension().is_some_and(|found| found == "prony"))
}

#[test]
fn the_window_paints_rides_releases_and_closes() {
    if let Some(program) = Screen::lacks() {
        could_not_run(TEST, &format!("{program} is not installed"));
        return;
    }
    let folder = tempfile::tempdir().expect("a temporary folder");
    let screen = Screen::open(folder.path(), 100);
    let mut program = screen.start(&prony());
    let window = screen.window();
    let key = |key: &str| screen.key(&window, key);

    // Ride what is preselected; accept the cautions.
    key("Return");
    let shelf = screen.shelf();
    let session = wait_for("the session file", || recorded(&shelf));
    std::thread::sleep(Duration::from_secs(2));
    key("Return");
    std::thread::sleep(Duration::from_secs(6));
    key("Escape");
    std::thread::sleep(Duration::from_secs(2));
    screen.close(&window, &mut program);

    let report = session::verify(&session).expect("the session can be read");
    // The window is taken away without a word, which the window library answers with a panic;
    // even so the session is ended in order and its file sealed.
    assert!(
        matches!(report.state, session::SealState::Sealed),
        "{}",
        report.state
    );
    let events: Vec<Happening> = session::Archive::open(&session)
        .expect("the session opens")
        .events()
        .expect("its events can be read")
        .iter()
        .filter_map(|row| Happening::from_row(&row.kind, &row.body).ok())
        .collect();
    let begun = events.iter().position(
        |event| matches!(event, Happening::Target { power_w: Some(power), .. } if *power > 0.0),
    );
    let released = events
        .iter()
        .rposition(|event| matches!(event, Happening::Release { .. }));
    let begun = begun.expect("a load was asked for");
    let released = released.expect("Escape released the brake");
    assert!(released > begun);
    let loaded_again = events[released..].iter().any(
        |event| matches!(event, Happening::Target { power_w: Some(power), .. } if *power > 0.0),
    );
    assert!(!loaded_again, "a load came back after the release");
}
