//! The services that are looked for in the air: what the instruments of a bench measure.

use sensor::assigned;

/// The services that measure, each with its name for people.
const MEASURING: [(u16, &str); 4] = [
    (assigned::FITNESS_MACHINE_SERVICE, "fitness machine"),
    (assigned::CYCLING_POWER_SERVICE, "cycling power"),
    (assigned::SPEED_CADENCE_SERVICE, "speed and cadence"),
    (assigned::HEART_RATE_SERVICE, "heart rate"),
];

/// What to look for.
pub fn sought() -> Vec<u16> {
    MEASURING.map(|(service, _)| service).to_vec()
}

/// Name of a service that measures; `None` for every other one.
pub fn measures(service: u16) -> Option<&'static str> {
    MEASURING
        .iter()
        .find(|(known, _)| *known == service)
        .map(|(_, name)| *name)
}
