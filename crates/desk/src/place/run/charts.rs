//! The three linked charts: power, difference, cadence with flywheel speed.

use super::{State, choice};
use crate::chart::graph::{Below, Dash};
use crate::chart::points::Join;
use crate::chart::selection::{self, Stream, Streams, selection_ui};
use crate::chart::time_axis::TimeAxis;
use crate::chart::time_chart::{
    Curve, MarkStyle, Marked, Signs, TimeChart, Wheel, scaled_extent, time_chart,
};
use crate::inputs::SpeedUnit;
use crate::parts::roles::role_ink;
use crate::parts::{Glyph, glyph, words};
use crate::theme::{self, Tokens, tokens};
use bench::Model;
use bench::model::{FlagView, InstrumentRole, InstrumentView};
use bench::trace::Trace;
use egui::Ui;

/// Below this height there are two charts instead of three, points.
const LOW: f32 = 45.0 * tokens::GRID;

/// Lowest that two charts can be read together, points.
const LEAST: f32 = 30.0 * tokens::GRID;

/// Height of the selection's read-out and of the choices below it.
fn below(ui: &Ui, state: &State, streams: &Streams<'_>) -> f32 {
    let selection = match state.axis.pick.stretch() {
        Some(_) => selection::height(streams, ui.available_width()) + tokens::GRID,
        None => 0.0,
    };
    let choices = f32::from(choice::lines(ui)) * tokens::CONTROL;
    selection + choices + 3.0 * tokens::GRID
}

/// The least height in which everything can be read.
pub(super) fn least_height(ui: &Ui, model: &Model, state: &State) -> f32 {
    let streams = streams(model, SpeedUnit::current(ui.ctx()));
    LEAST + below(ui, state, &streams)
}

/// Draws the charts and what chooses the stretch of time, `height` points high together.
pub(super) fn charts_ui(ui: &mut Ui, model: &Model, state: &mut State, height: f32, deed: Wheel) {
    state.wheel_deed = deed;
    let t = theme::tokens(ui);
    let gap = tokens::GRID;
    let streams = streams(model, SpeedUnit::current(ui.ctx()));
    let lines = choice::lines(ui);
    let room = (height - below(ui, state, &streams)).max(LEAST);
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
    let State {
        axis, summaries, ..
    } = state;
    selection_ui(ui, axis, &streams, summaries, model.now);
    choice::choose_ui(ui, state, lines);
}

/// Every stream that a stretch is summed up for: powers first, as they were reported.
fn streams(model: &Model, unit: SpeedUnit) -> Streams<'_> {
    let mut all = Vec::new();
    let place = |role| {
        model
            .instruments
            .iter()
            .position(|one| one.role == role && !one.power.is_empty())
    };
    for instrument in model.instruments.iter().filter(|one| !one.power.is_empty()) {
        all.push(Stream {
            name: short_role(instrument.role).to_owned(),
            unit: "W",
            scale: 1.0,
            decimals: 1,
            trace: &instrument.power,
        });
    }
    let of_power = |role| {
        let place: usize = place(role)?;
        let before = model.instruments[..place].iter();
        Some(before.filter(|one| !one.power.is_empty()).count())
    };
    let device = of_power(InstrumentRole::UnderTest);
    let pair = device.zip(of_power(InstrumentRole::PrimaryReference));
    if let Some((_, trace)) = source(model, |one| &one.speed) {
        all.push(Stream {
            name: "flywheel".to_owned(),
            unit: unit.name(),
            scale: unit.from_kmh(1.0),
            decimals: 1,
            trace,
        });
    }
    if let Some(instrument) = cadence_source(model) {
        all.push(Stream {
            name: "cadence".to_owned(),
            unit: "rpm",
            scale: 1.0,
            decimals: 1,
            trace: &instrument.cadence,
        });
    }
    Streams {
        all,
        pair: pair.map(|(device, reference)| [device, reference]),
    }
}

