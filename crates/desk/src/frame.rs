//! One frame after another: what the desk draws, in which order, over the whole window.

use crate::desk::{Desk, Open};
use crate::inputs::Inputs;
use crate::keys::{self, Hands, TakingBack};
use crate::place::{Place, bench as bench_place, findings, run, script, shelf};
use crate::request::Request;
use crate::sheet::key_map::Stays;
use crate::{sheet, shell, theme};
use bench::model::Phase;
use egui::{Context, Ui};

impl Desk {
    /// Draws one frame into `ui`, which is the whole window, and adds what is wished for.
    pub fn ui(&mut self, ui: &mut Ui, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
        self.notice_changes(inputs);
        inputs.preferences.speed.use_in(ui.ctx());
        let taking_back = self.taking_back(ui.ctx());
        for deed in keys::take(ui.ctx(), self.hands, taking_back) {
            self.act(ui.ctx(), deed, inputs, out);
        }
        shell::footer(ui, self, inputs, out);
        if self.open == Open::AcrossTheRoom
            && let Some(model) = inputs.model
        {
            run::far::far_ui(ui, model, &mut self.run);
        } else {
            shell::rail(ui, self, inputs, out);
            shell::messages(ui, inputs, out);
            let paper = theme::tokens(ui).paper;
            egui::CentralPanel::default()
                .frame(egui::Frame::new().fill(paper))
                .show(ui, |ui| self.place_ui(ui, inputs, out));
        }
        if let Some(model) = inputs.model
            && inputs.replay.is_none()
            && model.phase == Phase::Cautions
        {
            let words = model.prompt.as_ref().map(|prompt| prompt.text.as_str());
            sheet::cautions::cautions_ui(ui, words, inputs.cautions, out);
        }
        self.sheet_ui(ui, inputs, out);
        self.hands = match ui.memory(|memory| memory.focused()) {
            None => Hands::Free,
            Some(_) if ui.ctx().text_edit_focused() => Hands::Typing,
            Some(_) if inputs.model.is_some() => Hands::OnControl,
            Some(_) => Hands::OnIdleControl,
        };
    }

    /// Whose the key is that takes back a change: it is ours only while a text is shown that is
    /// edited.
    fn taking_back(&self, ctx: &Context) -> TakingBack {
        let shown = self.place == Place::Script && self.open == Open::Nothing;
        match shown && self.script.edits(ctx) {
            true => TakingBack::Ours,
            false => TakingBack::OfTheField,
        }
    }

    /// What lies over the place and was asked for.
    fn sheet_ui(&mut self, ui: &mut Ui, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
        let stays = match self.open {
            Open::Nothing | Open::AcrossTheRoom => Stays::Yes,
            Open::KeyMap => sheet::key_map::key_map_ui(ui),
            Open::About => sheet::about::about_ui(ui, inputs),
            Open::Settings => {
                let mut wish = sheet::settings::Wish::default();
                let stays =
                    sheet::settings::settings_ui(ui, inputs, self.remembered, &mut wish, out);
                if let Some(theme) = wish.theme {
                    self.choose_theme(ui.ctx(), theme, out);
                }
                if let Some(pct) = wish.text_pct {
                    self.size_text(ui.ctx(), pct, out);
                }
                if wish.about {
                    self.open = Open::About;
                }
                stays
            }
        };
        if stays == Stays::No {
            self.open = Open::Nothing;
        }
    }

    fn place_ui(&mut self, ui: &mut Ui, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
        match self.place {
            Place::Bench => bench_place::bench_ui(
                ui,
                inputs,
                &mut self.bench,
                &mut self.script,
                &mut self.place,
                out,
            ),
            Place::Script => script::script_ui(ui, inputs, &mut self.script, out),
            Place::Run => run::run_ui(ui, inputs, &mut self.run, &mut self.place, out),
            Place::Findings => {
                findings::findings_ui(ui, inputs, &mut self.findings, &mut self.place, out);
            }
            Place::Shelf => shelf::shelf_ui(ui, inputs, &mut self.shelf, out),
        }
    }
}
