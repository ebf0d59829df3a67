//! The real window, on a display of its own: it paints, a session starts by two keys, Escape takes
//! the load off, and closing the window leaves a sealed file and a released brake.
//!
//! Needs `Xvfb`, `xdotool` and `import`/`convert` (Debian: xvfb, xdotool, imagemagick).

use acceptance::{could_not_run, prony};
use bench::Happening;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

const TEST: &str = "the_window_paints_rides_releases_and_closes";

/// Longest wait for anything to appear; software rendering on a busy machine is slow.
const PATIENCE: Duration = Duration::from_secs(60);

struct Killed(Child);

impl Drop for Killed {
    fn drop(&mut self) {
        // Already ended is as good as killed.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn is_there(program: &str) -> bool {
    Command::new("sh")
        .args(["-c", &format!("command -v {program}")])
        .stdout(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

fn output(display: &str, program: &str, arguments: &[&str]) -> String {
    let outcome = Command::new(program)
        .args(arguments)
        .env("DISPLAY", display)
        .stdin(Stdio::null())
        .output()
        .unwrap_or_else(|error| panic!("{program}: {error}"));
    String::from_utf8_lossy(&outcome.stdout).trim().to_owned()
}

fn wait_for<T>(what: &str, mut look: impl FnMut() -> Option<T>) -> T {
    let steps = PATIENCE.as_millis() / 100;
    for _ in 0..steps {
        if let Some(found) = look() {
            return found;
        }
        std::thread::sleep(Duration::from_millis(100));
    }
    panic!("{what} did not appear within {PATIENCE:?}");
}

fn colours(display: &str, folder: &Path) -> u32 {
    let picture = folder.join("window.png");
    output(
        display,
        "import",
        &["-window", "root", &picture.to_string_lossy()],
    );
    output(
        display,
        "convert",
        &[&picture.to_string_lossy(), "-format", "%k", "info:"],
    )
    .parse()
    .unwrap_or(0)
}

fn recorded(shelf: &Path) -> Option<std::path::PathBuf> {
    std::fs::read_dir(shelf)
        .ok()?
        .filter_map(|entry| Some(entry.ok()?.path()))
        .find(|path| path.extension().is_some_and(|found| found == "prony"))
}

#[test]
fn the_window_paints_rides_releases_and_closes() {
    for program in ["Xvfb", "xdotool", "import", "convert"] {
        if !is_there(program) {
            could_not_run(TEST, &format!("{program} is not installed"));
            return;
        }
    }
    let folder = tempfile::tempdir().expect("a temporary folder");
    let display = format!(":{}", 100 + std::process::id() % 400);
    let _screen = Killed(
        Command::new("Xvfb")
            .args([
                &display,
                "-screen",
                "0",
                "1280x800x24",
                "-noreset",
                "-nolisten",
                "tcp",
            ])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("Xvfb can be started"),
    );
    wait_for("the display", || {
        let size = output(&display, "xdotool", &["getdisplaygeometry"]);
        (!size.is_empty()).then_some(())
    });
    let home = folder.path().join("home");
    let mut program = Killed(
        Command::new(prony())
            .env("DISPLAY", &display)
            .env_remove("WAYLAND_DISPLAY")
            .env("LIBGL_ALWAYS_SOFTWARE", "1")
            .env("XDG_DATA_HOME", home.join("data"))
            .env("XDG_CONFIG_HOME", home.join("config"))
            .env("HOME", &home)
            .stdin(Stdio::null())
            .spawn()
            .expect("the program can be started"),
    );
    let window = wait_for("the window", || {
        let found = output(&display, "xdotool", &["search", "--name", "^Prony$"]);
        found
            .lines()
            .last()
            .map(str::to_owned)
            .filter(|id| !id.is_empty())
    });
    wait_for("a painted window", || {
        (colours(&display, folder.path()) > 20).then_some(())
    });
    let key = |key: &str| {
        output(&display, "xdotool", &["windowfocus", &window]);
        output(&display, "xdotool", &["key", key]);
    };

    // Ride what is preselected; accept the cautions.
    key("Return");
    let shelf = home.join("data/prony/sessions");
    let session = wait_for("the session file", || recorded(&shelf));
    std::thread::sleep(Duration::from_secs(2));
    key("Return");
    std::thread::sleep(Duration::from_secs(6));
    key("Escape");
    std::thread::sleep(Duration::from_secs(2));
    assert!(
        program
            .0
            .try_wait()
            .expect("a child can be asked")
            .is_none(),
        "the program ended while it was used"
    );
    output(&display, "xdotool", &["windowclose", &window]);
    wait_for("the end of the program", || {
        program.0.try_wait().ok().flatten()
    });

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
