//! The desk itself: which place is open, what lies over it, and what the keys do.

use crate::inputs::{Inputs, Searching};
use crate::keys::{Deed, Hands};
use crate::place::script::limits::waits_for_limits;
use crate::place::{Place, bench as bench_place, findings, run, script, shelf};
use crate::request::{ImportWish, RadioWish, ReplayWish, Request, ShelfWish, ThemeChoice};
use crate::{replay, theme};
use bench::model::Phase;
use bench::{Command, Model};
use egui::Context;

/// What is kept from one start to the next. The program around the desk stores it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Remembered {
    /// The theme.
    pub theme: ThemeChoice,
    /// The text size, percent.
    pub text_pct: u16,
}

impl Default for Remembered {
    fn default() -> Self {
        Self {
            theme: ThemeChoice::System,
            text_pct: 100,
        }
    }
}

/// Smallest and largest text size, percent.
const TEXT_PCT: [u16; 2] = [80, 200];
/// One step of the text size, percent.
const TEXT_STEP_PCT: u16 = 10;

/// What belongs to looking, and nothing else.
#[derive(Debug)]
pub struct Desk {
    pub(crate) place: Place,
    pub(crate) remembered: Remembered,
    pub(crate) bench: bench_place::State,
    pub(crate) script: script::State,
    pub(crate) run: run::State,
    pub(crate) findings: findings::State,
    pub(crate) shelf: shelf::State,
    pub(crate) open: Open,
    pub(crate) ending: Ending,
    seen_model: Seen,
    seen_opened: Option<u64>,
    /// The import, and how many recordings it had.
    seen_import: Option<(u64, usize)>,
    pub(crate) hands: Hands,
}

/// What lies over the place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Open {
    /// Nothing.
    Nothing,
    /// Large figures for across the room.
    AcrossTheRoom,
    /// The list of keys.
    KeyMap,
    /// What the person prefers.
    Settings,
    /// What the program is and what it is made of.
    About,
}

/// Whether the session is about to be ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ending {
    /// It is not.
    No,
    /// It was asked for once and waits for the second word.
    Asked,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Seen {
    Nothing,
    Session,
    Replay,
}

impl Desk {
    /// A desk with the look installed in `ctx`. It opens where the work begins: at the script.
    pub fn new(ctx: &Context, remembered: Remembered) -> Self {
        theme::install(ctx);
        let desk = Self {
            place: Place::Script,
            remembered,
            bench: bench_place::State::default(),
            script: script::State::default(),
            run: run::State::default(),
            findings: findings::State::default(),
            shelf: shelf::State::default(),
            open: Open::Nothing,
            ending: Ending::No,
            seen_model: Seen::Nothing,
            seen_opened: None,
            seen_import: None,
            hands: Hands::Free,
        };
        desk.apply_look(ctx);
        desk
    }

    /// The place that is open.
    pub fn place(&self) -> Place {
        self.place
    }

    /// The stretch that the charts of the ride show when they do not follow the present, seconds.
    pub fn shown_s(&self) -> [f64; 2] {
        self.run.axis.range(0.0)
    }

    /// The title of the window: what is open, and the name of the program.
    pub fn title(&self, inputs: &Inputs<'_>) -> String {
        let what = if let Some(replay) = inputs.replay {
            format!("Replay of {}", replay.label)
        } else if self.place == Place::Shelf && self.shelf.import(inputs).is_some() {
            "Import".to_owned()
        } else if let (Place::Shelf, Some(compared)) = (self.place, inputs.compared) {
            format!("{} sessions side by side", compared.sessions.len())
        } else if let (Place::Findings, Some(opened)) = (self.place, inputs.opened) {
            opened.label.to_owned()
        } else if let Some(model) = inputs.model {
            model.script.title.clone()
        } else {
            return "Prony".to_owned();
        };
        format!("{what} – Prony")
    }

    /// Opens a place.
    pub fn go(&mut self, place: Place) {
        self.place = place;
        self.open = Open::Nothing;
    }

