//! The charts of the lens: power of every instrument, and the difference where there is room.

use super::traces::Traces;
use crate::chart::graph::{Below, Dash};
use crate::chart::points::Join;
use crate::chart::selection::{Stream, Streams};
use crate::chart::ticks::{self, Slow};
use crate::chart::time_axis::TimeAxis;
use crate::chart::time_chart::{Curve, Marked, Signs, TimeChart, Wheel, scaled_extent, time_chart};
use crate::chart::values::extent;
use crate::parts::words;
use crate::theme::{Tokens, tokens};
use analysis::evidence::Role;
use bench::trace::Trace;
use egui::Ui;

/// Up to this height there is room for one chart only, points.
const ONE_CHART: f32 = 20.0 * tokens::GRID;

pub(super) fn charts(
    ui: &mut Ui,
    traces: &Traces,
    axis: &mut TimeAxis,
    difference_scale: &mut Slow,
    marked: Vec<Marked>,
    room: f32,
    t: &Tokens,
) {
    let curves: Vec<_> = [
        Role::SecondReference,
        Role::PrimaryReference,
        Role::UnderTest,
    ]
    .into_iter()
    .flat_map(|role| traces.power.iter().filter(move |(of, _)| *of == role))
    .map(|(role, trace)| power_curve(*role, trace, t))
    .collect();
    let [from, to] = axis.moments(traces.end);
    let extents = curves
        .iter()
        .filter_map(|curve| scaled_extent(curve, from, to));
    // A lens looks closely: the power axis need not begin at zero here.
    let y = ticks::around(extents.reduce(|[a, b], [c, d]| [a.min(c), b.max(d)]));
    let is_alone = room < ONE_CHART;
    let power = TimeChart {
        id: "lens power",
        title: "Power, W",
        height: if is_alone {
            room
        } else {
            (0.58 * room).floor()
        },
        y,
        signs: Signs::Without,
        below: if is_alone {
            Below::Labelled
        } else {
            Below::Bare
        },
        curves,
        tolerance: None,
        band: None,
        marked: marked.clone(),
        wheel: Wheel::Zooms,
    };
    time_chart(ui, &power, axis, traces.end);
    if is_alone {
        return;
    }
    ui.add_space(tokens::GRID);
    let curves = vec![Curve {
        name: "device − reference",
        short: "difference",
        trace: &traces.difference_w,
        scale: 1.0,
        ink: t.device,
        dash: Dash::Solid,
        join: Join::Held,
        say: |value| format!("{}\u{a0}W", words::signed(value, 0)),
    }];
    let extent = extent(&traces.difference_w, from, to).unwrap_or_default();
    let top = difference_scale.fit(extent[0].abs().max(extent[1].abs()));
    let difference = TimeChart {
        id: "lens difference",
        title: "Difference, W, seconds",
        height: (0.42 * room).floor(),
        y: [-top, top],
        signs: Signs::With,
        below: Below::Labelled,
        curves,
        tolerance: None,
        band: None,
        marked,
        wheel: Wheel::Zooms,
    };
    time_chart(ui, &difference, axis, traces.end);
}

/// What a selected stretch is summed up for.
pub(super) fn streams(traces: &Traces) -> Streams<'_> {
    let streams = traces.power.iter().map(|(role, trace)| Stream {
        name: name_of(*role).to_owned(),
        unit: "W",
        scale: 1.0,
        decimals: 1,
        trace,
    });
    let place = |wanted| traces.power.iter().position(|(role, _)| *role == wanted);
    let pair = place(Role::UnderTest).zip(place(Role::PrimaryReference));
    Streams {
        all: streams.collect(),
        pair: pair.map(|(device, reference)| [device, reference]),
    }
}

const fn name_of(role: Role) -> &'static str {
    match role {
        Role::UnderTest => "device",
        Role::PrimaryReference => "reference",
        Role::SecondReference => "second reference",
        Role::Witness => "recorded only",
    }
}

fn power_curve<'a>(role: Role, trace: &'a Trace, t: &Tokens) -> Curve<'a> {
    let (ink, dash) = match role {
        Role::UnderTest => (t.device, Dash::Solid),
        Role::PrimaryReference => (t.text, Dash::Solid),
        Role::SecondReference => (t.second, Dash::Dashed),
        Role::Witness => (t.edge, Dash::Solid),
    };
    Curve {
        name: name_of(role),
        short: match role {
            Role::SecondReference => "second",
            role => name_of(role),
        },
        trace,
        scale: 1.0,
        ink,
        dash,
        join: Join::Held,
        say: words::watts,
    }
}
