//! The raw traces behind a cell, a drop-out or an exclusion, with the alignment that was applied.

use super::recording::alignment_words;
use crate::chart::gestures::obey_key;
use crate::chart::graph::{Below, Dash};
use crate::chart::pick::PointerMoved;
use crate::chart::points::Join;
use crate::chart::selection::{self, Stream, Streams, Summaries, selection_ui};
use crate::chart::ticks::{self, Slow};
use crate::chart::time_axis::{Stretch, TimeAxis};
use crate::chart::time_chart::{
    Curve, MarkStyle, Marked, Signs, TimeChart, Wheel, scaled_extent, time_chart,
};
use crate::chart::values::extent;
use crate::inputs::{Opened, SpeedUnit};
use crate::keys::Deed;
use crate::parts::{self, Glyph, Voice, words};
use crate::place::run::visited;
use crate::theme::{self, Tokens, tokens};
use analysis::evidence::{Evidence, Role};
use analysis::findings::{Findings, PairedTraces};
use bench::model::FlagView;
use bench::trace::Trace;
use egui::{Frame, Layout, Margin, Panel, Ui};
use units::{Series, Span, Timestamp};

/// What is looked at through the lens.
#[derive(Debug)]
pub(crate) struct State {
    target: Option<Target>,
    axis: TimeAxis,
    difference: Slow,
    /// The traces of the session of this number.
    traces: Option<(u64, Traces)>,
    summaries: Summaries,
    /// The flag that was looked at last.
    flag: Option<usize>,
}

impl Default for State {
    fn default() -> Self {
        Self {
            target: None,
            axis: TimeAxis::following(Stretch::Whole),
            difference: Slow::at_least(10.0),
            traces: None,
            summaries: Summaries::default(),
            flag: None,
        }
    }
}

impl State {
    /// What the keys do that are for the charts: two of them open the lens at a flag, the others
    /// are for the charts in it.
    pub(crate) fn chart_key(&mut self, deed: Deed, flags: &[FlagView]) {
        if let Some(index) = visited(deed, self.flag, flags.len()) {
            self.show_flag(index, flags);
        } else if let (Some(_), Some((_, traces))) = (&self.target, &self.traces) {
            obey_key(&mut self.axis, deed, traces.end.as_secs_f64());
        }
    }

    /// Closes the lens.
    pub(crate) fn close(&mut self) {
        self.target = None;
    }

    /// Opens the lens at a flag.
    pub(super) fn show_flag(&mut self, index: usize, flags: &[FlagView]) {
        if let Some(flag) = flags.get(index) {
            self.show(&flag.words, flag.from, flag.to);
            self.flag = Some(index);
        }
    }

    /// Opens the lens at a place.
    pub(crate) fn show(&mut self, title: &str, from: Timestamp, to: Timestamp) {
        self.axis.jump(from, to);
        self.target = Some(Target {
            title: title.to_owned(),
            from,
            to,
        });
    }
}

#[derive(Debug)]
struct Target {
    title: String,
    from: Timestamp,
    to: Timestamp,
}

/// Curves of the recording, each moved by its alignment.
#[derive(Debug)]
struct Traces {
    power: Vec<(Role, Trace)>,
    difference_w: Trace,
    end: Timestamp,
}

/// Whether there is room for a page above the lens.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Page {
    /// There is.
    Above,
    /// There is not: the lens fills the place.
    Hidden,
}

/// Below this height of the place the lens fills it, points.
const FILLS: f32 = 56.0 * tokens::GRID;

/// Draws the lens at the bottom, if something is looked at.
pub(super) fn lens_ui(ui: &mut Ui, opened: &Opened<'_>, state: &mut State) -> Page {
    if state
        .traces
        .as_ref()
        .is_some_and(|(id, _)| *id != opened.id)
    {
        *state = State::default();
    }
    let Some(target) = &state.target else {
        return Page::Above;
    };
    let unit = SpeedUnit::current(ui.ctx());
    let title = format!(
        "Raw traces · {} · {}–{}",
        unit.told(&target.title),
        words::moment(target.from),
        words::moment(target.to)
    );
    let (_, traces) = state
        .traces
        .get_or_insert_with(|| (opened.id, traces(opened.findings, opened.evidence)));
    let t = theme::tokens(ui);
    let whole = ui.available_height();
    let page = if whole < FILLS {
        Page::Hidden
    } else {
        Page::Above
    };
    let height = match page {
        Page::Hidden => whole,
        Page::Above => (0.46 * whole).clamp(28.0 * tokens::GRID, 52.0 * tokens::GRID),
    };
    let frame = Frame::new()
        .fill(t.rail)
        .inner_margin(Margin::symmetric(24, 16));
    let mut close = false;
    Panel::bottom("lens")
        .exact_size(height)
        .resizable(false)
        .show_separator_line(false)
        .frame(frame)
        .show(ui, |ui| {
            ui.horizontal(|ui| {
                let width = (ui.available_width() - 14.0 * tokens::GRID).max(120.0);
                ui.vertical(|ui| {
                    ui.set_width(width);
                    ui.spacing_mut().item_spacing.y = 0.0;
                    parts::caption(ui, &title);
                    let words = alignments(opened.findings);
                    // In a low window the traces need the room more than the sentence does.
                    match page {
                        Page::Above => parts::quiet(ui, &words),
                        Page::Hidden => parts::quiet_line(ui, &words),
                    }
                });
                ui.with_layout(Layout::right_to_left(egui::Align::Center), |ui| {
                    close = parts::button(ui, "Close", "Esc", Voice::Plain).clicked();
                });
            });
            let streams = streams(traces);
            let selection = match state.axis.pick.stretch() {
                Some(_) => selection::height(&streams, ui.available_width()) + tokens::GRID,
                None => 0.0,
            };
            let room = ui.available_height() - tokens::GRID - selection;
            ui.spacing_mut().item_spacing.y = 0.0;
            charts(
                ui,
                traces,
                &mut state.axis,
                &mut state.difference,
                marked(target, opened.findings, unit, t),
                room.max(12.0 * tokens::GRID),
                t,
            );
            selection_ui(
                ui,
                &mut state.axis,
                &streams,
                &mut state.summaries,
                traces.end,
            );
        });
    if state.axis.pick.end_frame() == PointerMoved::Yes {
        ui.ctx().request_repaint();
    }
    if close {
        state.target = None;
    }
    page
}

