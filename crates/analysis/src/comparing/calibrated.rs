//! What the sessions recorded of the device's calibrations, and which lie between which rides.

use super::sides::{Side, listed, sessions};

/// What is known of the device's calibration, in a sentence.
pub(super) fn words(sides: &[Side<'_>]) -> String {
    if sides.iter().all(|side| side.calibrations.is_empty()) {
        return "No calibration of the device is recorded in any of them; one that was done \
                outside these sessions would not be known here."
            .to_owned();
    }
    if calibrates_first(sides) {
        return "The device was calibrated at the beginning of each of them, so that what a \
                calibration adds is part of the spread."
            .to_owned();
    }
    let each: Vec<String> = sides
        .iter()
        .enumerate()
        .flat_map(|(index, side)| {
            side.calibrations.iter().map(move |calibration| {
                let (when, place) = if calibration.at_s < 0.0 {
                    (-calibration.at_s, "s before session")
                } else {
                    (calibration.at_s, "s into session")
                };
                format!("{} {when:.0} {place} {}", calibration.procedure, index + 1)
            })
        })
        .collect();
    format!("Recorded calibrations: {}.", listed(&each))
}

/// A device that was calibrated while it was being judged is neither before nor after.
pub(super) fn midway(sides: &[Side<'_>]) -> Vec<String> {
    let midway: Vec<usize> = sides
        .iter()
        .enumerate()
        .filter(|(_, side)| {
            let judged = side.judged_from_s()..side.judged_until_s();
            side.calibrations.iter().any(|c| judged.contains(&c.at_s))
        })
        .map(|(index, _)| index)
        .collect();
    if midway.is_empty() {
        return Vec::new();
    }
    vec![format!(
        "In {} the device was calibrated between judged windows: its conditions hold both states.",
        sessions(&midway)
    )]
}

/// Calibrations of a session before its first judged window.
fn before_judged(side: &Side<'_>) -> usize {
    let from = side.judged_from_s();
    side.calibrations.iter().filter(|c| c.at_s <= from).count()
}

/// Whether each session began with a calibration of its own and had no other, as a script asks for.
fn calibrates_first(sides: &[Side<'_>]) -> bool {
    sides.iter().all(|side| {
        let before = before_judged(side);
        before > 0 && before == side.calibrations.len()
    })
}

/// The number of calibrations that lie before each session's data, counted along the wall clock;
/// all equal where each session began with one of its own.
pub(super) fn states(sides: &[Side<'_>]) -> Vec<usize> {
    if calibrates_first(sides) {
        return vec![0; sides.len()];
    }
    let mut order: Vec<usize> = (0..sides.len()).collect();
    order.sort_by_key(|index| (sides[*index].started_s, *index));
    let mut states = vec![0; sides.len()];
    let mut count = 0;
    for index in order {
        let side = &sides[index];
        let until = side.judged_until_s();
        let early = side.calibrations.iter().filter(|c| c.at_s < until).count();
        count += early;
        states[index] = count;
        count += side.calibrations.len() - early;
    }
    states
}
