//! Bench: what is in range and who has which role; what each instrument says of itself and
//! reports; zero, static check and conduct; benches that are remembered.

mod audit;
mod device;
mod running;
mod searching;
mod worksheet;

use super::{Place, script};
use crate::inputs::{Inputs, Searching};
use crate::keys::Deed;
use crate::parts::{self, Voice, control};
use crate::request::{RadioWish, Request};
use crate::theme::tokens;
use bench::model::{Health, InstrumentRole};
use egui::Ui;

use crate::parts::words;

/// What is chosen and typed.
#[derive(Debug, Default)]
pub(crate) struct State {
    device: Option<String>,
    name: String,
    worksheet: worksheet::Worksheet,
    sheet: Sheet,
}

/// What is done at the bench.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Sheet {
    /// Instruments are found and given roles.
    #[default]
    Instruments,
    /// Weights are hung.
    StaticCheck,
}

impl State {
    /// Chooses the device above or below.
    pub(crate) fn choose_beside(&mut self, deed: Deed, inputs: &Inputs<'_>) {
        let cards = inputs.devices.cards;
        let at = cards
            .iter()
            .position(|card| Some(&card.id) == self.device.as_ref());
        let at = script::beside(at, cards.len(), deed == Deed::Farther);
        self.device = at.map(|at| cards[at].id.clone());
    }

    /// Gives the chosen device a role.
    pub(crate) fn give_role(
        &self,
        role: Option<InstrumentRole>,
        inputs: &Inputs<'_>,
        out: &mut Vec<Request>,
    ) {
        let device = self
            .device
            .as_ref()
            .filter(|chosen| inputs.devices.cards.iter().any(|card| card.id == **chosen));
        if let (None, Some(device)) = (inputs.model, device) {
            let device = device.clone();
            out.push(Request::Radio(RadioWish::GiveRole { device, role }));
        }
    }
}

/// Draws the place.
pub(crate) fn bench_ui(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    state: &mut State,
    script: &mut script::State,
    place: &mut Place,
    out: &mut Vec<Request>,
) {
    parts::page(ui, "bench", |ui| {
        parts::heading(ui, "Bench");
        ui.add_space(0.5 * tokens::GRID);
        if let Some(audit) = inputs.audit {
            audit::audit_ui(ui, audit, out);
            return;
        }
        let sheets = [Sheet::Instruments, Sheet::StaticCheck];
        let chosen = sheets.iter().position(|sheet| *sheet == state.sheet);
        let words = ["Instruments", "Static check with weights"];
        if let Some(index) = control::words_row(ui, &words, chosen) {
            state.sheet = sheets[index];
        }
        ui.add_space(tokens::GRID);
        match (state.sheet, inputs.model) {
            (Sheet::StaticCheck, _) => {
                worksheet::worksheet_ui(ui, inputs.today, &mut state.worksheet)
            }
            (Sheet::Instruments, Some(model)) => running::running_ui(ui, inputs, model, out),
            (Sheet::Instruments, None) => instruments(ui, inputs, state, script, place, out),
        }
    });
}

fn instruments(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    state: &mut State,
    script: &mut script::State,
    place: &mut Place,
    out: &mut Vec<Request>,
) {
    let devices = inputs.devices;
    let searches = devices.searching != Searching::No;
    ui.horizontal_wrapped(|ui| {
        if searches {
            if parts::button(ui, "Stop searching", "", Voice::Plain).clicked() {
                out.push(Request::Radio(RadioWish::Search(Searching::No)));
            }
            let words = match devices.searching {
                Searching::Beginning => "starting the radio …",
                _ => "searching",
            };
            parts::quiet_line(ui, words);
        } else if parts::button(ui, "Search for instruments", "Enter", Voice::Plain).clicked() {
            out.push(Request::Radio(RadioWish::Search(Searching::Yes)));
        }
    });
    if let Some(radio) = inputs.radio {
        ui.add_space(tokens::GRID);
        parts::paragraph(ui, radio);
    }
    ui.add_space(tokens::GRID);
    if devices.cards.is_empty() {
        if searches {
            parts::quiet(
                ui,
                "Nothing heard yet. Wake the instruments (turn the cranks) and let go of them in \
                 other programs and head units.",
            );
        } else {
            parts::empty(
                ui,
                "Nothing is connected",
                "Search for instruments, or choose a bench below. The simulated benches need no \
                 devices and show the whole work from the first step to the verdict.",
            );
        }
    } else {
        searching::list_ui(ui, inputs, state, out);
    }
    ui.add_space(tokens::GAP);
    benches(ui, inputs, script, place, out);
}

/// The benches that a session can be started on: remembered, simulated, and a recording.
fn benches(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    script: &mut script::State,
    place: &mut Place,
    out: &mut Vec<Request>,
) {
    parts::caption(ui, "Benches to ride on");
    let chosen = script.chosen_rig(inputs.rigs).map(str::to_owned);
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 2.0;
        for card in inputs.rigs {
            let kind = match card.simulated {
                true => "simulated",
                false => "remembered",
            };
            let second = format!("{kind} · {}", card.instruments.join("; "));
            let is_chosen = chosen.as_deref() == Some(card.name.as_str());
            if control::choice_row(ui, is_chosen.into(), &card.title, &second).clicked() {
                script.choose_rig(&card.name);
            }
        }
    });
    ui.add_space(tokens::GRID);
    let chosen = inputs
        .rigs
        .iter()
        .find(|card| chosen.as_deref() == Some(card.name.as_str()));
    ui.horizontal_wrapped(|ui| {
        if parts::button(ui, "Choose a script", "2", Voice::Primary).clicked() {
            *place = Place::Script;
        }
        if let Some(card) = chosen.filter(|card| !card.simulated) {
            if control::big_button(ui, "Link its instruments", "", Voice::Plain).clicked() {
                out.push(Request::Radio(RadioWish::LinkBench(card.name.clone())));
            }
            if control::big_button(ui, "Forget this bench", "", Voice::Plain).clicked() {
                out.push(Request::Radio(RadioWish::ForgetBench(card.name.clone())));
            }
        }
        if control::big_button(ui, "Play a session again", "5", Voice::Plain).clicked() {
            *place = Place::Shelf;
        }
    });
}

/// An instrument's health in words.
pub(crate) fn health_words(health: &Health) -> String {
    match health {
        Health::Good => "reports".to_owned(),
        Health::Waiting => "no value yet".to_owned(),
        Health::Lost => "link lost".to_owned(),
        Health::Silent(span) => format!("silent {}", words::length(*span)),
    }
}