fn power(ui: &mut Ui, model: &Model, state: &mut State, t: &Tokens, height: f32) {
    let mut curves = vec![Curve {
        name: "target",
        short: "target",
        trace: &model.target_w,
        scale: 1.0,
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
            let smoothed = state.smoothed.of(instrument.source);
            curves.push(Curve {
                name: short_role(role),
                short: shortest(role),
                trace: smoothed.unwrap_or(&instrument.power),
                scale: 1.0,
                ink: role_ink(role, t),
                dash: if role == InstrumentRole::SecondReference {
                    Dash::Dashed
                } else {
                    Dash::Solid
                },
                join: if smoothed.is_some() {
                    Join::Straight
                } else {
                    Join::Held
                },
                say: words::watts,
            });
        }
    }
    let top = state.power.fit(highest(&curves, &state.axis, model));
    let chart = TimeChart {
        id: "power",
        title: state.window.title(),
        height,
        y: [0.0, top],
        signs: Signs::Without,
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
        short: "30\u{a0}s means",
        trace: &comparison.difference_pct,
        scale: 1.0,
        ink: t.device,
        dash: Dash::Solid,
        join: Join::Straight,
        say: words::signed_pct,
    }];
    let needed =
        highest(&curves, &state.axis, model).max(2.5 * comparison.tolerance_pct.unwrap_or(0.0));
    let top = state.difference.fit(needed);
    let (flags, unit) = (model.flags.iter(), SpeedUnit::current(ui.ctx()));
    let chart = TimeChart {
        id: "difference",
        title: "Difference, % of reference",
        height,
        y: [-top, top],
        signs: Signs::With,
        below,
        curves,
        tolerance: comparison.tolerance_pct,
        band: Some((&comparison.difference_pct, &comparison.expanded_pct)),
        marked: flags.map(|flag| marked(flag, unit, t)).collect(),
        wheel: state.wheel_deed,
    };
    time_chart(ui, &chart, &mut state.axis, model.now);
}

fn wheel(ui: &mut Ui, model: &Model, state: &mut State, t: &Tokens, height: f32) {
    let mut curves = Vec::new();
    let unit = SpeedUnit::current(ui.ctx());
    if let Some((instrument, trace)) = source(model, |one| &one.speed) {
        curves.push(Curve {
            name: "flywheel",
            short: "flywheel",
            trace,
            scale: unit.from_kmh(1.0),
            ink: role_ink(instrument.role, t),
            dash: Dash::Solid,
            join: Join::Held,
            say: match unit {
                SpeedUnit::KmH => |value| format!("{}\u{a0}km/h", words::decimals(value, 1)),
                SpeedUnit::Mph => |value| format!("{}\u{a0}mph", words::decimals(value, 1)),
            },
        });
    }
    if let Some(instrument) = cadence_source(model) {
        curves.push(Curve {
            name: "cadence",
            short: "cadence",
            trace: &instrument.cadence,
            scale: 1.0,
            ink: t.text,
            dash: Dash::Solid,
            join: Join::Held,
            say: |value| format!("{}\u{a0}rpm", words::whole(value)),
        });
    }
    let top = state.wheel.fit(highest(&curves, &state.axis, model));
    let chart = TimeChart {
        id: "wheel",
        title: match unit {
            SpeedUnit::KmH => "Cadence, rpm · flywheel, km/h",
            SpeedUnit::Mph => "Cadence, rpm · flywheel, mph",
        },
        height,
        y: [0.0, top],
        signs: Signs::Without,
        below: Below::Labelled,
        curves,
        tolerance: None,
        band: None,
        marked: Vec::new(),
        wheel: state.wheel_deed,
    };
    time_chart(ui, &chart, &mut state.axis, model.now);
}

/// Where the cadence comes from: the reference, else the device.
fn cadence_source(model: &Model) -> Option<&InstrumentView> {
    [InstrumentRole::PrimaryReference, InstrumentRole::UnderTest]
        .into_iter()
        .flat_map(|role| model.instruments.iter().filter(move |one| one.role == role))
        .find(|one| !one.cadence.is_empty())
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
fn highest(curves: &[Curve<'_>], axis: &TimeAxis, model: &Model) -> f64 {
    let [from, to] = axis.moments(model.now);
    curves
        .iter()
        .filter_map(|curve| scaled_extent(curve, from, to))
        .map(|[low, high]| low.abs().max(high.abs()))
        .fold(0.0, f64::max)
}

fn marked(flag: &FlagView, unit: SpeedUnit, t: &Tokens) -> Marked {
    Marked {
        from: flag.from,
        to: flag.to,
        glyph: Glyph::of_severity(flag.severity),
        ink: glyph::severity_ink(flag.severity, t),
        words: unit.told(&flag.words).into_owned(),
        style: MarkStyle::Hatched,
    }
}

/// As [`short_role`], beside a curve that is called the reference.
fn shortest(role: InstrumentRole) -> &'static str {
    match role {
        InstrumentRole::SecondReference => "second",
        other => short_role(other),
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
