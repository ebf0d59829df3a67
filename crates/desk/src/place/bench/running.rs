//! The instruments of the running session: role, health and what each reports.

use super::health_words;
use crate::inputs::{Inputs, SpeedUnit, told};
use crate::parts::roles::{role_ink, role_words};
use crate::parts::table::{self, Cell, Row, Width};
use crate::parts::{self, Glyph, Voice, words};
use crate::request::Request;
use crate::theme::{self, tokens};
use bench::model::{Health, InstrumentView, Phase};
use bench::{Command, Model};
use egui::Ui;

/// Draws them.
pub(super) fn running_ui(ui: &mut Ui, inputs: &Inputs<'_>, model: &Model, out: &mut Vec<Request>) {
    let kind = match (inputs.replay.is_some(), model.simulated) {
        (true, _) => "Instruments of the session that is played again. None is connected.",
        (false, true) => "Simulated instruments. They speak the same bytes as real ones.",
        (false, false) => "Connected instruments.",
    };
    parts::quiet(ui, kind);
    ui.add_space(tokens::GRID);
    instruments_ui(ui, &model.instruments);
    ui.add_space(tokens::GAP);
    for instrument in &model.instruments {
        identity_ui(ui, instrument);
    }
    if inputs.replay.is_none() {
        procedures(ui, model, out);
    }
}

/// Zero and spin-down, which are recorded; while nothing is loaded.
fn procedures(ui: &mut Ui, model: &Model, out: &mut Vec<Request>) {
    parts::caption(ui, "Zero and spin-down");
    if !matches!(model.phase, Phase::Ready | Phase::Paused { .. }) {
        parts::quiet(
            ui,
            "They are for before the start and for pauses, while nothing is loaded.",
        );
        return;
    }
    ui.horizontal_wrapped(|ui| {
        for instrument in &model.instruments {
            let words = format!("Set the zero of {}", instrument.name);
            if parts::button(ui, &words, "", Voice::Plain).clicked() {
                let source = instrument.source.0;
                out.push(Request::Bench(Command::ZeroOffset(source)));
            }
        }
        if parts::button(ui, "Spin-down of the device under test", "", Voice::Plain).clicked() {
            out.push(Request::Bench(Command::SpinDown));
        }
    });
    parts::quiet(
        ui,
        "For a zero: nobody on the bicycle, nothing hangs on the pedals. A spin-down says what to \
         do as it goes.",
    );
    for notice in model.notices.iter().rev().take(4) {
        let words = format!("{} {}", words::moment(notice.at), told(ui, &notice.words));
        parts::paragraph(ui, &words);
    }
}

fn instruments_ui(ui: &mut Ui, instruments: &[InstrumentView]) {
    let columns = [
        table::words("Instrument", Width::Share(2.0)),
        table::words("Role", Width::Share(1.4)),
        table::words("Measures at", Width::Share(1.0)),
        table::words("State", Width::Points(112.0)),
        table::numbers("Power", 72.0),
        table::numbers("Cadence", 80.0),
        table::numbers("Flywheel", 80.0),
    ];
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        table::head(ui, &columns);
        for instrument in instruments {
            row_ui(ui, &columns, instrument);
        }
    });
}

fn row_ui(ui: &mut Ui, columns: &[table::Column], instrument: &InstrumentView) {
    let value = |reading: Option<bench::model::Reading>, unit: &str| {
        reading.map_or_else(
            || words::NOTHING.to_owned(),
            |reading| format!("{}\u{a0}{unit}", words::whole(reading.value)),
        )
    };
    let unit = SpeedUnit::current(ui.ctx());
    let texts = [
        instrument.name.clone(),
        role_words(instrument.role).to_owned(),
        instrument.place.clone(),
        health_words(&instrument.health),
        value(instrument.power_w, "W"),
        value(instrument.cadence_rpm, "rpm"),
        value(
            instrument.speed_kmh.map(|reading| bench::model::Reading {
                value: unit.from_kmh(reading.value),
                ..reading
            }),
            unit.name(),
        ),
    ];
    let name = texts.join(", ");
    let t = theme::tokens(ui);
    let [instrument_name, role, place, state, values @ ..] = texts;
    let good = matches!(instrument.health, Health::Good | Health::Lost);
    let ink = if good { t.text } else { t.quiet };
    let glyph = Glyph::of_health(&instrument.health);
    let mut cells = vec![
        Cell::Swatch(Some(role_ink(instrument.role, t)), instrument_name),
        Cell::Text(role),
        Cell::Text(place),
        Cell::Marked(glyph, ink, state),
    ];
    cells.extend(values.map(Cell::Text));
    table::row(ui, columns, Row::new(&name, &cells));
}

fn identity_ui(ui: &mut Ui, instrument: &InstrumentView) {
    parts::caption(ui, &instrument.name);
    let identity = match instrument.identity.as_str() {
        "" => "It has not said who made it.",
        known => known,
    };
    parts::quiet(ui, identity);
    let rate = instrument.rate_hz.map_or_else(String::new, |rate| {
        format!(", {} values per second", words::decimals(rate, 1))
    });
    parts::quiet(ui, &format!("{} packets{rate}", instrument.packets));
    ui.add_space(tokens::GRID);
}
