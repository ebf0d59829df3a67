//! How long the desktop takes from being started until its window is there and painted.
//!
//! `cargo bench -p acceptance --bench start` starts the program nine times on a display of its own
//! (Xvfb, pictures drawn by the processor) with an empty home, and nine times with the demo sessions
//! on the shelf. Painted means that the window shows more than one colour where the places are
//! listed; the window is asked every two milliseconds. The first start, which reads the program from
//! the disk, is printed beside the median.

#![expect(clippy::print_stdout, reason = "a bench prints what it measured")]
#![expect(clippy::disallowed_methods, reason = "a bench measures time")]
#![expect(clippy::unwrap_used, reason = "a bench has nobody to report to")]

use acceptance::{Screen, prony, root};
use std::path::Path;
use std::time::{Duration, Instant};
use x11rb::connection::Connection;
use x11rb::protocol::xproto::{ConnectionExt as _, ImageFormat, MapState, Window};
use x11rb::rust_connection::RustConnection;

/// A part of the window in which the names of the places stand, pixels.
const LOOKED_AT: (u16, u16) = (160, 400);
/// Longest wait.
const PATIENCE: Duration = Duration::from_secs(60);

fn main() {
    if let Some(program) = Screen::lacks() {
        println!("NOT RUN: {program} is not installed");
        return;
    }
    let starts = match std::env::args().any(|argument| argument == "--bench") {
        true => 9,
        false => 1,
    };
    println!("start to painted window, ms ({starts} starts)");
    for (name, with_demos) in [("empty shelf", false), ("demo sessions", true)] {
        let folder = tempfile::tempdir().unwrap();
        let screen = Screen::open(folder.path(), 600);
        if with_demos {
            fill(&screen.shelf());
        }
        let mut times: Vec<f64> = (0..starts).map(|_| start(&screen)).collect();
        let first = times[0];
        times.sort_by(f64::total_cmp);
        println!(
            "{name:14} first {first:7.0}   median {:7.0}   largest {:7.0}",
            times[times.len() / 2],
            times[times.len() - 1]
        );
    }
}

fn fill(shelf: &Path) {
    std::fs::create_dir_all(shelf).unwrap();
    for entry in std::fs::read_dir(root().join("demo-sessions")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|end| end == "prony") {
            std::fs::copy(&path, shelf.join(path.file_name().unwrap())).unwrap();
        }
    }
}

/// Milliseconds of one start; the program is ended afterwards.
fn start(screen: &Screen) -> f64 {
    let (server, number) = x11rb::connect(Some(screen.display())).unwrap();
    let desktop = server.setup().roots[number].root;
    let program = prony();
    let begin = Instant::now();
    let running = screen.start(&program);
    while !has_painted(&server, desktop) {
        assert!(begin.elapsed() < PATIENCE, "no window within {PATIENCE:?}");
        std::thread::sleep(Duration::from_millis(2));
    }
    let taken = begin.elapsed();
    drop(running);
    taken.as_secs_f64() * 1e3
}

/// Whether there is a window that shows something. A window that goes away while it is asked is one
/// that shows nothing.
fn has_painted(server: &RustConnection, desktop: Window) -> bool {
    let Some(tree) = server
        .query_tree(desktop)
        .ok()
        .and_then(|it| it.reply().ok())
    else {
        return false;
    };
    tree.children
        .iter()
        .any(|&window| shows_something(server, window) == Some(true))
}

fn shows_something(server: &RustConnection, window: Window) -> Option<bool> {
    let state = server.get_window_attributes(window).ok()?.reply().ok()?;
    let extent = server.get_geometry(window).ok()?.reply().ok()?;
    let (width, height) = LOOKED_AT;
    if state.map_state != MapState::VIEWABLE || extent.width < width || extent.height < height {
        return Some(false);
    }
    let picture = server
        .get_image(ImageFormat::Z_PIXMAP, window, 0, 0, width, height, u32::MAX)
        .ok()?
        .reply()
        .ok()?;
    let mut pixels = picture.data.chunks_exact(4);
    let first = pixels.next()?;
    Some(pixels.any(|pixel| pixel != first))
}
