//! What is in range as a list, the roles as places to drop a device on, and the chosen device.

use super::{State, device};
use crate::inputs::{DeviceCard, Inputs, LinkWord, SpeedUnit};
use crate::parts::roles::{ROLE_KEYS, ROLES, role_ink, role_words};
use crate::parts::table::{self, Cell, Row, Width};
use crate::parts::{self, Glyph, Voice, control, field, words};
use crate::request::{RadioWish, Request};
use crate::theme::{self, tokens};
use bench::model::InstrumentRole;
use egui::{Align2, Frame, Margin, Role, Sense, Stroke, Ui, WidgetInfo, vec2};

/// Draws roles, list and the chosen device.
pub(super) fn list_ui(ui: &mut Ui, inputs: &Inputs<'_>, state: &mut State, out: &mut Vec<Request>) {
    roles(ui, inputs, state, out);
    ui.add_space(tokens::GRID);
    let cards = inputs.devices.cards;
    let chosen = state
        .device
        .as_ref()
        .and_then(|id| cards.iter().find(|card| card.id == *id));
    let wide = ui.available_width() > 96.0 * tokens::GRID;
    match chosen {
        Some(card) if wide => {
            let side = 44.0 * tokens::GRID;
            let list = ui.available_width() - side - 2.0 * tokens::GAP;
            ui.horizontal_top(|ui| {
                ui.spacing_mut().item_spacing.x = 2.0 * tokens::GAP;
                ui.vertical(|ui| {
                    ui.set_width(list);
                    rows(ui, cards, state);
                });
                ui.vertical(|ui| {
                    ui.set_width(side);
                    device::device_ui(ui, card, out);
                });
            });
        }
        Some(card) => {
            rows(ui, cards, state);
            ui.add_space(tokens::GAP);
            device::device_ui(ui, card, out);
        }
        None => {
            rows(ui, cards, state);
            ui.add_space(tokens::GRID);
            parts::quiet(
                ui,
                "Choose a device to give it a role, or drag it onto one.",
            );
        }
    }
}

/// One place for each role: what has it, and where a device can be dropped.
fn roles(ui: &mut Ui, inputs: &Inputs<'_>, state: &mut State, out: &mut Vec<Request>) {
    let cards = inputs.devices.cards;
    let whole = ui.available_width();
    let of = |count: usize| (whole - (count - 1) as f32 * tokens::GRID) / count as f32;
    let beside = [4, 2].into_iter().find(|count| of(*count) >= ROLE);
    let beside = beside.unwrap_or(1);
    let width = of(beside).min(2.0 * ROLE);
    let keyed: Vec<_> = ROLES.into_iter().zip(ROLE_KEYS).collect();
    for line in keyed.chunks(beside) {
        ui.horizontal(|ui| {
            for (role, key) in line {
                let holders: Vec<&DeviceCard> = cards
                    .iter()
                    .filter(|card| card.role == Some(*role))
                    .collect();
                role_ui(ui, (*role, *key), width, &holders, out);
            }
        });
    }
    let has = |role| cards.iter().any(|card| card.role == Some(role));
    if has(InstrumentRole::UnderTest) && has(InstrumentRole::PrimaryReference) {
        ui.horizontal_wrapped(|ui| {
            if state.name.is_empty() && !inputs.devices.bench.is_empty() {
                state.name = inputs.devices.bench.to_owned();
            }
            field::line(
                ui,
                "Name of the bench",
                "name of this bench",
                &mut state.name,
                240.0,
            );
            if !state.name.trim().is_empty()
                && parts::button(ui, "Remember this bench", "", Voice::Plain).clicked()
            {
                let name = state.name.trim().to_owned();
                out.push(Request::Radio(RadioWish::KeepBench(name)));
            }
        });
    } else {
        parts::quiet(
            ui,
            "A bench needs one device under test and one reference. The same device must not be \
             both.",
        );
    }
}

/// Narrower places do without their keys, points; those stand in the list of keys.
const KEYED: f32 = 25.0 * tokens::GRID;

/// Narrowest place of a role, points.
const ROLE: f32 = 22.0 * tokens::GRID;

