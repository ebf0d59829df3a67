//! One device: role, place, identity, features, battery, what to mind, and what can be done to it.

use crate::inputs::{DeviceCard, LinkWord, told};
use crate::parts::roles::{PLACES, ROLE_KEYS, ROLES, role_words};
use crate::parts::{self, Glyph, Voice, control, words};
use crate::request::{AuditConsent, RadioWish, Request};
use crate::theme::{self, tokens};
use egui::Ui;

/// Draws the particulars of a device.
pub(super) fn device_ui(ui: &mut Ui, card: &DeviceCard, out: &mut Vec<Request>) {
    let mut wish = |wish| out.push(Request::Radio(wish));
    ui.spacing_mut().item_spacing.x = tokens::GRID;
    parts::heading(ui, &card.name);
    parts::quiet(ui, &card.id);
    ui.add_space(tokens::GRID);
    parts::caption(ui, "Role");
    ui.horizontal_wrapped(|ui| {
        for (role, key) in ROLES.into_iter().zip(ROLE_KEYS) {
            let words = words::sentence_case(role_words(role));
            let mark = if card.role == Some(role) { "● " } else { "" };
            let words = format!("{mark}{words}");
            if parts::button(ui, &words, key, Voice::Plain).clicked() {
                wish(RadioWish::GiveRole {
                    device: card.id.clone(),
                    role: Some(role),
                });
            }
        }
        if card.role.is_some() && parts::button(ui, "Let it go", "Ctrl Del", Voice::Plain).clicked()
        {
            wish(RadioWish::GiveRole {
                device: card.id.clone(),
                role: None,
            });
        }
    });
    parts::caption(ui, "Measures at");
    let chosen = card
        .place
        .and_then(|place| PLACES.iter().position(|(known, _)| *known == place));
    if let Some(index) = control::words_row(ui, &PLACES.map(|(_, word)| word), chosen) {
        wish(RadioWish::GivePlace {
            device: card.id.clone(),
            place: PLACES[index].0,
        });
    }
    ui.add_space(tokens::GRID);
    let ink = theme::tokens(ui).text;
    for warning in &card.warnings {
        ui.horizontal_top(|ui| {
            parts::marked_within(ui, 20.0, Glyph::OpenTriangle, ink, "", tokens::BODY);
            let warning = told(ui, warning);
            ui.add(egui::Label::new(&*warning).wrap());
        });
    }
    says(ui, card);
    procedures(ui, card, &mut wish);
    conduct(ui, card, &mut wish);
}

fn says(ui: &mut Ui, card: &DeviceCard) {
    if card.link == LinkWord::None {
        parts::quiet(
            ui,
            "Give it a role to link it. Then it says who made it, what it offers and what it \
             measures.",
        );
        return;
    }
    let identity = match card.identity.as_str() {
        "" => "It has not said who made it.",
        known => known,
    };
    parts::fact(ui, "Identity", identity);
    if !card.features.is_empty() {
        parts::fact(ui, "Offers", &card.features.join(", "));
    }
    if let Some(pct) = card.battery_pct {
        parts::fact(ui, "Battery", &format!("{pct}\u{a0}%"));
    }
}

fn procedures(ui: &mut Ui, card: &DeviceCard, wish: &mut impl FnMut(RadioWish)) {
    ui.add_space(tokens::GRID);
    ui.horizontal_wrapped(|ui| {
        if card.offers_zero && parts::button(ui, "Set its zero", "", Voice::Plain).clicked() {
            wish(RadioWish::ZeroOffset(card.id.clone()));
        }
        if card.offers_spin_down && parts::button(ui, "Spin-down", "", Voice::Plain).clicked() {
            wish(RadioWish::SpinDown(card.id.clone()));
        }
    });
    if card.offers_zero {
        parts::quiet(
            ui,
            "For the zero: nobody on the bicycle, nothing hangs on the pedals.",
        );
    }
    if !card.procedure.is_empty() {
        parts::paragraph(ui, &told(ui, &card.procedure));
    }
}

/// The conduct audit: reading and listening only, unless more is allowed.
fn conduct(ui: &mut Ui, card: &DeviceCard, wish: &mut impl FnMut(RadioWish)) {
    ui.add_space(tokens::GRID);
    parts::caption(ui, "Radio conduct, rule by rule");
    let mut audit = |consent| {
        wish(RadioWish::Audit {
            device: card.id.clone(),
            consent,
        });
    };
    ui.horizontal_wrapped(|ui| {
        if parts::button(ui, "Read and listen", "", Voice::Plain).clicked() {
            audit(AuditConsent::ReadOnly);
        }
        if parts::button(ui, "Ask as well", "", Voice::Plain).clicked() {
            audit(AuditConsent::MayAsk);
        }
        if parts::button(ui, "Change the load as well", "", Voice::Plain).clicked() {
            audit(AuditConsent::MayChangeLoad);
        }
    });
    parts::quiet(
        ui,
        "Changing the load: nobody's hands, hair or clothes near chain and flywheel; whoever sits \
         on the bicycle pedals lightly and is ready for the load to change. It ends released. All \
         devices are let go for the audit.",
    );
}
