//! Own noise of each: by the differences of three, by triple collocation, and how well it is known.

use super::blocks::Block;
use crate::stats::hat::{three_cornered_hat_of, triple_collocation};
use crate::stats::normal::student_t_quantile;
use crate::stats::order::exceeds;

/// Variance of each instrument's own noise within blocks; the mean of every block cost one
/// degree of freedom.
pub(super) fn variances(blocks: &[Block], left_out: Option<usize>) -> Option<[f64; 3]> {
    let kept = || {
        blocks
            .iter()
            .enumerate()
            .filter(|(i, _)| Some(*i) != left_out)
    };
    let join = |s: usize| -> Vec<f64> {
        kept()
            .flat_map(|(_, block)| block.departures[s].iter().copied())
            .collect()
    };
    let (a, b, c) = (join(0), join(1), join(2));
    let n = a.len() as f64;
    let freedom = n - kept().count() as f64;
    if !exceeds(freedom, 0.0) {
        return None;
    }
    let hat = three_cornered_hat_of(&a, &b, &c)?;
    if hat == [0.0; 3] {
        return None;
    }
    Some(hat.map(|variance| variance * (n - 1.0) / freedom))
}

/// Triple collocation over all levels, own noise in each instrument's own watts.
pub(super) fn collocation(blocks: &[Block]) -> Option<[f64; 3]> {
    let join = |s: usize| -> Vec<f64> {
        blocks
            .iter()
            .flat_map(|block| block.values[s].iter().copied())
            .collect()
    };
    Some(triple_collocation(&join(0), &join(1), &join(2))?.error_variance)
}

/// Half-width of the 95 % interval from leaving out one block at a time.
pub(super) fn reach(each: &[f64]) -> f64 {
    let n = each.len() as f64;
    if n < 2.0 {
        return f64::MAX.sqrt();
    }
    let mean = each.iter().sum::<f64>() / n;
    let spread: f64 = each.iter().map(|x| (x - mean).powi(2)).sum();
    student_t_quantile(0.975, n - 1.0) * ((n - 1.0) / n * spread).sqrt()
}
