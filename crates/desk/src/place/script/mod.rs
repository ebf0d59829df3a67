//! Script: what is ridden, on which bench, by which claims and which rule it is judged, and what
//! can be decided that way before anybody rides.

mod editor;
mod foresight;
pub(crate) mod limits;
mod outline;
mod planned;
mod ride;
mod rule;
mod sheets;
pub mod templates;

pub(crate) use planned::target;

use crate::inputs::{DraftProblem, Inputs, RigCard, ScriptCard};
use crate::keys::Deed;
use crate::parts::{self, Voice, control, field, words};
use crate::request::{Pace, Request, ScriptWish, start_request};
use crate::theme::tokens;
use editor::{Editor, Grammar};
use egui::{Frame, Margin, Panel, ScrollArea, Ui};

/// What is chosen. Without a choice the first of each list counts.
#[derive(Debug, Default)]
pub(crate) struct State {
    script: Option<String>,
    rig: Option<String>,
    pace: Pace,
    sheet: Sheet,
    editor: Option<Editor>,
    claims: sheets::Claims,
    rule: rule::RuleText,
    foreseen: foresight::Foreseen,
    serial: u64,
}

/// What is looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Sheet {
    /// Scripts and benches.
    #[default]
    Choose,
    /// The claims that are judged.
    Claims,
    /// The rule that verdicts follow.
    Rule,
}

impl State {
    fn script<'a>(&self, scripts: &'a [ScriptCard]) -> Option<&'a ScriptCard> {
        let chosen = self.script.as_deref();
        scripts
            .iter()
            .find(|card| Some(card.view.name.as_str()) == chosen)
            .or(scripts.first())
    }

    fn rig<'a>(&self, rigs: &'a [RigCard]) -> Option<&'a RigCard> {
        let chosen = self.rig.as_deref();
        rigs.iter()
            .find(|card| Some(card.name.as_str()) == chosen)
            .or(rigs.first())
    }

    fn pace(&self, rig: &RigCard) -> Pace {
        if rig.simulated {
            self.pace
        } else {
            Pace::RealTime
        }
    }

    /// The bench that is chosen.
    pub(crate) fn chosen_rig<'a>(&self, rigs: &'a [RigCard]) -> Option<&'a str> {
        self.rig(rigs).map(|card| card.name.as_str())
    }

    /// Chooses a bench.
    pub(crate) fn choose_rig(&mut self, name: &str) {
        self.rig = Some(name.to_owned());
    }

    /// Whether a text is edited that has a history here: neither the field for its name, nor the
    /// rule, which is one field, is meant.
    pub(crate) fn edits(&self, ctx: &egui::Context) -> bool {
        let shown = match self.sheet {
            Sheet::Choose => self.editor.is_some(),
            Sheet::Claims => self.claims.edits(),
            Sheet::Rule => false,
        };
        shown && ctx.memory(|memory| memory.focused()) != Some(editor::name_id())
    }

    /// Takes back the last change of what is being edited.
    pub(crate) fn undo(&mut self) {
        match (self.sheet, &mut self.editor) {
            (Sheet::Choose, Some(editor)) => editor.undo(),
            (Sheet::Claims, _) => self.claims.undo(),
            _ => {}
        }
    }

    /// Keeps what is being edited; says whether there was anything.
    pub(crate) fn save(&mut self, out: &mut Vec<Request>) -> bool {
        match (self.sheet, &mut self.editor) {
            (Sheet::Choose, Some(editor)) => {
                out.push(Request::Script(ScriptWish::Save {
                    name: editor.name.trim().to_owned(),
                    text: editor.text.clone(),
                }));
                editor.kept.clone_from(&editor.text);
                true
            }
            _ => false,
        }
    }

    /// The script above or below, simulated time slower or faster.
    pub(crate) fn turn(&mut self, deed: Deed, inputs: &Inputs<'_>) {
        if self.sheet != Sheet::Choose || self.editor.is_some() {
            return;
        }
        match deed {
            Deed::Back | Deed::Forth => {
                let at = Pace::ALL.iter().position(|pace| *pace == self.pace);
                let at = beside(at, Pace::ALL.len(), deed == Deed::Forth);
                self.pace = at.map_or(self.pace, |at| Pace::ALL[at]);
            }
            _ => {
                let chosen = self.script(inputs.scripts).map(|card| &card.view.name);
                let at = inputs
                    .scripts
                    .iter()
                    .position(|card| Some(&card.view.name) == chosen);
                let at = beside(at, inputs.scripts.len(), deed == Deed::Farther);
                self.script = at.map(|at| inputs.scripts[at].view.name.clone());
            }
        }
    }

    /// Asks for a session with what is chosen, if it can be ridden.
    pub(crate) fn start(&self, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
        if self.sheet != Sheet::Choose || self.editor.is_some() {
            return;
        }
        let (Some(script), Some(rig)) = (self.script(inputs.scripts), self.rig(inputs.rigs)) else {
            return;
        };
        if script.problem.is_none() && inputs.model.is_none() && inputs.busy.is_none() {
            out.push(start_request(&script.view.name, &rig.name, self.pace(rig)));
        }
    }
}

