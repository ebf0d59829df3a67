//! Run: what now, how hard, for how long, what next, and do the two instruments agree.

mod charts;
mod choice;
pub mod far;
mod flags;
mod readings;
mod steps;
mod window;
mod work;

use super::Place;
use super::script::limits::{limits_ui, waits_for_limits};
use crate::chart::gestures::obey_key;
use crate::chart::pick::PointerMoved;
use crate::chart::selection::Summaries;
use crate::chart::ticks::Slow;
use crate::chart::time_axis::{Stretch, TimeAxis};
use crate::chart::time_chart::Wheel;
use crate::inputs::{Inputs, told};
use crate::keys::Deed;
use crate::parts::{self, Glyph, Voice, control, words};
use crate::request::Request;
use crate::theme::{self, tokens};
use bench::model::Phase;
use bench::{Command, Model};
use egui::{Frame, Margin, Panel, ScrollArea, Ui};

/// What is looked at while riding.
#[derive(Debug)]
pub(crate) struct State {
    pub(crate) axis: TimeAxis,
    power: Slow,
    wheel: Slow,
    difference: Slow,
    /// What the wheel does over the charts, as the layout wants it.
    wheel_deed: Wheel,
    /// The step that was last scrolled to.
    step: Option<usize>,
    /// Through which window power is seen.
    window: window::Window,
    smoothed: window::AllSmoothed,
    summaries: Summaries,
    /// The flag that the keys have led to.
    flag: Option<usize>,
}

impl Default for State {
    fn default() -> Self {
        Self {
            axis: TimeAxis::following(Stretch::Seconds(600.0)),
            power: Slow::at_least(150.0),
            wheel: Slow::at_least(120.0),
            difference: Slow::at_least(5.0),
            wheel_deed: Wheel::Zooms,
            step: None,
            window: window::Window::default(),
            smoothed: window::AllSmoothed::default(),
            summaries: Summaries::default(),
            flag: None,
        }
    }
}

impl State {
    /// What the keys do that are for the charts.
    pub(crate) fn chart_key(&mut self, deed: Deed, model: &Model) {
        match deed {
            Deed::Window => self.window = self.window.next(),
            Deed::NextFlag | Deed::FlagBefore => {
                if let Some(index) = visited(deed, self.flag, model.flags.len()) {
                    self.show_flag(index, model);
                }
            }
            _ => obey_key(&mut self.axis, deed, model.now.as_secs_f64()),
        }
    }

    /// Shows a flag on the charts.
    fn show_flag(&mut self, index: usize, model: &Model) {
        if let Some(flag) = model.flags.get(index) {
            self.flag = Some(index);
            self.axis.jump(flag.from, flag.to);
        }
    }
}

/// The flag that a key leads to, if it is a key for flags: from nowhere to the newest, where
/// whoever rides looks first, then one on or back, never beyond the ends.
pub(crate) fn visited(deed: Deed, here: Option<usize>, count: usize) -> Option<usize> {
    let last = count.checked_sub(1)?;
    match (deed, here) {
        (Deed::NextFlag | Deed::FlagBefore, None) => Some(last),
        (Deed::NextFlag, Some(at)) => Some(at.saturating_add(1).min(last)),
        (Deed::FlagBefore, Some(at)) => Some(at.saturating_sub(1).min(last)),
        _ => None,
    }
}

/// Below this width charts and figures stand one under the other.
const WIDE: f32 = 84.0 * tokens::GRID;

/// Below this height the figures and the lists share one scroll.
const LOW: f32 = 68.0 * tokens::GRID;

/// Draws the place.
pub(crate) fn run_ui(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    state: &mut State,
    place: &mut Place,
    out: &mut Vec<Request>,
) {
    let Some(model) = inputs.model else {
        parts::page(ui, "no run", |ui| {
            parts::empty(
                ui,
                "Nobody is riding",
                "Choose a script and a bench first. The simulated bench needs no devices.",
            );
            if parts::button(ui, "Choose a script", "2", Voice::Primary).clicked() {
                *place = Place::Script;
            }
        });
        return;
    };
    state.smoothed.refresh(model, state.window);
    if ui.available_width() < WIDE {
        narrow(ui, inputs, model, state, place, out);
    } else {
        wide(ui, inputs, model, state, place, out);
    }
    // The charts above the one under the pointer learn of the cursor one frame later.
    if state.axis.pick.end_frame() == PointerMoved::Yes {
        ui.ctx().request_repaint();
    }
}

