//! What the person prefers: every change takes effect at once and is kept.

use super::key_map::Stays;
use crate::desk::Remembered;
use crate::inputs::{Inputs, Preferences, SpeedUnit};
use crate::parts::{self, Voice, control, field};
use crate::request::{Request, ThemeChoice};
use crate::theme::tokens;
use egui::{ScrollArea, Ui};

/// What was chosen on the sheet that belongs to the desk itself.
#[derive(Debug, Default)]
pub(crate) struct Wish {
    /// Another theme.
    pub theme: Option<ThemeChoice>,
    /// Another text size, percent.
    pub text_pct: Option<u16>,
    /// To see what the program is made of.
    pub about: bool,
}

const THEMES: [(ThemeChoice, &str); 3] = [
    (ThemeChoice::System, "As the system"),
    (ThemeChoice::Light, "Light"),
    (ThemeChoice::Dark, "Dark"),
];

/// Shows the sheet; says whether it should stay.
pub(crate) fn settings_ui(
    ui: &Ui,
    inputs: &Inputs<'_>,
    remembered: Remembered,
    wish: &mut Wish,
    out: &mut Vec<Request>,
) -> Stays {
    let screen = ui.ctx().content_rect();
    super::beside(ui, "settings", 60.0 * tokens::GRID, |ui| {
        parts::heading(ui, "Settings");
        ui.add_space(tokens::GRID);
        let room = (screen.height() - 28.0 * tokens::GRID).max(96.0);
        ScrollArea::vertical().max_height(room).show(ui, |ui| {
            look(ui, remembered, wish);
            ui.add_space(2.0 * tokens::GRID);
            judgement(ui, inputs, out);
            ui.add_space(2.0 * tokens::GRID);
            folder(ui, inputs, out);
        });
        ui.add_space(tokens::GRID);
        ui.horizontal_wrapped(|ui| {
            let close = parts::button(ui, "Close", "Esc", Voice::Plain).clicked();
            wish.about = parts::button(ui, "About Prony …", "", Voice::Plain).clicked();
            if close { Stays::No } else { Stays::Yes }
        })
        .inner
    })
}

fn look(ui: &mut Ui, remembered: Remembered, wish: &mut Wish) {
    parts::caption(ui, "Theme");
    let names = THEMES.map(|(_, name)| name);
    let chosen = THEMES.iter().position(|(t, _)| *t == remembered.theme);
    if let Some(index) = control::words_row(ui, &names, chosen) {
        wish.theme = Some(THEMES[index].0);
    }
    ui.add_space(2.0 * tokens::GRID);
    parts::caption(ui, "Text size");
    let sizes: [u16; 6] = [80, 100, 120, 140, 170, 200];
    let names = sizes.map(|pct| format!("{pct}\u{a0}%"));
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let chosen = sizes.iter().position(|pct| *pct == remembered.text_pct);
    if let Some(index) = control::words_row(ui, &names, chosen) {
        wish.text_pct = Some(sizes[index]);
    }
}

fn judgement(ui: &mut Ui, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
    let kept = inputs.preferences;
    parts::caption(ui, "Flywheel speed");
    let units = [SpeedUnit::KmH, SpeedUnit::Mph];
    let chosen = units.iter().position(|unit| *unit == kept.speed);
    if let Some(index) = control::words_row(ui, &units.map(SpeedUnit::name), chosen) {
        let speed = units[index];
        out.push(Request::Prefer(Preferences { speed, ..kept }));
    }
    ui.add_space(2.0 * tokens::GRID);
    parts::caption(ui, "Tolerance where no claim sheet is chosen");
    let range = Preferences::TOLERANCE_PCT;
    if let Some(tolerance_pct) = field::number(
        ui,
        "Tolerance, % of reading",
        "± %",
        kept.tolerance_pct,
        range,
    ) {
        out.push(Request::Prefer(Preferences {
            tolerance_pct,
            ..kept
        }));
    }
    ui.add_space(2.0 * tokens::GRID);
    parts::caption(ui, "Rider ceiling");
    let range = Preferences::CEILING_W;
    if let Some(ceiling_w) = field::number(ui, "No target above, W", "W", kept.ceiling_w, range) {
        out.push(Request::Prefer(Preferences { ceiling_w, ..kept }));
    }
    parts::quiet(
        ui,
        "No script is ever given a target above the ceiling. Choose one that you can hold without \
         strain.",
    );
}

fn folder(ui: &mut Ui, inputs: &Inputs<'_>, out: &mut Vec<Request>) {
    parts::caption(ui, "Data folder");
    parts::quiet(ui, inputs.data_folder);
    if parts::button(ui, "Choose another folder …", "", Voice::Plain).clicked() {
        out.push(Request::ChooseDataFolder);
    }
}
