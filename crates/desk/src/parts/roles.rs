//! What an instrument is for and where it measures: words and inks that are the same everywhere.

use crate::theme;
use analysis::evidence::Place;
use bench::model::InstrumentRole;

/// The roles in their order.
pub const ROLES: [InstrumentRole; 4] = [
    InstrumentRole::UnderTest,
    InstrumentRole::PrimaryReference,
    InstrumentRole::SecondReference,
    InstrumentRole::Witness,
];

/// The keys that give the roles, in the same order.
pub const ROLE_KEYS: [&str; 4] = ["Ctrl 1", "Ctrl 2", "Ctrl 3", "Ctrl 4"];

/// The places on the drivetrain, with their words.
pub const PLACES: [(Place, &str); 5] = [
    (Place::Hub, "Hub"),
    (Place::Crank, "Crank"),
    (Place::Pedals, "Pedals"),
    (Place::OneSide, "One side"),
    (Place::Unknown, "Not known"),
];

/// A role in words.
pub const fn role_words(role: InstrumentRole) -> &'static str {
    match role {
        InstrumentRole::UnderTest => "device under test",
        InstrumentRole::PrimaryReference => "reference",
        InstrumentRole::SecondReference => "second reference",
        InstrumentRole::Witness => "recorded only",
    }
}

/// The ink of a role.
pub const fn role_ink(role: InstrumentRole, t: &theme::Tokens) -> egui::Color32 {
    match role {
        InstrumentRole::UnderTest => t.device,
        InstrumentRole::PrimaryReference => t.text,
        InstrumentRole::SecondReference => t.second,
        InstrumentRole::Witness => t.edge,
    }
}
