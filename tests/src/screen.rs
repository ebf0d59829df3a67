//! A display of its own for tests of the real window, with hands that press keys and eyes that
//! read the window's title.

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// Longest wait for anything to appear; software rendering on a busy machine is slow.
const PATIENCE: Duration = Duration::from_secs(90);

/// A child that does not outlive the test.
pub struct Killed(pub Child);

impl Drop for Killed {
    fn drop(&mut self) {
        // Already ended is as good as killed.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// A display, and a home for the program that runs on it.
pub struct Screen {
    display: String,
    folder: PathBuf,
    _server: Killed,
}

impl Screen {
    /// Programs that are needed (Debian: xvfb, xdotool, imagemagick); the first that is missing.
    pub fn lacks() -> Option<&'static str> {
        ["Xvfb", "xdotool", "import", "convert"]
            .into_iter()
            .find(|program| {
                !Command::new("sh")
                    .args(["-c", &format!("command -v {program}")])
                    .stdout(Stdio::null())
                    .status()
                    .is_ok_and(|status| status.success())
            })
    }

    /// Opens a display.
    ///
    /// # Panics
    /// If it does not open.
    pub fn open(folder: &Path, number: u32) -> Self {
        let display = format!(":{}", number + std::process::id() % 400);
        let server = Command::new("Xvfb")
            .args([&display, "-screen", "0", "1280x800x24", "-noreset"])
            .args(["-nolisten", "tcp"])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("Xvfb can be started");
        let screen = Self {
            display,
            folder: folder.to_owned(),
            _server: Killed(server),
        };
        wait_for("the display", || {
            (!screen.hand(&["getdisplaygeometry"]).is_empty()).then_some(())
        });
        screen
    }

    /// The display's name, for those who talk to it themselves.
    pub fn display(&self) -> &str {
        &self.display
    }

    /// The folder of saved sessions of a program on this screen.
    pub fn shelf(&self) -> PathBuf {
        self.folder.join("home/data/prony/sessions")
    }

    /// Starts a program with a home of its own, and no portal to ask for files.
    ///
    /// # Panics
    /// If it cannot be started.
    pub fn start(&self, program: &Path) -> Killed {
        self.start_with(program, &[])
    }

    /// As [`Screen::start`], with further variables.
    ///
    /// # Panics
    /// If it cannot be started.
    pub fn start_with(&self, program: &Path, variables: &[(&str, &str)]) -> Killed {
        let home = self.folder.join("home");
        Killed(
            Command::new(program)
                .env("DISPLAY", &self.display)
                .env_remove("WAYLAND_DISPLAY")
                .env_remove("DBUS_SESSION_BUS_ADDRESS")
                .env("LIBGL_ALWAYS_SOFTWARE", "1")
                .env("XDG_DATA_HOME", home.join("data"))
                .env("XDG_CONFIG_HOME", home.join("config"))
                .env("XDG_CACHE_HOME", home.join("cache"))
                .env("HOME", &home)
                .envs(variables.iter().copied())
                .stdin(Stdio::null())
                .spawn()
                .expect("the program can be started"),
        )
    }

    fn run(&self, program: &str, arguments: &[&str]) -> String {
        let outcome = Command::new(program)
            .args(arguments)
            .env("DISPLAY", &self.display)
            .stdin(Stdio::null())
            .output()
            .unwrap_or_else(|error| panic!("{program}: {error}"));
        String::from_utf8_lossy(&outcome.stdout).trim().to_owned()
    }

    /// Does something with the hands.
    pub fn hand(&self, arguments: &[&str]) -> String {
        self.run("xdotool", arguments)
    }

    /// The program's window, once it is there and painted.
    ///
    /// # Panics
    /// If it does not appear.
    pub fn window(&self) -> String {
        let window = wait_for("the window", || {
            let found = self.hand(&["search", "--onlyvisible", "--name", "Prony$"]);
            let last = found.lines().last().map(str::to_owned);
            last.filter(|id| !id.is_empty())
        });
        wait_for("a painted window", || (self.colours() > 20).then_some(()));
        window
    }

    /// How many colours there are to be seen: an empty screen has one.
    pub fn colours(&self) -> u32 {
        let picture = self.folder.join("window.png");
        let picture = picture.to_string_lossy();
        self.run("import", &["-window", "root", &picture]);
        self.run("convert", &[&picture, "-format", "%k", "info:"])
            .parse()
            .unwrap_or(0)
    }

    /// Keeps what is to be seen as a picture.
    pub fn picture(&self, file: &Path) {
        self.run("import", &["-window", "root", &file.to_string_lossy()]);
    }

    /// Presses a key in a window.
    pub fn key(&self, window: &str, key: &str) {
        self.hand(&["windowfocus", window]);
        self.hand(&["key", key]);
        std::thread::sleep(Duration::from_millis(300));
    }

    /// Closes a window whose program runs until then, and waits for the program's end.
    ///
    /// # Panics
    /// If the program ended before, or never ends.
    pub fn close(&self, window: &str, program: &mut Killed) {
        assert!(
            program
                .0
                .try_wait()
                .expect("a child can be asked")
                .is_none(),
            "the program ended while it was used"
        );
        self.hand(&["windowclose", window]);
        wait_for("the end of the program", || {
            program.0.try_wait().ok().flatten()
        });
    }

    /// Waits until the window's title fits.
    ///
    /// # Panics
    /// If it never does; the message says what it was instead.
    pub fn title(&self, window: &str, what: &str, fits: impl Fn(&str) -> bool) -> String {
        let mut last = String::new();
        let steps = PATIENCE.as_millis() / 100;
        for _ in 0..steps {
            last = self.hand(&["getwindowname", window]);
            if fits(&last) {
                return last;
            }
            std::thread::sleep(Duration::from_millis(100));
        }
        panic!("{what} did not appear within {PATIENCE:?}; the title is {last:?}");
    }
}

/// Waits until something is there.
///
/// # Panics
/// If it never is.
pub fn wait_for<T>(what: &str, mut look: impl FnMut() -> Option<T>) -> T {
    let steps = PATIENCE.as_millis() / 100;
    for _ in 0..steps {
        if let Some(found) = look() {
            return found;
        }
        std::thread::sleep(Duration::from_millis(100));
    }
    panic!("{what} did not appear within {PATIENCE:?}");
}