fn role_ui(
    ui: &mut Ui,
    (role, key): (InstrumentRole, &str),
    width: f32,
    holders: &[&DeviceCard],
    out: &mut Vec<Request>,
) {
    let t = theme::tokens(ui);
    let frame = Frame::new()
        .stroke(Stroke::new(tokens::HAIR, t.edge))
        .corner_radius(tokens::CORNER)
        .inner_margin(Margin::same(8));
    let (_, dropped) = ui.dnd_drop_zone::<String, ()>(frame, |ui| {
        let size = vec2(width - 2.0 * tokens::GRID - 2.0, 5.0 * tokens::GRID);
        let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
        let names: Vec<&str> = holders.iter().map(|card| card.name.as_str()).collect();
        let holder = match names.is_empty() {
            true => "nobody".to_owned(),
            false => names.join(", "),
        };
        let name = format!("{}: {holder}", role_words(role));
        response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &name));
        let swatch = rect.left_top() + vec2(6.0, 10.0);
        let bar = egui::Rect::from_center_size(swatch, vec2(12.0, 4.0));
        ui.painter().rect_filled(bar, 0.0, role_ink(role, t));
        let (top, bottom) = rect.split_top_bottom_at_fraction(0.5);
        let top = top.with_min_x(rect.left() + 2.5 * tokens::GRID);
        let font = theme::regular(tokens::BODY);
        let words = words::sentence_case(role_words(role));
        control::text_in(ui, top, &words, font.clone(), t.quiet, Align2::LEFT_CENTER);
        if width >= KEYED {
            control::text_in(ui, top, key, font.clone(), t.quiet, Align2::RIGHT_CENTER);
        }
        let ink = if names.is_empty() { t.quiet } else { t.text };
        control::text_in(ui, bottom, &holder, font, ink, Align2::LEFT_CENTER);
    });
    if let Some(device) = dropped {
        let device = (*device).clone();
        let role = Some(role);
        out.push(Request::Radio(RadioWish::GiveRole { device, role }));
    }
}

fn rows(ui: &mut Ui, cards: &[DeviceCard], state: &mut State) {
    let wide = ui.available_width() > 90.0 * tokens::GRID;
    let mut columns = vec![
        table::words("Device", Width::Share(2.0)),
        table::words("Services", Width::Share(2.0)),
        table::numbers("Signal", 72.0),
        table::numbers("Heard", 64.0),
        table::words("Link", Width::Points(96.0)),
        table::numbers("Power", 64.0),
    ];
    if wide {
        columns.push(table::numbers("Cadence", 72.0));
        columns.push(table::numbers("Speed", 80.0));
    }
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        table::head(ui, &columns);
        for card in cards {
            row_ui(ui, &columns, card, state);
        }
    });
}

fn row_ui(ui: &mut Ui, columns: &[table::Column], card: &DeviceCard, state: &mut State) {
    let unit = SpeedUnit::current(ui.ctx());
    let value = |value: Option<f64>, unit: &str| {
        value.map_or_else(
            || words::NOTHING.to_owned(),
            |value| format!("{}\u{a0}{unit}", words::whole(value)),
        )
    };
    let texts = [
        card.name.clone(),
        card.services.join(", "),
        card.signal_dbm.map_or_else(
            || words::NOTHING.to_owned(),
            |dbm| format!("{dbm}\u{a0}dBm").replace('-', "−"),
        ),
        card.age_s.map_or_else(
            || "earlier".to_owned(),
            |age| match age {
                0 | 1 => "now".to_owned(),
                age => format!("{age}\u{a0}s"),
            },
        ),
        card.link.words().to_owned(),
        value(card.power_w, "W"),
        value(card.cadence_rpm, "rpm"),
        value(card.speed_kmh.map(|kmh| unit.from_kmh(kmh)), unit.name()),
    ];
    let role = card.role.map_or("no role", role_words);
    let name = format!("{}, {role}", texts.join(", "));
    let t = theme::tokens(ui);
    let [device, services, signal, heard, link, values @ ..] = texts;
    let glyph = match card.link {
        LinkWord::Live => Glyph::Disc,
        LinkWord::Making => Glyph::Ring,
        LinkWord::Lost => Glyph::Cross,
        LinkWord::None => Glyph::Dash,
    };
    let mut cells = vec![
        Cell::Swatch(card.role.map(|role| role_ink(role, t)), device),
        Cell::Text(services),
        Cell::Text(signal),
        Cell::Text(heard),
        Cell::Marked(glyph, t.text, link),
    ];
    cells.extend(values.map(Cell::Text));
    cells.truncate(columns.len());
    let row = Row {
        sense: Sense::click_and_drag(),
        chosen: (state.device.as_ref() == Some(&card.id)).into(),
        ..Row::new(&name, &cells)
    };
    let response = table::row(ui, columns, row).response;
    if response.clicked() || response.drag_started() {
        state.device = Some(card.id.clone());
    }
    response.dnd_set_drag_payload(card.id.clone());
}
