//! From two aligned streams to the paired seconds that gate and drop-outs are fed with.

use crate::evidence::{Evidence, Load};
use crate::examinations::{DropOut, DropOutKind};
use crate::findings::PairedTraces;
use crate::grid::{self, Held, Pair, Script, Second, StepNow};
use std::sync::Arc;
use units::{Series, Timestamp};

/// Longest recording that is put on the grid of seconds: two days.
const LONGEST_S: i64 = 48 * 3600;

/// The paired seconds of the whole recording; `None` if there is no common second.
pub(crate) fn seconds(evidence: &Evidence, pair: Pair<'_>) -> Option<Vec<Second>> {
    let begin = |series: &Series| Some(series.times().first()?.as_nanos().div_euclid(NANOS));
    let end = |series: &Series| Some(series.times().last()?.as_nanos().div_euclid(NANOS) + 3);
    let (device, reference) = (&pair.under_test.power_w, &pair.reference.power_w);
    let from = begin(device)?.min(begin(reference)?);
    let to = end(device)?.max(end(reference)?).min(from + LONGEST_S);
    if begin(device)?.max(begin(reference)?) >= end(device)?.min(end(reference)?) {
        return None;
    }
    let count = usize::try_from(to - from).ok()?;
    let under_test = grid::column(device, from, count);
    let reference = grid::column(reference, from, count);
    let cadence = grid::column(pair.cadence(), from, count);
    let speed = grid::column(pair.speed(), from, count);
    let script = if evidence.steps.is_empty() {
        Script::None
    } else {
        Script::Ridden
    };
    let mut steps = Cursor::default();
    let mut commands = Cursor::default();
    let value = |held: Option<Held>| held.map(|held| held.value);
    let mut seconds: Vec<Second> = (0..count)
        .map(|offset| {
            let index = from + offset as i64;
            let at = Timestamp::from_secs(index);
            let step = steps
                .at(evidence.steps.len(), |place| {
                    evidence.steps[place].from <= at
                })
                .and_then(|place| StepNow::at(&evidence.steps[place], place, index));
            let command = commands
                .at(evidence.commands.len(), |place| {
                    evidence.commands[place].at <= at
                })
                .map(|place| evidence.commands[place].load);
            Second {
                index,
                under_test: under_test[offset],
                reference: reference[offset],
                cadence_rpm: value(cadence[offset]),
                speed_kmh: value(speed[offset]),
                target_w: match command {
                    Some(Load::PowerW(watts)) => Some(watts),
                    _ => None,
                },
                step,
                script,
                invalid: None,
            }
        })
        .collect();
    for span in &evidence.invalid {
        forbid(
            &mut seconds,
            span.from,
            span.to,
            &Arc::from(span.reason.as_str()),
        );
    }
    Some(seconds)
}

const NANOS: i64 = 1_000_000_000;

/// Walks a list in order of time.
#[derive(Default)]
struct Cursor(usize);

impl Cursor {
    /// The last place whose beginning has passed.
    fn at(&mut self, length: usize, begun: impl Fn(usize) -> bool) -> Option<usize> {
        while self.0 < length && begun(self.0) {
            self.0 += 1;
        }
        self.0.checked_sub(1)
    }
}

/// Marks the seconds that a span touches.
fn forbid(seconds: &mut [Second], from: Timestamp, to: Timestamp, reason: &Arc<str>) {
    let Some(start) = seconds.first().map(|second| second.index) else {
        return;
    };
    let first = (from.as_nanos().div_euclid(NANOS) - start).max(0) as usize;
    let last = (to.as_nanos().saturating_add(NANOS - 1).div_euclid(NANOS) - start).max(0) as usize;
    let end = last.min(seconds.len());
    for second in seconds.get_mut(first.min(end)..end).unwrap_or_default() {
        second.invalid.get_or_insert_with(|| reason.clone());
    }
}

/// A frozen value is no measurement. Zeros and missing packets the gate sees by itself.
pub(crate) fn forbid_frozen(seconds: &mut [Second], dropouts: &[DropOut]) {
    let reason: Arc<str> = Arc::from("drop-out: the device repeats one value");
    for dropout in dropouts
        .iter()
        .filter(|dropout| dropout.kind == DropOutKind::Frozen)
    {
        forbid(seconds, dropout.from, dropout.to, &reason);
    }
}

pub(crate) fn traces(seconds: &[Second]) -> PairedTraces {
    let value = |held: Option<Held>| held.map(|held| held.value);
    PairedTraces {
        from_s: seconds.first().map_or(0, |second| second.index),
        under_test_w: seconds
            .iter()
            .map(|second| value(second.under_test))
            .collect(),
        reference_w: seconds
            .iter()
            .map(|second| value(second.reference))
            .collect(),
        cadence_rpm: seconds.iter().map(|second| second.cadence_rpm).collect(),
        speed_kmh: seconds.iter().map(|second| second.speed_kmh).collect(),
    }
}