/// The neighbour of a place in a list of so many, within the list.
pub(crate) fn beside(at: Option<usize>, count: usize, further: bool) -> Option<usize> {
    let last = count.checked_sub(1)?;
    Some(match (at, further) {
        (None, _) => 0,
        (Some(at), true) => (at + 1).min(last),
        (Some(at), false) => at.saturating_sub(1).min(last),
    })
}

/// What a script is made of.
const SCRIPT: Grammar = Grammar {
    list: "steps",
    entry: "step",
    templates: templates::STEPS,
};

/// Draws the place.
pub(crate) fn script_ui(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    state: &mut State,
    out: &mut Vec<Request>,
) {
    if inputs.scripts.is_empty() {
        parts::page(ui, "no scripts", |ui| {
            parts::empty(
                ui,
                "No scripts",
                "The built-in scripts could not be read. Reinstall the program, or put a script \
                 file into the data folder.",
            );
        });
        return;
    }
    sheets_bar(ui, state);
    match (state.sheet, state.editor.is_some()) {
        (Sheet::Claims, _) => sheets::claims_ui(ui, inputs, &mut state.claims, out),
        (Sheet::Rule, _) => rule::rule_ui(ui, inputs, &mut state.rule, out),
        (Sheet::Choose, true) => edit_ui(ui, inputs, state, out),
        (Sheet::Choose, false) => choose_ui(ui, inputs, state, out),
    }
}

fn sheets_bar(ui: &mut Ui, state: &mut State) {
    let frame = Frame::new().inner_margin(Margin {
        left: 24,
        right: 24,
        top: 16,
        bottom: 0,
    });
    Panel::top("script sheets")
        .resizable(false)
        .show_separator_line(false)
        .frame(frame)
        .show(ui, |ui| {
            let sheets = [Sheet::Choose, Sheet::Claims, Sheet::Rule];
            let chosen = sheets.iter().position(|sheet| *sheet == state.sheet);
            let words = ["Scripts", "Claim sheet", "Decision rule"];
            if let Some(index) = control::words_row(ui, &words, chosen) {
                state.sheet = sheets[index];
            }
        });
}

fn choose_ui(ui: &mut Ui, inputs: &Inputs<'_>, state: &mut State, out: &mut Vec<Request>) {
    let list = (0.3 * ui.available_width()).clamp(22.0 * tokens::GRID, 38.0 * tokens::GRID);
    let frame = Frame::new().inner_margin(Margin {
        left: 24,
        right: 0,
        top: 16,
        bottom: 0,
    });
    Panel::left("scripts")
        .exact_size(list)
        .resizable(false)
        .show_separator_line(false)
        .frame(frame)
        .show(ui, |ui| list_ui(ui, inputs, state, out));
    let Some(script) = state.script(inputs.scripts).cloned() else {
        return;
    };
    parts::page(ui, "script", |ui| {
        let wide = ui.available_width() > 84.0 * tokens::GRID;
        if wide {
            let side = 38.0 * tokens::GRID;
            let steps = ui.available_width() - side - 2.0 * tokens::GAP;
            ui.horizontal_top(|ui| {
                ui.spacing_mut().item_spacing.x = 2.0 * tokens::GAP;
                ui.vertical(|ui| {
                    ui.set_width(steps);
                    ui.spacing_mut().item_spacing.x = tokens::GRID;
                    planned::about_ui(ui, &script);
                    particulars(ui, inputs, state, &script, out);
                });
                ui.vertical(|ui| {
                    ui.set_width(side);
                    ride::bench_ui(ui, inputs, state);
                    ride::start_ui(ui, inputs, state, out);
                });
            });
        } else {
            planned::about_ui(ui, &script);
            // Where there is little room, what begins comes before what can be chosen.
            ride::start_ui(ui, inputs, state, out);
            ui.add_space(tokens::GAP);
            ride::bench_ui(ui, inputs, state);
            ui.add_space(tokens::GAP);
            particulars(ui, inputs, state, &script, out);
        }
    });
}

