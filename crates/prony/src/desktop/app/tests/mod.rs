//! The whole window without a display. Each test is a process with a home of its own.

mod dropped;
mod kept;
mod searched;

use super::*;
use crate::clock::instant_now;
use crate::desktop::memory::Memory;
use egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use std::path::Path;
use std::process::Command;
use std::time::Duration;

/// Names the home in which the body of a test is to run.
const HOME: &str = "PRONY_TEST_HOME";

/// Longer than anything takes here, on any machine.
const PATIENCE: Duration = Duration::from_secs(60);

/// Runs a test of a module again in a process of its own, with an empty home.
fn at_home(module: &str, name: &str, body: impl FnOnce(&Path)) {
    if let Some(home) = std::env::var_os(HOME) {
        body(Path::new(&home));
        return;
    }
    let home = tempfile::tempdir().expect("a temporary folder");
    let output = Command::new(std::env::current_exe().expect("a running test has a path"))
        .args([
            &format!("{}::{name}", as_harness(module)),
            "--exact",
            "--nocapture",
        ])
        .env(HOME, home.path())
        .env("HOME", home.path())
        .env("XDG_DATA_HOME", home.path().join("data"))
        .env("XDG_CONFIG_HOME", home.path().join("config"))
        .env_remove("PRONY_SHELF")
        .output()
        .expect("a test can start itself");
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(
        output.status.success() && said.contains("1 passed"),
        "{said}\n{}",
        String::from_utf8_lossy(&output.stderr)
    );
}

/// A module as the test harness names it.
fn as_harness(module: &str) -> &str {
    module.trim_start_matches("prony::")
}

type Window = Harness<'static, Option<App>>;

fn window() -> Window {
    let mut window = Harness::builder()
        .with_size([1600.0, 1000.0])
        .build_ui_state(
            |ui, app: &mut Option<App>| {
                let app = app.get_or_insert_with(|| {
                    let creation = eframe::CreationContext::_new_kittest(ui.ctx().clone());
                    App::new(&creation, Memory::default())
                });
                let mut frame = eframe::Frame::_new_kittest();
                eframe::App::logic(app, &ui.ctx().clone(), &mut frame);
                let whole = ui.ctx().content_rect();
                let mut all = ui.new_child(egui::UiBuilder::new().max_rect(whole));
                all.set_clip_rect(whole);
                eframe::App::ui(app, &mut all, &mut frame);
            },
            None,
        );
    window.step();
    window
}

fn shows(window: &Window, words: &str) -> bool {
    window.query_all_by_label_contains(words).next().is_some()
}

/// Frame after frame until something is shown.
fn until(window: &mut Window, words: &str) {
    until_that(window, words, |window| shows(window, words));
}

/// Frame after frame until something is so.
fn until_that(window: &mut Window, what: &str, is_so: impl Fn(&Window) -> bool) {
    let begun = instant_now();
    while !is_so(window) {
        assert!(
            begun.elapsed() < PATIENCE,
            "waited in vain for {what:?} among {:#?}",
            everything(window)
        );
        std::thread::sleep(Duration::from_millis(20));
        window.step();
    }
}

/// Every word that is shown.
fn everything(window: &Window) -> Vec<String> {
    let nodes = window.root().children_recursive();
    let words = nodes.filter_map(|node| {
        let node = node.accesskit_node();
        node.label().or_else(|| node.value())
    });
    words.collect()
}

fn press(window: &mut Window, key: Key) {
    window.key_press(key);
    window.step();
}

/// Clicks what has this name; what it asks for is done in the frame after.
fn click(window: &mut Window, name: &str) {
    window.get_by_label(name).click_accesskit();
    window.step();
    window.step();
}
