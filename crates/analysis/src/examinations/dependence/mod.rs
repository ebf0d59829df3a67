//! Dependence of the difference on cadence or on flywheel speed, each separated from the other.

mod driver;
mod levels;
mod model;
mod report;
#[cfg(test)]
mod tests;

use super::given::SteadyWindow;
use super::prepared::Prepared;
use super::visits::is_comparison;
use crate::outcome::{Outcome, not_tested};
pub use driver::Driver;
use levels::Levels;
use model::Model;
use report::report;
pub use report::{Dependence, DependencePoint};

/// Examines the dependence on one driver.
///
/// The difference in % is fitted by a level of its own for every power, the driver, the other
/// driver where it was varied, and the time of day where that can be told apart. Windows of one
/// step are not taken as independent.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn dependence(given: &Prepared<'_>, driver: Driver) -> Outcome<Dependence> {
    let windows: Vec<&SteadyWindow> = given
        .windows
        .iter()
        .filter(|window| {
            is_comparison(given.feeds_of(window))
                && driver.of(window).is_some()
                && window.reference_w > 20.0
                && window.error_pct().is_finite()
        })
        .collect();
    let name = driver.name();
    if windows.len() < 5 {
        return not_tested(
            name,
            format!(
                "only {} steady windows with {}; {}",
                windows.len(),
                driver.words(),
                driver.advice()
            ),
        );
    }
    let levels = Levels::of(&windows);
    let x: Vec<f64> = windows
        .iter()
        .filter_map(|window| driver.of(window))
        .collect();
    let range_within = levels.range_within(&x);
    if range_within < driver.least_range() {
        return not_tested(
            name,
            format!(
                "the {} varied by only {range_within:.0} {} at one power; {}",
                driver.words(),
                driver.unit(),
                driver.advice()
            ),
        );
    }
    let error: Vec<f64> = windows.iter().map(|window| window.error_pct()).collect();
    let Some(model) = Model::fit(driver, &windows, &levels, &x, &error) else {
        return not_tested(
            name,
            format!(
                "cadence and flywheel speed were changed together and cannot be told apart; {}",
                driver.advice()
            ),
        );
    };
    Ok(report(driver, &windows, &x, model))
}
