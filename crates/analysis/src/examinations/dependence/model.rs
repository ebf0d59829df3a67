//! The fit: levels, the driver, the other driver and time, with windows of one step not taken as
//! independent.

use super::driver::Driver;
use super::levels::Levels;
use crate::examinations::given::SteadyWindow;
use crate::outcome::Estimate;
use crate::stats::anova::anova;
use crate::stats::least_squares::{LeastSquares, least_squares};
use crate::stats::order::exceeds;

/// Two drivers that go together this closely within levels cannot be told apart.
const INSEPARABLE: f64 = 0.95;

pub(super) struct Model {
    pub(super) slope: Estimate,
    pub(super) held_apart: Vec<&'static str>,
}

impl Model {
    /// `None` where the two drivers cannot be told apart.
    pub(super) fn fit(
        driver: Driver,
        windows: &[&SteadyWindow],
        levels: &Levels,
        x: &[f64],
        error: &[f64],
    ) -> Option<Self> {
        let mut columns = levels.columns();
        columns.push(x.iter().map(|x| x / 10.0).collect());
        let mut held_apart = Vec::new();
        let place = levels.count;
        let other: Option<Vec<f64>> = windows
            .iter()
            .map(|window| driver.other().of(window))
            .collect();
        if let Some(other) = other {
            let together = correlation(&levels.centred(x), &levels.centred(&other));
            if together.abs() > INSEPARABLE {
                return None;
            }
            if levels.range_within(&other) >= 0.5 * driver.other().least_range() {
                columns.push(other.iter().map(|x| x / 10.0).collect());
                held_apart.push(driver.other().words());
            }
        }
        let weights = weights(windows);
        let mut fit = least_squares(&columns, error, Some(&weights))?;
        // Time takes out drift where it does not cost most of what the slope is known by.
        let start = windows[0].middle_s();
        columns.push(
            windows
                .iter()
                .map(|w| (w.middle_s() - start) / 3600.0)
                .collect(),
        );
        if windows.len() > columns.len() + 5
            && let Some(with_time) = least_squares(&columns, error, Some(&weights))
            && with_time.inverse[place][place] < 2.0 * fit.inverse[place][place]
        {
            fit = with_time;
            held_apart.push("time");
        }
        if fit.dof == 0 {
            return None;
        }
        let (factor, dof) = clustering(windows, &fit, &weights);
        let slope = Estimate {
            value: fit.coefficients[place],
            u: (fit.inverse[place][place] * fit.variance().max(1.0) * factor).sqrt(),
            dof,
        };
        Some(Self { slope, held_apart })
    }
}

/// Weights from the stated uncertainties; none is trusted beyond a third of the middle one.
fn weights(windows: &[&SteadyWindow]) -> Vec<f64> {
    let stated: Vec<f64> = windows
        .iter()
        .map(|w| w.u_pct)
        .filter(|u| *u > 0.0)
        .collect();
    let floor = crate::stats::order::median(&stated).unwrap_or(1.0) / 3.0;
    windows
        .iter()
        .map(|w| 1.0 / w.u_pct.max(floor).max(1e-6).powi(2))
        .collect()
}

/// How much the variance grows because windows of one step share what that step had of its own,
/// and how many degrees of freedom are left.
fn clustering(windows: &[&SteadyWindow], fit: &LeastSquares, weights: &[f64]) -> (f64, f64) {
    let scaled: Vec<f64> = fit
        .residuals
        .iter()
        .zip(weights)
        .map(|(r, w)| r * w.sqrt())
        .collect();
    let mut groups: Vec<Vec<f64>> = Vec::new();
    let mut last = None;
    for (window, residual) in windows.iter().zip(scaled) {
        if last != Some(window.step) || window.step.is_none() {
            groups.push(Vec::new());
            last = Some(window.step);
        }
        if let Some(group) = groups.last_mut() {
            group.push(residual);
        }
    }
    let independent = (1.0, fit.dof as f64);
    let Some(a) = anova(&groups) else {
        return independent;
    };
    let (between, within) = (a.s_l().powi(2), a.ms_within());
    if !exceeds(between, 0.0) || !exceeds(between + within, 0.0) {
        return independent;
    }
    let share = between / (between + within);
    let columns = windows.len() - fit.dof;
    let dof = (groups.len() as f64 - columns as f64).max(1.0);
    (1.0 + (a.per_group - 1.0).max(0.0) * share, dof)
}

fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let product = |p: &[f64], q: &[f64]| p.iter().zip(q).map(|(p, q)| p * q).sum::<f64>();
    let size = (product(a, a) * product(b, b)).sqrt();
    if size > 0.0 {
        product(a, b) / size
    } else {
        0.0
    }
}