    /// A session that appears is shown, and so are findings and recordings to be brought in that
    /// appear while nobody rides.
    pub(crate) fn notice_changes(&mut self, inputs: &Inputs<'_>) {
        match (self.seen_model, inputs.model) {
            (Seen::Nothing, Some(_)) => {
                self.seen_model = match inputs.replay {
                    Some(_) => Seen::Replay,
                    None => Seen::Session,
                };
                self.run = run::State::default();
                self.ending = Ending::No;
                self.go(Place::Run);
            }
            (Seen::Session | Seen::Replay, None) => {
                if self.seen_model == Seen::Replay && self.place == Place::Run {
                    self.place = Place::Shelf;
                }
                self.seen_model = Seen::Nothing;
                self.ending = Ending::No;
                if self.open == Open::AcrossTheRoom {
                    self.open = Open::Nothing;
                }
            }
            _ => {}
        }
        let opened = inputs.opened.map(|opened| opened.id);
        if opened != self.seen_opened {
            self.seen_opened = opened;
            if opened.is_some() && !self.is_watching(inputs.model) {
                self.go(Place::Findings);
            }
        }
        let importing = inputs
            .importing
            .map(|view| (view.id, view.recordings.len()));
        if importing != self.seen_import {
            self.seen_import = importing;
            self.shelf.take_import_up();
            if importing.is_some() && !self.is_watching(inputs.model) {
                self.go(Place::Shelf);
            }
        }
    }

    /// Whether a ride is under way, or has just ended before the eyes of whoever watched it.
    fn is_watching(&self, model: Option<&Model>) -> bool {
        model.is_some_and(|model| {
            self.place == Place::Run || !matches!(model.phase, Phase::Ended { .. })
        })
    }

