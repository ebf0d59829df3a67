//! The shape of a step response, measured on the mean of an ensemble; its uncertainty by leaving out
//! one repeat at a time.

use super::ensemble::{Ensemble, GRID_S};
use crate::outcome::Estimate;
use crate::stats::intervals::mean_of_repeats;
use crate::stats::step_shape::StepResponse;

/// The shape of a step response. Times from the sending of the command; sizes in % of the change.
///
/// A size that the noise of the ensemble hides is absent, not guessed; all are where the power was
/// still ringing from the change before.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct StepShape {
    /// Dead time, from the two-point fit of a first-order lag with delay, s.
    pub dead_time_s: Option<Estimate>,
    /// From 10 % to 90 % of the change, s.
    pub rise_s: Option<Estimate>,
    /// Beyond the final value, % of the change.
    pub overshoot_pct: Option<Estimate>,
    /// Within ±5 % of the change for good, s.
    pub settle_5_s: Option<Estimate>,
    /// Within ±2 % of the change for good, s.
    pub settle_2_s: Option<Estimate>,
    /// Work missing (negative) or surplus against an immediate change, kJ.
    pub work_error_kj: Option<Estimate>,
    /// Standard uncertainty of the ensemble at one moment, % of the change.
    pub noise_pct: f64,
}

/// Before the command the ensemble may vary by this share of the change; beyond it, the passage of
/// 10 % means nothing.
const MOST_UNSTEADY: f64 = 0.15;

impl Ensemble {
    pub(super) fn shape(&self) -> StepShape {
        let n = self.rows.len() as f64;
        let noise = self.scatter / n.sqrt();
        let noise_pct = 100.0 * noise;
        let (all, without) = self.means();
        let t = self.after();
        let measure = |f: &dyn Fn(&StepResponse<'_>) -> Option<f64>| {
            let value = f(&StepResponse { t, y: &all })?;
            let each: Vec<f64> = without
                .iter()
                .map(|y| f(&StepResponse { t, y }))
                .collect::<Option<_>>()?;
            Some(jackknife(value, &each))
        };
        let time = |f: &dyn Fn(&StepResponse<'_>) -> Option<f64>| {
            measure(f).map(|found| Estimate {
                u: found.u.hypot(self.grain_s),
                ..found
            })
        };
        // A band that the noise of the ensemble fills cannot show settling.
        let settle = |band: f64| {
            (3.0 * noise < band)
                .then(|| time(&|r| r.settling(band)))
                .flatten()
        };
        let size_w = self.size_w;
        if self.unsteady_before() > MOST_UNSTEADY {
            // What rings from the change before, or noise, would be read as the beginning of this one.
            return StepShape {
                noise_pct,
                ..StepShape::default()
            };
        }
        StepShape {
            dead_time_s: time(&|r| Some(r.dead_time_and_lag()?.0)),
            rise_s: time(&|r| r.rise()),
            overshoot_pct: self.overshoot(&without),
            settle_5_s: settle(0.05),
            settle_2_s: settle(0.02),
            work_error_kj: measure(&|r| Some(r.shortfall() * size_w / 1000.0)),
            noise_pct,
        }
    }

    /// The height of each repeat at the place where the others are highest: the largest of many
    /// noisy values would be too high, a value at a place chosen by others is not.
    fn overshoot(&self, without: &[Vec<f64>]) -> Option<Estimate> {
        let t = self.after();
        let heights: Vec<f64> = self
            .rows
            .iter()
            .zip(without)
            .filter_map(|(row, others)| {
                let reached = others.iter().position(|y| *y >= 0.9)?;
                let wide = (1.0 / GRID_S) as usize;
                let until = others.len().min(reached + (12.0 / GRID_S) as usize);
                let smooth = |y: &[f64], i: usize| {
                    y[i..(i + wide).min(y.len())].iter().sum::<f64>()
                        / (wide.min(y.len() - i)) as f64
                };
                let place = (reached..until)
                    .max_by(|a, b| smooth(others, *a).total_cmp(&smooth(others, *b)))?;
                Some(100.0 * (smooth(&row[self.command..], place) - 1.0))
            })
            .collect();
        if heights.len() < self.rows.len() || t.is_empty() {
            return None;
        }
        let found = mean_of_repeats(&heights)?;
        Some(Estimate {
            value: found.value.max(0.0),
            ..found
        })
    }
}

/// Standard uncertainty by leaving out one repeat at a time.
fn jackknife(value: f64, each: &[f64]) -> Estimate {
    let n = each.len() as f64;
    let mean = each.iter().sum::<f64>() / n;
    let spread: f64 = each.iter().map(|x| (x - mean).powi(2)).sum();
    Estimate {
        value,
        u: ((n - 1.0) / n * spread).sqrt(),
        dof: n - 1.0,
    }
}
