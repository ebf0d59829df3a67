//! The roles of instruments: their keys, words and inks.

use crate::theme::Tokens;
use bench::model::InstrumentRole;

/// The roles with their keys.
pub(super) const ROLES: [(InstrumentRole, &str); 4] = [
    (InstrumentRole::UnderTest, "Ctrl 1"),
    (InstrumentRole::PrimaryReference, "Ctrl 2"),
    (InstrumentRole::SecondReference, "Ctrl 3"),
    (InstrumentRole::Witness, "Ctrl 4"),
];

/// A role in words.
pub(crate) fn role_words(role: InstrumentRole) -> &'static str {
    match role {
        InstrumentRole::UnderTest => "device under test",
        InstrumentRole::PrimaryReference => "reference",
        InstrumentRole::SecondReference => "second reference",
        InstrumentRole::Witness => "recorded only",
    }
}

/// The ink of a role.
pub(crate) fn role_ink(role: InstrumentRole, t: &Tokens) -> egui::Color32 {
    match role {
        InstrumentRole::UnderTest => t.device,
        InstrumentRole::PrimaryReference => t.text,
        InstrumentRole::SecondReference => t.second,
        InstrumentRole::Witness => t.edge,
    }
}