fn wide(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    model: &Model,
    state: &mut State,
    place: &mut Place,
    out: &mut Vec<Request>,
) {
    let side = (0.27 * ui.available_width()).clamp(40.0 * tokens::GRID, 54.0 * tokens::GRID);
    let frame = Frame::new()
        .fill(theme::tokens(ui).paper)
        .inner_margin(Margin {
            left: 16,
            right: 24,
            top: 24,
            bottom: 16,
        });
    Panel::right("figures")
        .exact_size(side)
        .resizable(false)
        .show_separator_line(false)
        .frame(frame)
        .show(ui, |ui| figures(ui, model, state));
    let frame = Frame::new().inner_margin(Margin {
        left: 24,
        right: 16,
        top: 24,
        bottom: 16,
    });
    egui::CentralPanel::default().frame(frame).show(ui, |ui| {
        head(ui, inputs, model);
        call(ui, inputs, model, place, out);
        let (height, least) = (
            ui.available_height(),
            charts::least_height(ui, model, state),
        );
        if height >= least {
            charts::charts_ui(ui, model, state, height, Wheel::Zooms);
            return;
        }
        // In a low window charts that can be read go before charts that are all in view.
        ScrollArea::vertical()
            .id_salt("charts")
            .auto_shrink([false, false])
            .show(ui, |ui| {
                charts::charts_ui(ui, model, state, least, Wheel::Scrolls)
            });
    });
}

fn narrow(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    model: &Model,
    state: &mut State,
    place: &mut Place,
    out: &mut Vec<Request>,
) {
    parts::page(ui, "run", |ui| {
        head(ui, inputs, model);
        call(ui, inputs, model, place, out);
        readings::readings_ui(ui, model, state);
        ui.add_space(tokens::GAP);
        work::work_ui(ui, model);
        ui.add_space(tokens::GAP);
        charts::charts_ui(ui, model, state, 56.0 * tokens::GRID, Wheel::Scrolls);
        ui.add_space(tokens::GAP);
        parts::caption(ui, "Steps");
        steps::steps_ui(ui, model, &mut state.step, 24.0 * tokens::GRID);
        ui.add_space(tokens::GAP);
        flags::flags_ui(ui, model, state);
        ui.add_space(tokens::GAP);
        flags::brake_ui(ui, model);
    });
}

/// The figures at the right: what must be read from two metres first, lists below.
fn figures(ui: &mut Ui, model: &Model, state: &mut State) {
    if ui.available_height() < LOW {
        // One scroll for all of it where the window is low.
        ScrollArea::vertical()
            .id_salt("figures")
            .auto_shrink([false, false])
            .show(ui, |ui| {
                first_figures(ui, model, state);
                lists(ui, model, state, 20.0 * tokens::GRID);
            });
        return;
    }
    first_figures(ui, model, state);
    let room = ui.available_height();
    if room < 40.0 * tokens::GRID {
        ScrollArea::vertical()
            .id_salt("lists")
            .auto_shrink([false, false])
            .show(ui, |ui| {
                lists(ui, model, state, 20.0 * tokens::GRID);
            });
    } else {
        parts::caption(ui, "Steps");
        steps::steps_ui(ui, model, &mut state.step, 0.4 * room);
        ui.add_space(tokens::GAP);
        ScrollArea::vertical()
            .id_salt("flags")
            .auto_shrink([false, false])
            .show(ui, |ui| {
                flags::flags_ui(ui, model, state);
                ui.add_space(tokens::GAP);
                flags::brake_ui(ui, model);
            });
    }
}

fn first_figures(ui: &mut Ui, model: &Model, state: &State) {
    readings::readings_ui(ui, model, state);
    ui.add_space(tokens::GAP);
    work::work_ui(ui, model);
    ui.add_space(tokens::GAP);
}

fn lists(ui: &mut Ui, model: &Model, state: &mut State, steps: f32) {
    parts::caption(ui, "Steps");
    steps::steps_ui(ui, model, &mut state.step, steps);
    ui.add_space(tokens::GAP);
    flags::flags_ui(ui, model, state);
    ui.add_space(tokens::GAP);
    flags::brake_ui(ui, model);
}

/// Script, recording and the health of every source.
fn head(ui: &mut Ui, inputs: &Inputs<'_>, model: &Model) {
    parts::short_heading(ui, &told(ui, &model.script.title));
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing = egui::vec2(2.0 * tokens::GRID, 0.5 * tokens::GRID);
        ui.spacing_mut().interact_size.y = 2.0 * tokens::GRID;
        sources(ui, inputs, model);
    });
    ui.add_space(tokens::GRID);
}

/// Recording time and the health of every source, in as many lines as they need.
fn sources(ui: &mut Ui, inputs: &Inputs<'_>, model: &Model) {
    ui.horizontal_wrapped(|ui| {
        let t = theme::tokens(ui);
        recording(ui, inputs, model);
        for instrument in &model.instruments {
            let state = match instrument.rate_hz {
                Some(rate) if instrument.health == bench::model::Health::Good => {
                    format!("{}\u{a0}Hz", words::decimals(rate, 1))
                }
                _ => super::bench::health_words(&instrument.health),
            };
            let good = instrument.health == bench::model::Health::Good;
            let ink = if good { t.quiet } else { t.text };
            let text = format!("{} {state}", instrument.name);
            let glyph = Glyph::of_health(&instrument.health);
            parts::marked_within(ui, 30.0 * tokens::GRID, glyph, ink, &text, tokens::BODY);
        }
    });
}

