//! The three linked charts: power, difference, cadence with flywheel speed.

use super::State;
use crate::chart::graph::{Below, Dash};
use crate::chart::points::Join;
use crate::chart::time_axis::STRETCHES;
use crate::chart::time_chart::{Curve, MarkStyle, Marked, TimeChart, Wheel, time_chart};
use crate::chart::{points, ticks};
use crate::parts::{self, Glyph, Voice, control, glyph, words};
use crate::theme::{self, Tokens, tokens};
use bench::Model;
use bench::model::{FlagView, InstrumentRole, InstrumentView};
use bench::trace::Trace;
use egui::{Layout, Ui};

/// Below this height there are two charts instead of three, points.
const LOW: f32 = 45.0 * tokens::GRID;

/// Draws the charts and what chooses the stretch of time, `height` points high together.
pub(super) fn charts_ui(ui: &mut Ui, model: &Model, state: &mut State, height: f32, deed: Wheel) {
    state.wheel_deed = deed;
    let t = theme::tokens(ui);
    let gap = tokens::GRID;
    let room = (height - tokens::CONTROL - 3.0 * gap).max(30.0 * tokens::GRID);
    ui.spacing_mut().item_spacing.y = 0.0;
    // Where there is little room the third chart would be too low to be read.
    let parts = if room < LOW {
        [0.58, 0.42, 0.0]
    } else {
        [0.46, 0.31, 0.23]
    };
    let [first, second, third] = parts.map(|part: f32| (part * room).floor());
    let below = if third > 0.0 {
        Below::Bare
    } else {
        Below::Labelled
    };
    power(ui, model, state, t, first);
    ui.add_space(gap);
    difference(ui, model, state, t, (second, below));
    ui.add_space(gap);
    if third > 0.0 {
        wheel(ui, model, state, t, third);
        ui.add_space(gap);
    }
    choose(ui, state);
}

fn choose(ui: &mut Ui, state: &mut State) {
    ui.horizontal(|ui| {
        ui.set_height(tokens::CONTROL);
        let chosen = STRETCHES
            .iter()
            .position(|(_, stretch)| *stretch == state.axis.stretch());
        let names = STRETCHES.map(|(name, _)| name);
        if let Some(index) = control::words_row(ui, &names, chosen) {
            state.axis.choose(STRETCHES[index].1);
        }
        ui.with_layout(Layout::right_to_left(egui::Align::Center), |ui| {
            if state.axis.follows() {
                parts::quiet_line(ui, "follows the present");
            } else if parts::button(ui, "Back to the present", "End", Voice::Plain).clicked() {
                state.axis.follow();
            }
        });
    });
}

fn power(ui: &mut Ui, model: &Model, state: &mut State, t: &Tokens, height: f32) {
    let mut curves = vec![Curve {
        name: "target",
        trace: &model.target_w,
        ink: t.quiet,
        dash: Dash::Fine,
        join: Join::Held,
        say: words::watts,
    }];
    // Back to front: the device is drawn last.
    for role in [
        InstrumentRole::SecondReference,
        InstrumentRole::PrimaryReference,
        InstrumentRole::UnderTest,
    ] {
        for instrument in model.instruments.iter().filter(|one| one.role == role) {
            curves.push(Curve {
                name: short_role(role),
                trace: &instrument.power,
                ink: crate::place::bench::role_ink(role, t),
                dash: if role == InstrumentRole::SecondReference {
                    Dash::Dashed
                } else {
                    Dash::Solid
                },
                join: Join::Held,
                say: words::watts,
            });
        }
    }
    let top = state.power.fit(highest(&curves, state, model));
    let chart = TimeChart {
        id: "power",
        title: "Power, W",
        height,
        y: [0.0, top],
        y_ticks: ticks::numbers([0.0, top], rows(height)),
        below: Below::Bare,
        curves,
        tolerance: None,
        band: None,
        marked: Vec::new(),
        wheel: state.wheel_deed,
    };
    time_chart(ui, &chart, &mut state.axis, model.now);
}

