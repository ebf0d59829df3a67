//! What is dropped onto the window is read, made ready, brought in, opened, or refused.

use super::*;
use egui::DroppedFile;

#[derive(Debug)]
struct Dropped(PathBuf);

impl DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }

    fn bytes(&self) -> std::result::Result<Vec<u8>, String> {
        std::fs::read(&self.0).map_err(|error| error.to_string())
    }
}

fn drop_onto(window: &mut Window, paths: &[PathBuf]) {
    for path in paths {
        let file: egui::DroppedFileHandle = Arc::new(Dropped(path.clone()));
        window.input_mut().dropped_files.push(file);
    }
    window.step();
    window.input_mut().dropped_files.clear();
}

/// Writes a ride as a recorder might.
fn recording(home: &Path, name: &str, seed: u64, from: usize) -> PathBuf {
    let path = home.join(name);
    let text = importing::sample::recording("secs;watts;rpm", seed, from);
    std::fs::write(&path, text).expect("a file");
    path
}

fn sessions(home: &Path) -> usize {
    let folder = std::fs::read_dir(home.join("data/prony/sessions"));
    folder.map_or(0, |files| {
        let files = files.filter_map(std::result::Result::ok);
        files
            .filter(|file| file.file_name().to_string_lossy().ends_with(".prony"))
            .count()
    })
}

#[test]
fn recordings_that_are_dropped_become_a_session_on_the_shelf() {
    at_home(
        module_path!(),
        "recordings_that_are_dropped_become_a_session_on_the_shelf",
        |home| {
            let mut window = window();
            // One after the other, as somebody would: each waits for the next.
            drop_onto(&mut window, &[recording(home, "device.csv", 1, 60)]);
            until(&mut window, "Add the recording of another instrument");
            drop_onto(&mut window, &[recording(home, "reference.csv", 1, 0)]);
            until(&mut window, "Place them on one clock");
            assert!(
                shows(&window, "1140 records"),
                "the first minute is missing"
            );
            assert_eq!(sessions(home), 0, "nothing is stored yet");
            press(&mut window, Key::Enter);
            until(&mut window, "Imported as");
            assert!(shows(&window, "placed"));
            assert_eq!(sessions(home), 1);
            // Its findings are opened, and it stands on the shelf.
            until(&mut window, "Examinations");
            press(&mut window, Key::Num5);
            until(&mut window, "Mark ");
        },
    );
}

#[test]
fn a_refusal_loses_nothing_that_was_made_ready() {
    at_home(
        module_path!(),
        "a_refusal_loses_nothing_that_was_made_ready",
        |home| {
            let mut window = window();
            let files = [
                recording(home, "device.csv", 1, 60),
                recording(home, "other.csv", 2, 0),
            ];
            drop_onto(&mut window, &files);
            until(&mut window, "Place them on one clock");
            press(&mut window, Key::Enter);
            until(&mut window, "--same-ride");
            assert!(shows(&window, "other.csv") && shows(&window, "Place them on one clock"));
            assert_eq!(sessions(home), 0);
            // Whoever knows better gives their word, and it is kept.
            window.get_by_label("on my word").click_accesskit();
            window.step();
            window.step();
            press(&mut window, Key::Enter);
            until(&mut window, "Imported as");
            assert_eq!(sessions(home), 1);
        },
    );
}

#[test]
fn sessions_and_scripts_that_are_dropped_are_opened_and_copied() {
    at_home(
        module_path!(),
        "sessions_and_scripts_that_are_dropped_are_opened_and_copied",
        |home| {
            let mut window = window();
            let project = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
            let session = project.join("demo-sessions/level-sweep-honest.prony");
            drop_onto(&mut window, &[session]);
            until(&mut window, "Examinations");
            let place = window.state().as_ref().map(|app| app.desk.place());
            assert_eq!(place, Some(desk::Place::Findings));

            let script = home.join("mine.ron");
            let text = "Script(title: \"Mine\", steps: [Hold(power_w: 120, seconds: 120)])";
            std::fs::write(&script, text).expect("a file");
            drop_onto(&mut window, &[script]);
            press(&mut window, Key::Num2);
            until(&mut window, "Mine");

            // What is nothing of all that is said, with the remedy.
            let letter = home.join("letter.txt");
            std::fs::write(&letter, "Dear friend").expect("a file");
            drop_onto(&mut window, &[letter]);
            until(&mut window, "letter.txt");
        },
    );
}
