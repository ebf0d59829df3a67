//! Whether the device is independent of the reference: neither its copy nor steered by it.

use super::concern::{Concern, ConcernKind};
use crate::examinations::bins::Paired;
use crate::examinations::given::Source;
use crate::examinations::integral::secs;
use crate::examinations::prepared::Prepared;

/// Share of the device's values that agree with the reference to the watt from which they are
/// taken as copies.
const COPIED_SHARE: f64 = 0.5;
/// Mean error of the reference against the target below which the device may be steered by it, %,
/// while the device's own word is off by at least the second.
const STEERED_PCT: f64 = 0.4;
const OWN_WORD_OFF_PCT: f64 = 1.5;

/// Values of the device that are the reference's, to the watt, at some delay.
pub(super) fn copies(
    paired: &Paired<'_>,
    under_test: &Source<'_>,
    reference: &Source<'_>,
) -> Option<Concern> {
    let power = &under_test.stream.power_w;
    let every = power.len().div_ceil(300).max(1);
    let samples: Vec<(f64, f64)> = power
        .iter()
        .step_by(every)
        .filter(|(_, watts)| *watts > 50.0)
        .map(|(at, watts)| (secs(at), watts))
        .filter(|(at_s, _)| paired.is_free(at_s - 3.0, at_s + 1.0))
        .collect();
    if samples.len() < 60 {
        return None;
    }
    // Only where the reference moves can an agreement to the watt mean anything.
    let changes: Vec<f64> = reference
        .stream
        .power_w
        .values()
        .windows(2)
        .map(|w| w[1] - w[0])
        .collect();
    let moving = changes.iter().filter(|change| change.abs() >= 2.0).count();
    if moving * 2 < changes.len() {
        return None;
    }
    let share = |shift_s: f64| {
        let hits = samples
            .iter()
            .filter(|(at_s, watts)| {
                let at = units::Timestamp::from_secs_f64(at_s - shift_s);
                reference
                    .stream
                    .power_w
                    .value_at(at)
                    .is_some_and(|held| (held - watts).abs() <= 0.6)
            })
            .count();
        hits as f64 / samples.len() as f64
    };
    let best = (-8..=12)
        .map(|i| share(0.25 * f64::from(i)))
        .fold(0.0, f64::max);
    (best >= COPIED_SHARE).then(|| Concern {
        kind: ConcernKind::Circular,
        blocks: true,
        words: format!(
            "{:.0} % of the device's values are those of the reference to the watt: it seems to \
             report the reference; switch power matching off and ride again",
            100.0 * best
        ),
    })
}

/// A device that holds the reference, not itself, on the target regulates by the reference.
pub(super) fn steered(given: &Prepared<'_>) -> Option<Concern> {
    let mut levels: Vec<(f64, Vec<[f64; 2]>)> = Vec::new();
    for window in given.windows {
        let Some(step) = window
            .step
            .and_then(|index| given.evidence.steps.get(index))
        else {
            continue;
        };
        let Some(target_w) = step.target_w.filter(|target| *target >= 80.0) else {
            continue;
        };
        let error = |watts: f64| 100.0 * (watts / target_w - 1.0);
        let pair = [error(window.reference_w), error(window.under_test_w)];
        match levels.iter_mut().find(|(level, _)| *level == target_w) {
            Some((_, pairs)) => pairs.push(pair),
            None => levels.push((target_w, vec![pair])),
        }
    }
    levels.retain(|(_, pairs)| pairs.len() >= 3);
    if levels.len() < 3 {
        return None;
    }
    let mean = |pairs: &[[f64; 2]], i: usize| {
        pairs.iter().map(|pair| pair[i]).sum::<f64>() / pairs.len() as f64
    };
    let suspicious = levels.iter().all(|(_, pairs)| {
        mean(pairs, 0).abs() < STEERED_PCT && mean(pairs, 1).abs() > OWN_WORD_OFF_PCT
    });
    suspicious.then(|| Concern {
        kind: ConcernKind::Circular,
        blocks: true,
        words: format!(
            "at {} levels the reference lies within {STEERED_PCT} % of the target while the \
             device's own word is off by more than {OWN_WORD_OFF_PCT} %: the device seems to be \
             steered by the reference, so that its agreement is circular",
            levels.len()
        ),
    })
}
