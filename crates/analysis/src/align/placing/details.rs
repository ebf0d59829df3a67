//! Whether two recordings agree in more than the script's steps.
//!
//! Whoever rides a script on two days changes effort at the same moments on both. What no two rides
//! share is the scatter of the legs in between. So the levels are taken out, moments of change are
//! left out, and what remains of both is correlated where the recordings were placed. How much
//! correlation chance gives is measured on the same data, at places that are wrong by half a minute
//! to five: their scatter knows of every autocorrelation and of every quiet hour.

use super::Placement;
use super::agreement::Details;
use super::sides::Sides;
use crate::align::grid::STEP_S;
use crate::stats::descriptive::{mean, sd};
use crate::stats::order::quantile;
use units::Timestamp;

/// Points on either side of the level that is taken out: 10 s.
const LEVEL: usize = 20;
/// A change of level larger than this many times the usual one is a step.
const STEP: f64 = 4.0;
/// Places that are wrong on purpose, s to either side.
const WRONG_FROM_S: usize = 30;
const WRONG_TO_S: usize = 300;
const WRONG_STEP_S: usize = 6;
/// Fewest points that tell anything: 3 min.
const FEWEST: usize = 360;

/// The details of one quantity at a place. `None` where too little is left.
pub(super) fn details(sides: &Sides, placement: &Placement) -> Option<Details> {
    let sides = sides.smoothed(2);
    let points = sides.stream.uniform.values.len();
    let placed: Vec<f64> = (0..points)
        .map(|point| {
            let own = Timestamp::from_secs_f64(sides.stream.moment_s(point));
            placement.on_reference_clock(own).as_secs_f64()
        })
        .collect();
    let stream = left(
        &(0..points)
            .map(|point| sides.stream_at(point).map(|sample| sample.value))
            .collect::<Vec<_>>(),
    );
    let at = |later_s: f64| -> Vec<Option<f64>> {
        placed
            .iter()
            .map(|placed_s| {
                sides
                    .reference_at(placed_s + later_s)
                    .map(|sample| sample.value)
            })
            .collect()
    };
    let here = left(&at(0.0));
    let found = correlation(&stream, &here)?;
    let per_second = (1.0 / STEP_S) as usize;
    let chance: Vec<f64> = (WRONG_FROM_S..=WRONG_TO_S)
        .step_by(WRONG_STEP_S)
        .flat_map(|wrong| {
            let by = wrong * per_second;
            let earlier = correlation(stream.get(by..)?, &here);
            let later = correlation(&stream, here.get(by..)?);
            Some([earlier, later])
        })
        .flatten()
        .flatten()
        .collect();
    let (by_chance, scatter) = (mean(&chance)?, sd(&chance)?);
    let size = |of: &[Option<f64>]| sd(&of.iter().flatten().copied().collect::<Vec<_>>());
    Some(Details {
        correlation: found,
        stands_out: (found - by_chance) / scatter.max(1e-6),
        scatter_ratio: size(&stream)? / size(&here)?.max(1e-9),
    })
}

/// What is left of a stream without its level; `None` where the level changes, and where missing.
fn left(values: &[Option<f64>]) -> Vec<Option<f64>> {
    let n = values.len();
    let (mut sums, mut counts) = (vec![0.0], vec![0usize]);
    for value in values {
        sums.push(sums[sums.len() - 1] + value.unwrap_or(0.0));
        counts.push(counts[counts.len() - 1] + usize::from(value.is_some()));
    }
    let mean = |from: usize, to: usize| {
        let count = counts[to] - counts[from];
        (count * 2 > LEVEL).then(|| (sums[to] - sums[from]) / count as f64)
    };
    let changes: Vec<Option<f64>> = (0..n)
        .map(|point| {
            let (from, to) = (point.checked_sub(LEVEL)?, point + LEVEL);
            (to <= n).then(|| Some((mean(point, to)? - mean(from, point)?).abs()))?
        })
        .collect();
    let usual = quantile(&changes.iter().flatten().copied().collect::<Vec<_>>(), 0.5);
    let limit = STEP * usual.unwrap_or(0.0);
    let steps: Vec<bool> = changes
        .iter()
        .map(|change| change.is_none_or(|change| change > limit))
        .collect();
    (0..n)
        .map(|point| {
            let (from, to) = (point.checked_sub(LEVEL)?, point + LEVEL);
            if to > n || steps[from..to].contains(&true) {
                return None;
            }
            Some(values[point]? - mean(from, to)?)
        })
        .collect()
}

fn correlation(a: &[Option<f64>], b: &[Option<f64>]) -> Option<f64> {
    let (mut n, mut aa, mut ab, mut bb) = (0, 0.0, 0.0, 0.0);
    for (a, b) in a.iter().zip(b) {
        if let (Some(a), Some(b)) = (a, b) {
            n += 1;
            aa += a * a;
            ab += a * b;
            bb += b * b;
        }
    }
    let energy = f64::sqrt(aa * bb);
    (n >= FEWEST && energy > 0.0).then(|| ab / energy)
}
