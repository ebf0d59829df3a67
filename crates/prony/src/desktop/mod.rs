//! The desktop: one window around the desk, with the threads that work for it.
//!
//! The window's thread draws snapshots and hands out wishes; it never waits for a disk, a radio or
//! a computation. A running session has a thread of its own that owns bench and brake, so a window
//! that hangs or closes cannot leave a load on.

mod app;
mod cards;
mod comparing;
mod dialogs;
mod importing;
mod jobs;
mod library;
mod live;
mod logbook;
mod memory;
mod opened;
mod replay;
mod scanner;
mod shelf;
mod sureness;

use anyhow::{Context, Result, bail};
use app::App;

/// Size of the window at the first start, points: fits a 1280×800 screen.
const FIRST_SIZE: [f32; 2] = [1240.0, 760.0];

/// The icon of the window.
const ICON: &[u8] = include_bytes!("../../../../assets/icon-256.png");

/// Smallest useful size, points.
const SMALLEST_SIZE: [f32; 2] = [960.0, 600.0];

/// Opens the desktop and returns when it is closed.
///
/// # Errors
/// If there is no display, or the window cannot be made; the message says what to run instead.
pub fn open() -> Result<()> {
    if no_display() {
        bail!(
            "there is no display to open a window on. Without one, ride a rehearsal with\n  \
             prony run --script first-look --rig honest --fast --out first.prony\nand see what came \
             of it with\n  prony assess first.prony"
        );
    }
    let memory = memory::recall();
    let icon = eframe::icon_data::from_png_bytes(ICON).context("the icon is a picture")?;
    let options = eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_title("Prony")
            .with_app_id("prony")
            .with_icon(icon)
            .with_inner_size(memory.window.unwrap_or(FIRST_SIZE))
            .with_maximized(memory.is_maximized)
            .with_min_inner_size(SMALLEST_SIZE)
            .with_drag_and_drop(true),
        ..Default::default()
    };
    eframe::run_native(
        "Prony",
        options,
        Box::new(|creation| Ok(Box::new(App::new(creation, memory)))),
    )
    .map_err(|error| anyhow::anyhow!("{error}"))
    .context(
        "the window could not be made; on a machine without graphics use \
             `prony run --script first-look --rig honest --fast`",
    )
}

#[cfg(target_os = "linux")]
fn no_display() -> bool {
    ["DISPLAY", "WAYLAND_DISPLAY", "WAYLAND_SOCKET"]
        .iter()
        .all(|name| std::env::var_os(name).is_none_or(|value| value.is_empty()))
}

#[cfg(not(target_os = "linux"))]
fn no_display() -> bool {
    false
}