    pub(crate) fn act(
        &mut self,
        ctx: &Context,
        deed: Deed,
        inputs: &Inputs<'_>,
        out: &mut Vec<Request>,
    ) {
        match deed {
            Deed::Go(place) => self.go(place),
            Deed::Release => self.escape(ctx, inputs, out),
            Deed::AcrossTheRoom => {
                self.open = match self.open {
                    Open::AcrossTheRoom => Open::Nothing,
                    _ if inputs.model.is_some() => Open::AcrossTheRoom,
                    other => other,
                };
            }
            Deed::KeyMap => {
                self.open = match self.open {
                    Open::KeyMap => Open::Nothing,
                    _ => Open::KeyMap,
                };
            }
            Deed::Settings => {
                self.open = match self.open {
                    Open::Settings => Open::Nothing,
                    _ => Open::Settings,
                };
            }
            Deed::SeekBack | Deed::SeekForth => {
                if let Some(replay) = inputs.replay {
                    out.push(replay::step(replay, deed));
                }
            }
            Deed::PauseOrResume if inputs.replay.is_some() => {
                out.extend(inputs.replay.map(replay::turn));
            }
            Deed::Undo => self.script.undo(),
            Deed::Role(role) => self.bench.give_role(role, inputs, out),
            Deed::Keep if self.shows_comparison(inputs) => {
                out.push(Request::Shelf(ShelfWish::KeepComparison));
            }
            Deed::Save if self.shows_comparison(inputs) => {
                out.push(Request::Shelf(ShelfWish::SaveComparison));
            }
            Deed::Keep if inputs.opened.is_some() => out.push(Request::KeepReport),
            Deed::Next => self.next(inputs, out),
            Deed::Open => out.push(Request::OpenSession),
            Deed::Save if self.place == Place::Script && self.script.save(out) => {}
            Deed::Save if inputs.opened.is_some() => out.push(Request::SaveReport),
            Deed::SavePictures if inputs.opened.is_some() => out.push(Request::SavePictures),
            Deed::SavePack if inputs.opened.is_some() => out.push(Request::SavePack),
            Deed::Theme => self.turn_theme(ctx, out),
            Deed::LargerText => {
                self.size_text(ctx, self.remembered.text_pct + TEXT_STEP_PCT, out);
            }
            Deed::SmallerText => {
                let smaller = self.remembered.text_pct.saturating_sub(TEXT_STEP_PCT);
                self.size_text(ctx, smaller, out);
            }
            Deed::NormalText => self.size_text(ctx, 100, out),
            Deed::Back | Deed::Forth | Deed::Closer | Deed::Farther
                if self.place == Place::Script && inputs.model.is_none() =>
            {
                self.script.turn(deed, inputs);
            }
            Deed::Closer | Deed::Farther if self.place == Place::Bench => {
                self.bench.choose_beside(deed, inputs);
            }
            Deed::Closer | Deed::Farther if self.place == Place::Shelf => {
                self.shelf.choose_beside(deed, inputs);
            }
            Deed::Mark if self.place == Place::Shelf && !rides(inputs) => {
                self.shelf.turn_mark(inputs);
            }
            Deed::PauseOrResume if self.place == Place::Shelf && inputs.model.is_none() => {
                self.shelf.play(inputs, out);
            }
            Deed::Follow
            | Deed::Back
            | Deed::Forth
            | Deed::Closer
            | Deed::Farther
            | Deed::Fit
            | Deed::CursorBack
            | Deed::CursorForth
            | Deed::SelectFrom
            | Deed::SelectTo
            | Deed::ShowSelected
            | Deed::ClearSelected
            | Deed::Copy
            | Deed::Window
            | Deed::NextFlag
            | Deed::FlagBefore => match (self.place, inputs.model) {
                (Place::Findings, _) => self.findings.chart_key(deed, inputs.opened),
                (_, Some(model)) => self.run.chart_key(deed, model),
                (_, None) => {}
            },
            Deed::End if inputs.replay.is_some() => {
                out.push(Request::Replay(ReplayWish::Close));
            }
            Deed::End => self.end(inputs.model, out),
            _ if inputs.replay.is_some() => {}
            _ => {
                if let Some(command) = inputs.model.and_then(|model| command_for(model, deed)) {
                    out.push(Request::Bench(command));
                }
            }
        }
    }

    fn shows_comparison(&self, inputs: &Inputs<'_>) -> bool {
        let on_shelf = self.place == Place::Shelf && self.shelf.import(inputs).is_none();
        on_shelf && inputs.compared.is_some()
    }

    /// Releasing comes first; only when nothing is connected does the key close things, a list that
    /// stands open before anything else.
    fn escape(&mut self, ctx: &Context, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
        self.ending = Ending::No;
        let list_open = egui::Popup::is_any_open(ctx);
        if list_open {
            egui::Popup::close_all(ctx);
        }
        if inputs.model.is_some() && inputs.replay.is_none() {
            out.push(Request::Bench(Command::Release));
        } else if list_open {
            // That was all.
        } else if self.open == Open::Nothing && self.place == Place::Shelf {
            if self.shelf.import(inputs).is_some() {
                self.shelf.lay_import_aside(inputs);
            } else if inputs.compared.is_some() {
                out.push(Request::Shelf(ShelfWish::CloseCompare));
            } else {
                self.shelf.let_go();
            }
        } else if self.open == Open::Nothing {
            self.findings.close_lens();
        } else {
            self.open = Open::Nothing;
        }
    }

