//! Which of the three stands alone, in bias or in noise.

use super::blocks::Block;
use crate::outcome::Estimate;
use crate::stats::normal::student_t_quantile;
use crate::stats::two_samples::Summary;

/// Own noise of one instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct SourceNoise {
    /// Name of the stream.
    pub source: String,
    /// Own noise of its means, W; zero where the variance came out negative.
    pub noise_w: f64,
    /// 95 % interval of the noise, W.
    pub noise_interval_w: [f64; 2],
    /// Own noise by triple collocation, which allows each instrument its own scale, W.
    pub collocation_w: Option<f64>,
    /// Mean deviation from the middle one of the three, %.
    pub bias_pct: Estimate,
}

/// Mean departure of each from the middle one of the three, %.
pub(super) fn biases(blocks: &[Block]) -> [Estimate; 3] {
    std::array::from_fn(|i| {
        let departures: Vec<f64> = blocks
            .iter()
            .filter_map(|block| {
                let mut sorted = block.means;
                sorted.sort_by(f64::total_cmp);
                (sorted[1] > 5.0).then(|| 100.0 * (block.means[i] / sorted[1] - 1.0))
            })
            .collect();
        Summary::of(&departures).map_or(
            Estimate {
                value: 0.0,
                u: 0.0,
                dof: 1.0,
            },
            |s| Estimate {
                value: s.mean,
                u: (s.variance / s.n).sqrt(),
                dof: s.n - 1.0,
            },
        )
    })
}

/// The one whose mean differences to both others are shown and more than twice as large as the
/// difference of those two.
pub(super) fn alone_in_bias(blocks: &[Block]) -> Option<usize> {
    let difference = |i: usize, j: usize| -> Option<(f64, bool)> {
        let d: Vec<f64> = blocks
            .iter()
            .filter(|block| block.means[j] > 5.0)
            .map(|block| block.means[i] / block.means[j] - 1.0)
            .collect();
        let s = Summary::of(&d)?;
        let reach = student_t_quantile(0.975, s.n - 1.0) * (s.variance / s.n).sqrt();
        Some((s.mean.abs(), s.mean.abs() > reach))
    };
    (0..3).find(|&i| {
        let (j, k) = ((i + 1) % 3, (i + 2) % 3);
        match (difference(i, j), difference(i, k), difference(j, k)) {
            (Some((ij, shown_ij)), Some((ik, shown_ik)), Some((jk, _))) => {
                shown_ij && shown_ik && ij.min(ik) > 2.0 * jk
            }
            _ => false,
        }
    })
}

/// The one whose noise interval lies above both others'.
pub(super) fn alone_in_noise(found: &[SourceNoise]) -> Option<usize> {
    (0..found.len()).find(|&i| {
        let low = found[i].noise_interval_w[0];
        (0..found.len()).all(|j| j == i || found[j].noise_interval_w[1] < low)
    })
}
