//! Scatter within the visits of a cell and between them.

use super::data::CellData;
use crate::stats::autocorrelation::Noise;

impl CellData {
    /// Device over reference as indicated; `None` without work.
    fn ratio(&self) -> Option<f64> {
        (self.n > 0 && self.reference_sum_w > 0.0)
            .then(|| self.under_test_sum_w / self.reference_sum_w)
    }

    /// Scatter of the paired differences around the ratio of their own visit, W. What parts one
    /// visit from the other is not scatter: it has a term of its own, and would pass here for an
    /// autocorrelation that no visit has.
    pub fn noise(&self) -> Option<Noise> {
        let residuals = self.residuals()?;
        Noise::of_runs(residuals.iter().map(Vec::as_slice))
    }

    fn residuals(&self) -> Option<Vec<Vec<f64>>> {
        let whole = self.ratio()?;
        let ratio_of = |visit: usize| {
            let runs = || self.runs.iter().filter(|run| run.visit == visit);
            let device_w: f64 = runs().flat_map(|run| &run.under_test_w).sum();
            let reference_w: f64 = runs().flat_map(|run| &run.reference_w).sum();
            if reference_w > 0.0 {
                device_w / reference_w
            } else {
                whole
            }
        };
        Some(
            self.runs
                .iter()
                .map(|run| {
                    let ratio = ratio_of(run.visit);
                    let pairs = run.under_test_w.iter().zip(&run.reference_w);
                    pairs
                        .map(|(device, reference)| device - ratio * reference)
                        .collect()
                })
                .collect(),
        )
    }

    /// Variance between the visits' differences (%²), the part of it that scatter within visits
    /// explains, and the degrees of freedom; `None` with fewer than two visits.
    pub(super) fn between_visits(&self) -> Option<(f64, f64, usize)> {
        let noise = self.noise()?;
        let mut visits: Vec<(usize, f64, f64, usize)> = Vec::new();
        for run in &self.runs {
            let sums = (
                run.under_test_w.iter().sum::<f64>(),
                run.reference_w.iter().sum::<f64>(),
                run.reference_w.len(),
            );
            match visits.iter_mut().find(|visit| visit.0 == run.visit) {
                Some(visit) => {
                    visit.1 += sums.0;
                    visit.2 += sums.1;
                    visit.3 += sums.2;
                }
                None => visits.push((run.visit, sums.0, sums.1, sums.2)),
            }
        }
        if visits.len() < 2 {
            return None;
        }
        let differences: Vec<f64> = visits
            .iter()
            .map(|visit| 100.0 * (visit.1 / visit.2.max(1.0) - 1.0))
            .collect();
        let sd = crate::stats::descriptive::sd(&differences)?;
        let explained = visits
            .iter()
            .map(|visit| (100.0 * noise.u_mean(visit.3) / self.mean_reference_w()).powi(2))
            .sum::<f64>()
            / visits.len() as f64;
        Some((sd * sd, explained, visits.len() - 1))
    }

    /// Scatter of the device's own seconds, W.
    pub(super) fn under_test_sd_w(&self) -> f64 {
        let mean = self.under_test_sum_w / self.n.max(1) as f64;
        let squares: f64 = self
            .runs
            .iter()
            .flat_map(|run| &run.under_test_w)
            .map(|value| (value - mean).powi(2))
            .sum();
        (squares / self.n.saturating_sub(1).max(1) as f64).sqrt()
    }
}