    fn next(&mut self, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
        // What is made ready on the page that is looked at, never something of a ride behind it; but
        // the cautions lie over every page.
        let cautions = inputs
            .model
            .is_some_and(|model| model.phase == Phase::Cautions);
        if self.place == Place::Shelf
            && !cautions
            && let Some(view) = self.shelf.import(inputs)
        {
            if view.missing().is_none() {
                out.push(Request::Import(ImportWish::BringIn));
            }
            return;
        }
        if inputs.replay.is_some() {
            return;
        }
        if self.place == Place::Shelf && !rides(inputs) {
            return self.shelf.open(inputs, out);
        }
        let Some(model) = inputs.model else {
            match self.place {
                Place::Script => self.script.start(inputs, out),
                Place::Bench if inputs.devices.searching == Searching::No => {
                    out.push(Request::Radio(RadioWish::Search(Searching::Yes)));
                }
                _ => {}
            }
            return;
        };
        if self.ending == Ending::Asked {
            self.ending = Ending::No;
            out.push(Request::Bench(Command::Stop));
        } else if model.phase == Phase::Cautions {
            out.push(Request::Bench(Command::AcceptCautions));
        } else if matches!(model.phase, Phase::Paused { .. }) {
            out.push(Request::Bench(Command::Resume));
        } else if waits_for_limits(model) {
            out.push(Request::Bench(Command::CapSteps));
        } else if model.prompt.as_ref().is_some_and(|prompt| prompt.waits) {
            out.push(Request::Bench(Command::Acknowledge));
        } else if matches!(model.phase, Phase::Ended { .. }) && inputs.opened.is_some() {
            self.go(Place::Findings);
        }
    }

    fn end(&mut self, model: Option<&Model>, out: &mut Vec<Request>) {
        match model.map(|model| &model.phase) {
            Some(Phase::Ended { .. }) => out.push(Request::CloseSession),
            Some(_) => self.ending = Ending::Asked,
            None => {}
        }
    }

    pub(crate) fn turn_theme(&mut self, ctx: &Context, out: &mut Vec<Request>) {
        let theme = match ctx.theme() {
            egui::Theme::Dark => ThemeChoice::Light,
            egui::Theme::Light => ThemeChoice::Dark,
        };
        self.choose_theme(ctx, theme, out);
    }

    pub(crate) fn choose_theme(
        &mut self,
        ctx: &Context,
        theme: ThemeChoice,
        out: &mut Vec<Request>,
    ) {
        self.remembered.theme = theme;
        self.apply_look(ctx);
        out.push(Request::RememberTheme(self.remembered.theme));
    }

    pub(crate) fn size_text(&mut self, ctx: &Context, pct: u16, out: &mut Vec<Request>) {
        self.remembered.text_pct = pct.clamp(TEXT_PCT[0], TEXT_PCT[1]);
        self.apply_look(ctx);
        out.push(Request::RememberTextSize(self.remembered.text_pct));
    }

    fn apply_look(&self, ctx: &Context) {
        ctx.set_theme(match self.remembered.theme {
            ThemeChoice::System => egui::ThemePreference::System,
            ThemeChoice::Light => egui::ThemePreference::Light,
            ThemeChoice::Dark => egui::ThemePreference::Dark,
        });
        ctx.set_zoom_factor(f32::from(self.remembered.text_pct) / 100.0);
    }
}

/// Whether somebody may be loaded.
fn rides(inputs: &Inputs<'_>) -> bool {
    inputs
        .model
        .is_some_and(|model| !matches!(model.phase, Phase::Ended { .. }))
}

/// The command that a key means in the present phase, if it means one.
pub(crate) fn command_for(model: &Model, deed: Deed) -> Option<Command> {
    let rides = model.phase == Phase::Riding;
    let under_way = rides || matches!(model.phase, Phase::Paused { .. });
    match deed {
        Deed::PauseOrResume => match model.phase {
            // What the device does not offer is brought into its limits first.
            Phase::Ready if waits_for_limits(model) => None,
            Phase::Ready => Some(Command::Start),
            Phase::Riding => Some(Command::Pause),
            Phase::Paused { .. } => Some(Command::Resume),
            Phase::Cautions | Phase::Ended { .. } => None,
        },
        Deed::Skip if under_way => Some(Command::Skip),
        Deed::Repeat if under_way => Some(Command::Repeat),
        Deed::Extend if under_way => Some(Command::Extend(60)),
        Deed::Mark if under_way => Some(Command::Mark(String::new())),
        _ => None,
    }
}
