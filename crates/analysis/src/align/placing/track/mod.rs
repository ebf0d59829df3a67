//! Where the recorder's clock jumped: the most likely course of the lag, ten seconds by ten
//! seconds.
//!
//! Every block of ten seconds says how well it fits at every lag near the rough ones ([`fits`]). A
//! course through the blocks may stay, creep by a quarter of a second for a drift of the clock, or
//! jump for a price that chance does not pay ([`course`]). The moment of a jump is then looked for
//! point by point ([`switch`]); a pause that shows as a gap in the records is where it was. Between
//! the jumps lie the stretches; those too short to tell a lag are left out.

mod course;
mod fits;
mod switch;

use super::sides::{Side, Sides};
use course::{LEAST_JUMP_S, course, jumps};
use fits::{Fits, lags};
use std::ops::Range;
use switch::{Switch, switch};
use units::{Series, Span, Timestamp};

/// Seconds on either side of a jump that belong to no stretch: what smoothing mixes.
const MARGIN_S: f64 = 5.0;

/// A stretch without a jump.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stretch {
    /// The most likely moment of the jump before it, on the recorder's clock.
    pub(super) from: Timestamp,
    /// Between these moments the jump surely lies; what is there belongs to no stretch.
    pub(super) unsure: (Timestamp, Timestamp),
    /// Its lag, to a quarter of a second.
    pub(super) lag_s: f64,
}

/// The stretches of a recording. `None` if nothing overlaps.
pub(super) fn stretches(sides: &Sides, rough_s: &[f64], records: &Series) -> Option<Vec<Stretch>> {
    let sides = sides.smoothed(1);
    let lags = lags(rough_s);
    let fits = Fits::of(&sides, &lags)?;
    let course = course(&fits)?;
    let jump = |blocks: Range<usize>| {
        let lags_s = [blocks.start, blocks.end].map(|block| lags[course[block]].lag_s);
        let switch = switch(&sides, &blocks, lags_s, fits.inflation);
        let (from, unsure) = boundary(&sides.stream, switch, records);
        Begun {
            stretch: Stretch {
                from,
                unsure,
                lag_s: lags_s[1],
            },
            blocks,
        }
    };
    let beginning = Timestamp::from_nanos(i64::MIN);
    let mut begun = vec![Begun {
        stretch: Stretch {
            from: beginning,
            unsure: (beginning, beginning),
            lag_s: lags[course[0]].lag_s,
        },
        blocks: 0..0,
    }];
    begun.extend(jumps(&course, &lags).into_iter().map(jump));
    let end = Timestamp::from_secs_f64(sides.stream.moment_s(sides.stream.uniform.values.len()));
    Some(without_short(begun, sides.stream.from_s, end, jump))
}

/// A stretch, and the jump before it: the last block of the stretch before and its own first.
struct Begun {
    stretch: Stretch,
    blocks: Range<usize>,
}

/// Where a stretch begins, and between which moments that surely is.
fn boundary(
    stream: &Side,
    switch: Switch,
    records: &Series,
) -> (Timestamp, (Timestamp, Timestamp)) {
    let moment = |point: usize| Timestamp::from_secs_f64(stream.moment_s(point));
    let margin = Span::from_secs_f64(MARGIN_S);
    let surely = (moment(switch.earliest), moment(switch.latest));
    let (since, from, until) = match gap_within(records, surely) {
        Some((before, behind)) => (before, behind, behind),
        None => (surely.0, moment(switch.likely), surely.1),
    };
    (from, (since - margin, until + margin))
}

/// A pause that shows as a gap in the records is where the clock jumped: the longest gap near the
/// place, from the record before it to the one after.
fn gap_within(
    records: &Series,
    (earliest, latest): (Timestamp, Timestamp),
) -> Option<(Timestamp, Timestamp)> {
    let near = Span::from_secs_f64(MARGIN_S);
    let times = records.times();
    let range = records.range(earliest - near, latest + near);
    range
        .filter(|index| records.gap_after(*index))
        .filter_map(|index| Some((times[index], *times.get(index + 1)?)))
        .max_by_key(|(from, to)| *to - *from)
}

/// Leaves out stretches of less than a minute, which tell no lag: at either end their neighbour goes
/// on, and between two jumps nobody is sure. The jump over what was left out is looked for anew: its
/// parts were looked for with a lag that is no longer believed, and may lie beside it.
fn without_short(
    begun: Vec<Begun>,
    from_s: f64,
    end: Timestamp,
    jump: impl Fn(Range<usize>) -> Begun,
) -> Vec<Stretch> {
    const SHORTEST_S: f64 = 60.0;
    let mut kept: Vec<Stretch> = Vec::new();
    // Where what is left out began, and what is unsure of it, while it goes on.
    let mut left_out: Option<(usize, (Timestamp, Timestamp))> = None;
    for (place, Begun { stretch, blocks }) in begun.iter().enumerate() {
        let from_s = stretch.unsure.1.as_secs_f64().max(from_s);
        let until = (begun.get(place + 1)).map_or(end, |next| next.stretch.unsure.0);
        if until.as_secs_f64() - from_s < SHORTEST_S {
            left_out = Some(match left_out {
                Some((block, unsure)) => (block, both(unsure, stretch.unsure)),
                None => (blocks.start, stretch.unsure),
            });
            continue;
        }
        let left_out = left_out.take();
        // An excursion that comes back is a bad minute and no jump.
        let came_back = |last: &Stretch| (last.lag_s - stretch.lag_s).abs() < 0.5 * LEAST_JUMP_S;
        if kept.last().is_some_and(came_back) {
            continue;
        }
        kept.push(match left_out {
            Some((block, unsure)) if !kept.is_empty() => {
                let over = jump(block..blocks.end).stretch;
                Stretch {
                    unsure: both(over.unsure, both(unsure, stretch.unsure)),
                    ..over
                }
            }
            _ => *stretch,
        });
    }
    if let Some(first) = kept.first_mut() {
        let beginning = Timestamp::from_nanos(i64::MIN);
        first.from = beginning;
        first.unsure = (beginning, beginning);
    }
    kept
}

/// The time from the earlier beginning to the later end.
fn both(a: (Timestamp, Timestamp), b: (Timestamp, Timestamp)) -> (Timestamp, Timestamp) {
    (a.0.min(b.0), a.1.max(b.1))
}