/// Up to this height there is room for one chart only, points.
const ONE_CHART: f32 = 20.0 * tokens::GRID;

fn charts(
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

/// What was asked for, what did not count, and where the device dropped out.
fn marked(target: &Target, findings: &Findings, unit: SpeedUnit, t: &Tokens) -> Vec<Marked> {
    let moment = Timestamp::from_secs_f64;
    let excluded = findings.exclusions.iter().map(|exclusion| Marked {
        from: moment(exclusion.from_s),
        to: moment(exclusion.to_s),
        glyph: Glyph::Dash,
        ink: t.quiet,
        words: format!("did not count: {}", unit.told(&exclusion.reason)),
        style: MarkStyle::Hatched,
    });
    let lost = findings.dropouts.iter().map(|drop_out| Marked {
        from: drop_out.from,
        to: drop_out.to,
        glyph: Glyph::Square,
        ink: t.text,
        words: drop_out.kind.words().to_owned(),
        style: MarkStyle::Hatched,
    });
    let target = Marked {
        from: target.from,
        to: target.to,
        glyph: Glyph::Ring,
        ink: t.text,
        words: unit.told(&target.title).into_owned(),
        style: MarkStyle::Framed,
    };
    excluded.chain(lost).chain([target]).collect()
}

/// What a selected stretch is summed up for.
fn streams(traces: &Traces) -> Streams<'_> {
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

fn alignments(findings: &Findings) -> String {
    let sentences: Vec<_> = findings.alignment.iter().map(alignment_words).collect();
    if sentences.is_empty() {
        "nothing was moved in time".to_owned()
    } else {
        sentences.join(" ")
    }
}

fn traces(findings: &Findings, evidence: Option<&Evidence>) -> Traces {
    let mut power = Vec::new();
    let mut end = Timestamp::from_secs_f64(findings.duration_s);
    match evidence {
        Some(evidence) => {
            end = end.max(evidence.end);
            for stream in &evidence.streams {
                let lag = findings
                    .alignment
                    .iter()
                    .find(|alignment| alignment.source == stream.name)
                    // A recording with a clock of its own was placed before anything else.
                    .filter(|alignment| alignment.stretches.is_empty())
                    .map_or(Span::ZERO, |alignment| Span::from_secs_f64(alignment.lag_s));
                power.push((stream.role, from_series(&stream.power_w, lag)));
            }
        }
        None => {
            let pairs = &findings.traces;
            power.push((
                Role::PrimaryReference,
                from_seconds(pairs, &pairs.reference_w),
            ));
            power.push((Role::UnderTest, from_seconds(pairs, &pairs.under_test_w)));
        }
    }
    let pairs = &findings.traces;
    let difference: Vec<_> = pairs
        .under_test_w
        .iter()
        .zip(&pairs.reference_w)
        .map(|(device, reference)| Some((*device)? - (*reference)?))
        .collect();
    Traces {
        power,
        difference_w: from_seconds(pairs, &difference),
        end,
    }
}

fn from_series(series: &Series, lag: Span) -> Trace {
    let mut trace = Trace::new(series.hold_limit());
    for (at, value) in series.iter() {
        trace.push(at - lag, value);
    }
    trace
}

fn from_seconds(pairs: &PairedTraces, values: &[Option<f64>]) -> Trace {
    let mut trace = Trace::new(Span::from_secs(1));
    for (second, value) in (pairs.from_s..).zip(values) {
        if let Some(value) = value {
            trace.push(Timestamp::from_secs(second), *value);
        }
    }
    trace
}
