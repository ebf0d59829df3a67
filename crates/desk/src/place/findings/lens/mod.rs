//! The raw traces behind a cell, a drop-out or an exclusion, with the alignment that was applied.

mod charts;
mod marked;
mod traces;

use super::alignment::alignment_words;
use crate::chart::gestures::obey_key;
use crate::chart::pick::PointerMoved;
use crate::chart::selection::{self, Summaries, selection_ui};
use crate::chart::ticks::Slow;
use crate::chart::time_axis::{Stretch, TimeAxis};
use crate::inputs::{Opened, SpeedUnit};
use crate::keys::Deed;
use crate::parts::{self, Voice, words};
use crate::place::run::visited;
use crate::theme::{self, tokens};
use analysis::findings::Findings;
use bench::model::FlagView;
use charts::{charts, streams};
use egui::{Frame, Layout, Margin, Panel, Ui};
use marked::{Target, marked};
use traces::{Traces, traces};
use units::Timestamp;

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

fn alignments(findings: &Findings) -> String {
    let sentences: Vec<_> = findings.alignment.iter().map(alignment_words).collect();
    if sentences.is_empty() {
        "nothing was moved in time".to_owned()
    } else {
        sentences.join(" ")
    }
}
