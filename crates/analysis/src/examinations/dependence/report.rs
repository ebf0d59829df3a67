//! The dependence as a result: slope, sentence and plot.

use super::driver::Driver;
use super::model::Model;
use crate::examinations::given::SteadyWindow;
use crate::examinations::words;
use crate::outcome::{Estimate, Ink, Tested};
use crate::stats::intervals::{excludes, interval_95};

/// Dependence of the difference on one driver.
#[derive(Clone, Debug, PartialEq)]
pub struct Dependence {
    /// What it depends on.
    pub driver: Driver,
    /// Change of the difference, % of reference per 10 km/h or per 10 rpm.
    pub slope_pct_per_10: Estimate,
    /// 95 % interval of the slope.
    pub interval_pct_per_10: [f64; 2],
    /// Whether a dependence is claimed: the interval excludes zero.
    pub claimed: bool,
    /// Smallest and largest value of the driver that was ridden.
    pub range: [f64; 2],
    /// What else was held apart in the same fit, in words.
    pub held_apart: Vec<&'static str>,
    /// The windows, one point each.
    pub points: Vec<DependencePoint>,
}

/// One window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DependencePoint {
    /// Value of the driver, rpm or km/h.
    pub x: f64,
    /// Difference, % of reference.
    pub error_pct: f64,
    /// Its standard uncertainty, %.
    pub u_pct: f64,
    /// Level, W.
    pub level_w: f64,
}

pub(super) fn report(
    driver: Driver,
    windows: &[&SteadyWindow],
    x: &[f64],
    model: Model,
) -> Tested<Dependence> {
    let slope = model.slope;
    let interval = interval_95(slope);
    let claimed = excludes(interval, 0.0);
    let range = x.iter().fold([f64::MAX, f64::MIN], |[low, high], x| {
        [low.min(*x), high.max(*x)]
    });
    let points: Vec<DependencePoint> = windows
        .iter()
        .zip(x)
        .map(|(window, x)| DependencePoint {
            x: *x,
            error_pct: window.error_pct(),
            u_pct: window.u_pct,
            level_w: window.level_w,
        })
        .collect();
    let unit = driver.unit();
    let amount = format!(
        "{} % per 10 {unit} ({})",
        words::signed(slope.value, 2),
        words::interval(interval, 2, "%")
    );
    let ridden = format!("ridden from {:.0} to {:.0} {unit}", range[0], range[1]);
    let sentence = if claimed {
        format!(
            "The difference changes with {} by {amount}; {ridden}.",
            driver.words()
        )
    } else {
        format!(
            "No dependence on {} is shown: {amount}; {ridden}.",
            driver.words()
        )
    };
    let name = match driver {
        Driver::Cadence => "difference-by-cadence",
        Driver::FlywheelSpeed => "difference-by-flywheel-speed",
    };
    let held = if model.held_apart.is_empty() {
        String::from("level held apart")
    } else {
        format!("level, {} held apart", model.held_apart.join(", "))
    };
    let plots = vec![words::plot(
        name,
        &format!("Difference against {}", driver.words()),
        [
            &format!("{}, {unit}", driver.words()),
            "device minus reference, % of reference",
        ],
        vec![words::intervals(
            Ink::UnderTest,
            "windows",
            points
                .iter()
                .map(|p| words::error_bar(p.x, p.error_pct, p.u_pct))
                .collect(),
        )],
        format!("{} windows; {held}", points.len()),
    )];
    let result = Dependence {
        driver,
        slope_pct_per_10: slope,
        interval_pct_per_10: interval,
        claimed,
        range,
        held_apart: model.held_apart,
        points,
    };
    Tested {
        result,
        sentence,
        plots,
    }
}
