//! Which windows share a level: a level of its own for every power.

use crate::examinations::given::SteadyWindow;
use crate::examinations::visits::same_level;

/// Which windows share a level.
pub(super) struct Levels {
    of_window: Vec<usize>,
    pub(super) count: usize,
}

impl Levels {
    pub(super) fn of(windows: &[&SteadyWindow]) -> Self {
        let mut known: Vec<f64> = Vec::new();
        let of_window = windows
            .iter()
            .map(|window| {
                let level = window.level_w;
                let same = |k: &f64| same_level(*k, level);
                known.iter().position(same).unwrap_or_else(|| {
                    known.push(level);
                    known.len() - 1
                })
            })
            .collect();
        Self {
            of_window,
            count: known.len(),
        }
    }

    fn values<'a>(&'a self, x: &'a [f64], level: usize) -> impl Iterator<Item = f64> + 'a {
        x.iter()
            .zip(&self.of_window)
            .filter(move |(_, l)| **l == level)
            .map(|(x, _)| *x)
    }

    /// Largest range of the values within one level.
    pub(super) fn range_within(&self, x: &[f64]) -> f64 {
        (0..self.count)
            .map(|level| {
                let (low, high) = self
                    .values(x, level)
                    .fold((f64::MAX, f64::MIN), |(l, h), x| (l.min(x), h.max(x)));
                high - low
            })
            .fold(0.0, f64::max)
    }

    /// Values minus the mean of their level.
    pub(super) fn centred(&self, x: &[f64]) -> Vec<f64> {
        let means: Vec<f64> = (0..self.count)
            .map(|level| {
                let (sum, n) = self
                    .values(x, level)
                    .fold((0.0, 0.0), |(s, n), x| (s + x, n + 1.0));
                sum / f64::max(n, 1.0)
            })
            .collect();
        x.iter()
            .zip(&self.of_window)
            .map(|(x, level)| x - means[*level])
            .collect()
    }

    pub(super) fn columns(&self) -> Vec<Vec<f64>> {
        (0..self.count)
            .map(|level| {
                self.of_window
                    .iter()
                    .map(|l| f64::from(u8::from(*l == level)))
                    .collect()
            })
            .collect()
    }
}
