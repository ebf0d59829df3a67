//! What the sessions recorded of the device's calibrations, and which lie between which rides.

use super::sides::{Calibration, Side, listed, sessions};

/// What is known of the device's calibration, in a sentence.
pub(super) fn words(sides: &[Side<'_>]) -> String {
    if sides.iter().all(|side| side.calibrations.is_empty()) {
        return "No calibration of the device is recorded in any of them; one that was done \
                outside these sessions would not be known here."
            .to_owned();
    }
    if calibrates_first(sides) {
        return "The device was calibrated before or at the beginning of each of them, so that what \
                a calibration adds is part of the spread."
            .to_owned();
    }
    let mut told: Vec<(f64, &str)> = Vec::new();
    let mut each: Vec<String> = Vec::new();
    for (index, side) in sides.iter().enumerate() {
        for calibration in &side.calibrations {
            // What lies before two sessions stands in the record of both.
            if let Some(wall) = wall_s(side, calibration) {
                let known = told.iter().any(|(other, procedure)| {
                    (other - wall).abs() <= SAME_S && *procedure == calibration.procedure
                });
                if known {
                    continue;
                }
                told.push((wall, &calibration.procedure));
            }
            let (when, place) = if calibration.at_s < 0.0 {
                (-calibration.at_s, "s before session")
            } else {
                (calibration.at_s, "s into session")
            };
            let procedure = &calibration.procedure;
            each.push(format!("{procedure} {when:.0} {place} {}", index + 1));
        }
    }
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
    let own = sides.iter().all(|side| {
        let before = before_judged(side);
        before > 0 && before == side.calibrations.len()
    });
    own && {
        let last = |side: &Side<'_>| wall_s(side, side.calibrations.last()?);
        let walls: Vec<f64> = sides.iter().filter_map(last).collect();
        let apart = |a: &f64, b: &f64| (a - b).abs() > SAME_S;
        (0..walls.len()).all(|at| walls[..at].iter().all(|other| apart(other, &walls[at])))
    }
}

/// Two records of one calibration differ by the seconds that a clock takes to be read, s; ours.
const SAME_S: f64 = 10.0;

/// When a calibration was made, seconds since 1970-01-01 UTC, if the session knows its date.
fn wall_s(side: &Side<'_>, calibration: &Calibration) -> Option<f64> {
    Some(side.started_s? as f64 + calibration.at_s)
}

/// The number of calibrations that lie before each session's data, counted along the wall clock,
/// each once however many sessions keep it; all equal where each session began with one of its own.
pub(super) fn states(sides: &[Side<'_>]) -> Vec<usize> {
    if calibrates_first(sides) {
        return vec![0; sides.len()];
    }
    if sides.iter().all(|side| side.started_s.is_some()) {
        return dated_states(sides);
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

/// The states of sessions that all know their date.
fn dated_states(sides: &[Side<'_>]) -> Vec<usize> {
    let each = sides
        .iter()
        .flat_map(|side| side.calibrations.iter().filter_map(|one| wall_s(side, one)));
    let mut walls: Vec<f64> = each.collect();
    walls.sort_by(f64::total_cmp);
    walls.dedup_by(|later, earlier| *later - *earlier <= SAME_S);
    let until = |side: &Side<'_>| side.started_s.unwrap_or(0) as f64 + side.judged_until_s();
    let before = |side| walls.iter().filter(|wall| **wall < until(side)).count();
    sides.iter().map(before).collect()
}