fn difference(
    ui: &mut Ui,
    model: &Model,
    state: &mut State,
    t: &Tokens,
    (height, below): (f32, Below),
) {
    let comparison = &model.comparison;
    let curves = vec![Curve {
        name: "30\u{a0}s means",
        trace: &comparison.difference_pct,
        ink: t.device,
        dash: Dash::Solid,
        join: Join::Straight,
        say: words::signed_pct,
    }];
    let needed = highest(&curves, state, model).max(2.5 * comparison.tolerance_pct.unwrap_or(0.0));
    let top = state.difference.fit(needed);
    let chart = TimeChart {
        id: "difference",
        title: "Difference, % of reference",
        height,
        y: [-top, top],
        y_ticks: ticks::signed([-top, top], rows(height)),
        below,
        curves,
        tolerance: comparison.tolerance_pct,
        band: Some((&comparison.difference_pct, &comparison.expanded_pct)),
        marked: model.flags.iter().map(|flag| marked(flag, t)).collect(),
        wheel: state.wheel_deed,
    };
    time_chart(ui, &chart, &mut state.axis, model.now);
}

fn wheel(ui: &mut Ui, model: &Model, state: &mut State, t: &Tokens, height: f32) {
    let mut curves = Vec::new();
    if let Some((instrument, trace)) = source(model, |one| &one.speed) {
        curves.push(Curve {
            name: "flywheel",
            trace,
            ink: crate::place::bench::role_ink(instrument.role, t),
            dash: Dash::Solid,
            join: Join::Held,
            say: |value| format!("{}\u{a0}km/h", words::decimals(value, 1)),
        });
    }
    let pedals = [InstrumentRole::PrimaryReference, InstrumentRole::UnderTest];
    let cadence = pedals
        .into_iter()
        .flat_map(|role| model.instruments.iter().filter(move |one| one.role == role))
        .find(|one| !one.cadence.is_empty());
    if let Some(instrument) = cadence {
        curves.push(Curve {
            name: "cadence",
            trace: &instrument.cadence,
            ink: t.text,
            dash: Dash::Solid,
            join: Join::Held,
            say: |value| format!("{}\u{a0}rpm", words::whole(value)),
        });
    }
    let top = state.wheel.fit(highest(&curves, state, model));
    let chart = TimeChart {
        id: "wheel",
        title: "Cadence, rpm · flywheel, km/h",
        height,
        y: [0.0, top],
        y_ticks: ticks::numbers([0.0, top], rows(height).min(3)),
        below: Below::Labelled,
        curves,
        tolerance: None,
        band: None,
        marked: Vec::new(),
        wheel: state.wheel_deed,
    };
    time_chart(ui, &chart, &mut state.axis, model.now);
}

/// The first instrument that has such a curve, the device under test first.
fn source(
    model: &Model,
    trace: impl Fn(&InstrumentView) -> &Trace,
) -> Option<(&InstrumentView, &Trace)> {
    model
        .instruments
        .iter()
        .map(|one| (one, trace(one)))
        .find(|(_, trace)| !trace.is_empty())
}

/// The largest size of any value in view.
fn highest(curves: &[Curve<'_>], state: &State, model: &Model) -> f64 {
    let [from, to] = state.axis.moments(model.now);
    curves
        .iter()
        .filter_map(|curve| points::extent(curve.trace, from, to))
        .map(|[low, high]| low.abs().max(high.abs()))
        .fold(0.0, f64::max)
}

/// How many numbers an axis of this height carries.
fn rows(height: f32) -> usize {
    ((height - 48.0) / 32.0).clamp(3.0, 6.0) as usize
}

fn marked(flag: &FlagView, t: &Tokens) -> Marked {
    Marked {
        from: flag.from,
        to: flag.to,
        glyph: Glyph::of_severity(flag.severity),
        ink: glyph::severity_ink(flag.severity, t),
        words: flag.words.clone(),
        style: MarkStyle::Hatched,
    }
}

fn short_role(role: InstrumentRole) -> &'static str {
    match role {
        InstrumentRole::UnderTest => "device",
        InstrumentRole::PrimaryReference => "reference",
        InstrumentRole::SecondReference => "second reference",
        InstrumentRole::Witness => "recorded only",
    }
}