/// Below the head of a script: how to change it, its staircase, what it can decide, its steps.
fn particulars(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    state: &mut State,
    script: &ScriptCard,
    out: &mut Vec<Request>,
) {
    ui.horizontal_wrapped(|ui| {
        let words = match script.is_own {
            true => "Edit",
            false => "Edit a copy",
        };
        if parts::button(ui, words, "", Voice::Plain).clicked() {
            open(state, inputs, script);
        }
        if script.is_own && parts::button(ui, "Delete", "", Voice::Plain).clicked() {
            let name = script.view.name.clone();
            out.push(Request::Script(ScriptWish::Delete(name)));
        }
    });
    ui.add_space(tokens::GRID);
    if script.problem.is_none() {
        planned::staircase(ui, script);
        ui.add_space(tokens::GAP);
        let rig = state.rig(inputs.rigs).cloned();
        if let (Some(rule), Some(rig)) = (inputs.rule, rig) {
            foresight::foresight_ui(ui, &mut state.foreseen, rule, &rig, script);
            ui.add_space(tokens::GAP);
        }
    }
    planned::steps_ui(ui, script);
}

/// Opens a script to be edited: one of the user's own as it is, any other as a copy.
fn open(state: &mut State, inputs: &Inputs<'_>, script: &ScriptCard) {
    let name = match script.is_own {
        true => script.view.name.clone(),
        false => free_name(inputs.scripts, &script.view.name),
    };
    state.serial += 1000;
    state.editor = Some(Editor::open(name, &script.text, state.serial));
}

fn free_name(scripts: &[ScriptCard], like: &str) -> String {
    let taken = |name: &str| scripts.iter().any(|card| card.view.name == name);
    (1..)
        .map(|n| match n {
            1 => format!("{like}-own"),
            n => format!("{like}-own-{n}"),
        })
        .find(|name| !taken(name))
        .unwrap_or_default()
}

fn edit_ui(ui: &mut Ui, inputs: &Inputs<'_>, state: &mut State, out: &mut Vec<Request>) {
    let Some(mut editor) = state.editor.take() else {
        return;
    };
    let draft = inputs.draft.filter(|draft| draft.serial == editor.serial);
    let mut closes = false;
    parts::page(ui, "edit", |ui| {
        ui.horizontal_wrapped(|ui| {
            let id = Some(editor::name_id());
            let name = &mut editor.name;
            field::line_of(ui, id, "Name of the script", "name", name, 200.0);
            if parts::button(ui, "Keep this script", "Ctrl S", Voice::Plain).clicked() {
                out.push(Request::Script(ScriptWish::Save {
                    name: editor.name.trim().to_owned(),
                    text: editor.text.clone(),
                }));
                editor.kept.clone_from(&editor.text);
                state.script = Some(editor.name.trim().to_owned());
            }
            if parts::button(ui, "Take back", "Ctrl Z", Voice::Plain).clicked() {
                editor.undo();
            }
            let words = match editor.is_changed() {
                true => "Close without keeping",
                false => "Close",
            };
            closes = parts::button(ui, words, "", Voice::Plain).clicked();
            let state_words = match draft {
                Some(draft) if draft.card.is_some() => draft
                    .card
                    .as_ref()
                    .map(|card| {
                        let length = words::length(card.view.total);
                        format!("{} steps, {length}, {}", card.view.steps.len(), card.effort)
                    })
                    .unwrap_or_default(),
                Some(draft) => format!("{} to put right", draft.problems.len()),
                None => "reading …".to_owned(),
            };
            parts::quiet_line(ui, &state_words);
        });
        ui.add_space(tokens::GRID);
        if let Some(card) = draft.and_then(|draft| draft.card.as_ref()) {
            planned::small_staircase(ui, card);
            ui.add_space(tokens::GRID);
        }
        let problems: &[DraftProblem] = draft.map_or(&[], |draft| &draft.problems);
        editor::editor_ui(ui, SCRIPT, &mut editor, problems);
    });
    let known = inputs.draft.map(|draft| draft.serial);
    if known != Some(editor.serial) {
        out.push(Request::Script(ScriptWish::Check {
            serial: editor.serial,
            text: editor.text.clone(),
        }));
    }
    if !closes {
        state.editor = Some(editor);
    }
}

fn list_ui(ui: &mut Ui, inputs: &Inputs<'_>, state: &mut State, out: &mut Vec<Request>) {
    ScrollArea::vertical()
        .id_salt("script list")
        .auto_shrink([false, false])
        .show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 2.0;
            let chosen = state
                .script(inputs.scripts)
                .map(|card| card.view.name.clone());
            for card in inputs.scripts {
                let is_chosen = chosen.as_deref() == Some(card.view.name.as_str());
                let second = match &card.problem {
                    Some(_) => "cannot be ridden".to_owned(),
                    None => format!("{} · {}", words::length(card.view.total), card.view.name),
                };
                if control::choice_row(ui, is_chosen.into(), &card.view.title, &second).clicked() {
                    state.script = Some(card.view.name.clone());
                }
            }
            ui.add_space(tokens::GRID);
            if parts::button(ui, "Copy a script file …", "", Voice::Plain).clicked() {
                out.push(Request::Script(ScriptWish::Import));
            }
        });
}
