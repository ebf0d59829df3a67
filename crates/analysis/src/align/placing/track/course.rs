//! The most likely course of the lag through all blocks, and where it jumps: Viterbi's search, in
//! which a creep is cheap and a jump costs what chance does not pay.

use super::fits::{Fits, Tried};
use std::ops::Range;

/// What a creep by one step of the lag costs, in units of log-likelihood.
const CREEP_COST: f64 = 6.0;
/// What a jump costs.
const JUMP_COST: f64 = 16.0;
/// From this change on, within a few blocks, a change of the lag is a jump and no drift, s.
pub(super) const LEAST_JUMP_S: f64 = 0.7;

/// The most likely lag of every block, as an index.
pub(super) fn course(fits: &Fits) -> Option<Vec<usize>> {
    let lags = fits.costs.len();
    let mut totals = vec![0.0; lags];
    let mut cames: Vec<Vec<usize>> = Vec::with_capacity(fits.blocks());
    for block in 0..fits.blocks() {
        let cheapest = cheapest(&totals)?;
        let mut came = Vec::with_capacity(lags);
        let mut next = Vec::with_capacity(lags);
        for lag in 0..lags {
            let mut from = (lag, totals[lag]);
            if block > 0 {
                let creep = [lag.checked_sub(1), Some(lag + 1)];
                for beside in creep.into_iter().flatten() {
                    if fits.groups.get(beside) == Some(&fits.groups[lag])
                        && totals[beside] + CREEP_COST < from.1
                    {
                        from = (beside, totals[beside] + CREEP_COST);
                    }
                }
                if totals[cheapest] + JUMP_COST < from.1 {
                    from = (cheapest, totals[cheapest] + JUMP_COST);
                }
            }
            came.push(from.0);
            next.push(from.1 + fits.block(lag, fits.points_of(block)));
        }
        totals = next;
        cames.push(came);
    }
    let mut lag = cheapest(&totals)?;
    let mut course = Vec::with_capacity(cames.len());
    for came in cames.iter().rev() {
        course.push(lag);
        lag = came[lag];
    }
    course.reverse();
    Some(course)
}

fn cheapest(totals: &[f64]) -> Option<usize> {
    (0..totals.len()).min_by(|a, b| totals[*a].total_cmp(&totals[*b]))
}

/// Jumps of a course: the last block of the stretch before, and the first block of the one behind.
pub(super) fn jumps(course: &[usize], lags: &[Tried]) -> Vec<Range<usize>> {
    // A jump may be spread over two blocks.
    const TOGETHER: usize = 3;
    let lag_s = |block: usize| lags[course[block]].lag_s;
    let mut jumps: Vec<Range<usize>> = Vec::new();
    let mut block = 1;
    while block < course.len() {
        if course[block] != course[block - 1] {
            let mut end = block;
            for later in block + 1..(block + TOGETHER).min(course.len()) {
                if course[later] != course[later - 1] {
                    end = later;
                }
            }
            if (lag_s(end) - lag_s(block - 1)).abs() >= LEAST_JUMP_S {
                jumps.push(block - 1..end);
                block = end + 1;
                continue;
            }
        }
        block += 1;
    }
    jumps
}
