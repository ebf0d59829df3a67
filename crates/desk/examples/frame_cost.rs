//! Prints what one frame of the running desk costs on the processor, for sessions of different
//! length: layout and tessellation, without the graphics card.
//!
//! `cargo run --release -p desk --example frame_cost`
#![expect(clippy::print_stdout, reason = "this example prints a table")]

#[path = "../tests/sample/mod.rs"]
mod sample;

use bench::model::{FlagView, Severity};
use bench::{Model, Trace};
use desk::{Deed, Desk, Inputs, KEYS, Remembered, ThemeChoice};
use egui::{Event, RawInput, Rect, vec2};
use std::sync::Arc;
use std::time::{Duration, Instant};
use units::{Span, Timestamp};

/// The window of the bar in the design.
const WINDOW: [f32; 2] = [1600.0, 1000.0];
const FRAMES: usize = 60;

fn main() {
    println!("hours  stretch   layout ms   tessellation ms   sum ms   (best of {FRAMES} frames)");
    for hours in [0.1, 1.0, 10.0] {
        for (name, presses) in [("10 min", 0), ("1 h", 9), ("all", 25)] {
            let [layout, tessellation] = cost(hours, presses);
            println!(
                "{hours:5}  {name:7}  {layout:9.2}  {tessellation:16.2}  {:7.2}",
                layout + tessellation
            );
        }
    }
}

/// Milliseconds of the best frame: on a busy machine medians measure the neighbours. `presses`: how often the key for more time is pressed first.
fn cost(hours: f64, presses: usize) -> [f64; 2] {
    let ctx = egui::Context::default();
    let remembered = Remembered {
        theme: ThemeChoice::Light,
        text_pct: 100,
    };
    let mut desk = Desk::new(&ctx, remembered);
    let mut model = long_ride(hours);
    let (mut layout, mut tessellation) = (Vec::new(), Vec::new());
    for frame in 0..presses + FRAMES + 5 {
        model.now += Span::from_millis(33);
        let mut input = RawInput {
            screen_rect: Some(Rect::from_min_size(
                egui::Pos2::ZERO,
                vec2(WINDOW[0], WINDOW[1]),
            )),
            ..RawInput::default()
        };
        if (2..2 + presses).contains(&frame) {
            input.events.push(farther());
        }
        let mut wishes = Vec::new();
        let begin = now();
        let mut output = ctx.run_ui(input, |ui| {
            desk.ui(
                ui,
                &Inputs {
                    model: Some(&model),
                    ..Inputs::default()
                },
                &mut wishes,
            );
        });
        let drawn = now();
        let shapes = std::mem::take(&mut output.shapes);
        let meshes = ctx.tessellate(shapes, output.pixels_per_point);
        let done = now();
        output.textures_delta.clear();
        assert!(!meshes.is_empty());
        if frame >= presses + 5 {
            layout.push(drawn - begin);
            tessellation.push(done - drawn);
        }
    }
    [best(&layout), best(&tessellation)]
}

fn farther() -> Event {
    let binding = KEYS.iter().find(|binding| binding.deed == Deed::Farther);
    Event::Key {
        key: binding.expect("the table has the key").key,
        physical_key: None,
        pressed: true,
        repeat: false,
        modifiers: egui::Modifiers::NONE,
    }
}

/// A ride with five streams at 4 Hz, a difference every second and a flag every ten minutes.
fn long_ride(hours: f64) -> Model {
    let mut model = sample::riding(1480);
    let quarters = (hours * 3600.0 * 4.0) as i64;
    let mut noise = sample::Noise::seeded(3);
    let mut curve = |middle: f64, spread: f64, every: i64| {
        let mut trace = Trace::new(Span::from_millis(2500));
        for quarter in (0..quarters).step_by(every as usize) {
            let gap = quarter % 40_000 < 40;
            if !gap {
                trace.push(
                    Timestamp::from_millis(quarter * 250),
                    middle + spread * noise.next(),
                );
            }
        }
        trace
    };
    for instrument in &mut model.instruments {
        instrument.power = curve(210.0, 8.0, 1);
    }
    model.instruments[1].cadence = curve(90.0, 3.0, 1);
    model.instruments[0].speed = curve(34.0, 1.0, 1);
    model.comparison.difference_pct = curve(1.5, 1.0, 4);
    model.comparison.expanded_pct = curve(1.0, 0.1, 4);
    model.now = Timestamp::from_millis(quarters * 250);
    let flags = (0..(hours * 6.0) as i64).map(|i| FlagView {
        from: Timestamp::from_secs(600 * i + 60),
        to: Timestamp::from_secs(600 * i + 120),
        severity: Severity::ShownBeyond,
        words: "60 s mean +3.4 % ± 1.0 %: beyond ±2 %".into(),
    });
    model.flags = Arc::new(flags.collect());
    model
}

#[expect(clippy::disallowed_methods, reason = "this example measures time")]
fn now() -> Instant {
    Instant::now()
}

fn best(times: &[Duration]) -> f64 {
    times
        .iter()
        .min()
        .map_or(0.0, |time| time.as_secs_f64() * 1e3)
}
