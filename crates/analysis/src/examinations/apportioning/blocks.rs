//! Means of the three over the same ten seconds, block by block.

use crate::examinations::given::Source;
use crate::examinations::integral::{Integral, secs};
use crate::examinations::prepared::Prepared;
use crate::examinations::visits::is_comparison;

/// Length of the means, s.
pub(super) const MEAN_S: f64 = 10.0;

/// Means of the three over the same ten seconds, as departures from the mean of their block.
pub(super) struct Block {
    pub(super) departures: [Vec<f64>; 3],
    /// Mean of each over the block, W, referred to one side of the drivetrain.
    pub(super) means: [f64; 3],
    /// The same ten-second means with the level left in.
    pub(super) values: [Vec<f64>; 3],
}

pub(super) fn blocks(given: &Prepared<'_>, sources: &[Source<'_>]) -> Vec<Block> {
    let integrals: Vec<&Integral> = sources
        .iter()
        .map(|source| given.power(source.index))
        .collect();
    let behind = sources
        .iter()
        .any(|source| source.stream.place.is_behind_drivetrain());
    let sides: Vec<f64> = sources
        .iter()
        .map(|source| {
            let before = !source.stream.place.is_behind_drivetrain();
            if behind && before {
                given.bench.efficiency.value
            } else {
                1.0
            }
        })
        .collect();
    given
        .windows
        .iter()
        .filter(|window| is_comparison(given.feeds_of(window)))
        .filter_map(|window| {
            let (from_s, to_s) = (secs(window.from), secs(window.to));
            let count = ((to_s - from_s) / MEAN_S + 1e-9).max(0.0) as usize;
            let mut values: [Vec<f64>; 3] = Default::default();
            for i in 0..count {
                let begin = from_s + i as f64 * MEAN_S;
                let mean =
                    |s: usize| Some(sides[s] * integrals[s].mean(begin, begin + MEAN_S, 0.9)?);
                if let (Some(a), Some(b), Some(c)) = (mean(0), mean(1), mean(2)) {
                    values[0].push(a);
                    values[1].push(b);
                    values[2].push(c);
                }
            }
            if values[0].len() < 2 {
                return None;
            }
            let n = values[0].len() as f64;
            let means: [f64; 3] = std::array::from_fn(|i| values[i].iter().sum::<f64>() / n);
            let departures =
                std::array::from_fn(|i| values[i].iter().map(|v| v - means[i]).collect());
            Some(Block {
                departures,
                means,
                values,
            })
        })
        .collect()
}