/// Since when it is recorded and where; loud where it is not.
fn recording(ui: &mut Ui, inputs: &Inputs<'_>, model: &Model) {
    let t = theme::tokens(ui);
    let bench = if model.simulated {
        "Simulated bench · "
    } else {
        ""
    };
    let most = 40.0 * tokens::GRID;
    let since = words::moment(model.now);
    if inputs.replay.is_some() {
        let text = words::sentence_case(&format!("{bench}played again, {since}"));
        ui.label(egui::RichText::new(text).color(t.quiet));
        return;
    }
    match inputs.recording {
        Some(view) if view.failure.is_some() => {
            let why = view.failure.unwrap_or_default();
            let text = format!("{bench}not recorded: {why}");
            parts::marked_within(ui, most, Glyph::Cross, t.alarm, &text, tokens::BODY);
        }
        Some(view) if view.waiting > MANY_ROWS => {
            let text = format!("{bench}the disk is behind: {} rows wait", view.waiting);
            parts::marked_within(ui, most, Glyph::Dash, t.text, &text, tokens::BODY);
        }
        view => {
            let text = words::sentence_case(&format!("{bench}recorded {since}"));
            let label = egui::Label::new(egui::RichText::new(text).color(t.quiet));
            let response = ui.add(label);
            if let Some(view) = view {
                response.on_hover_text(view.file);
            }
        }
    }
}

/// More rows than this wait only where a disk does not keep up: seconds of five instruments.
const MANY_ROWS: usize = 500;

/// What is asked of the rider now, in large letters: a prompt, or where the session stands.
///
/// While paused, the prompt is the question whether to go on and has the control for it.
fn call(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    model: &Model,
    place: &mut Place,
    out: &mut Vec<Request>,
) {
    // A replay asks nobody for anything.
    if inputs.replay.is_some() {
        return;
    }
    match &model.phase {
        Phase::Ready if waits_for_limits(model) => limits_ui(ui, model, out),
        Phase::Ready => {
            limits_ui(ui, model, out);
            band(ui, "Ready. Start when you sit well.", |ui| {
                if parts::button(ui, "Start riding", "Space", Voice::Primary).clicked() {
                    out.push(Request::Bench(Command::Start));
                }
            });
        }
        Phase::Paused { reason } => {
            let words = match (&model.prompt, reason.as_str()) {
                (Some(prompt), _) => prompt.text.clone(),
                (None, "") => "Paused. The load is off.".to_owned(),
                (None, reason) => format!("Paused: {reason}. The load is off."),
            };
            band(ui, &words, |ui| {
                if parts::button(ui, "Resume", "Space", Voice::Primary).clicked() {
                    out.push(Request::Bench(Command::Resume));
                }
            });
            return;
        }
        Phase::Ended { reason } => {
            let words = match reason.as_str() {
                "" => "The session is over.".to_owned(),
                reason => format!("The session is over: {reason}."),
            };
            band(ui, &words, |ui| {
                if inputs.opened.is_some() {
                    if parts::button(ui, "See the findings", "Enter", Voice::Primary).clicked() {
                        *place = Place::Findings;
                    }
                } else {
                    parts::quiet(ui, "The findings come when they are computed.");
                }
            });
        }
        Phase::Riding | Phase::Cautions => {}
    }
    // What waits for nobody stands beside the target; before the first load and after the end
    // there is nothing to do.
    let rides = model.phase == Phase::Riding;
    if let Some(prompt) = model.prompt.as_ref().filter(|prompt| prompt.waits && rides) {
        band(ui, &prompt.text, |ui| {
            if parts::button(ui, "Done", "Enter", Voice::Primary).clicked() {
                out.push(Request::Bench(Command::Acknowledge));
            }
        });
    }
}

/// Large words across the page with a control at the right.
fn band(ui: &mut Ui, words: &str, control: impl FnOnce(&mut Ui)) {
    let words = &*told(ui, words);
    let t = theme::tokens(ui);
    let frame = Frame::new()
        .fill(t.tint)
        .corner_radius(tokens::CORNER)
        .inner_margin(Margin::symmetric(24, 16));
    frame.show(ui, |ui| {
        let whole = ui.available_width();
        ui.set_width(whole);
        let beside = whole >= 56.0 * tokens::GRID;
        let wide = match beside {
            true => whole - 24.0 * tokens::GRID,
            false => whole,
        };
        let one_line = control::text_width(ui, words, theme::bold(tokens::TALL)) <= wide;
        let size = if one_line {
            tokens::TALL
        } else {
            tokens::HEADING
        };
        let text = egui::RichText::new(words)
            .font(theme::bold(size))
            .color(t.text);
        let text = egui::Label::new(text).wrap();
        if !beside {
            ui.add(text);
            control(ui);
            return;
        }
        ui.horizontal(|ui| {
            let center = egui::Layout::left_to_right(egui::Align::Center);
            let least = egui::vec2(wide, tokens::BIG_CONTROL);
            ui.allocate_ui_with_layout(least, center, |ui| {
                ui.set_min_width(wide);
                ui.add(text);
            });
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), control);
        });
    });
    ui.add_space(tokens::GRID);
}
