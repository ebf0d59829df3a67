//! Dependence of the difference on cadence or on flywheel speed, each separated from the other.

use super::given::SteadyWindow;
use super::prepared::Prepared;
use super::visits::is_comparison;
use super::{not_tested, words};
use crate::outcome::{Estimate, Ink, Outcome, Tested};
use crate::stats::anova::anova;
use crate::stats::intervals::{excludes, interval_95};
use crate::stats::least_squares::{LeastSquares, least_squares};
use crate::stats::order::exceeds;

/// What the difference may depend on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Driver {
    /// Cadence at constant gear or with the flywheel speed held apart; unit of the slope 10 rpm.
    Cadence,
    /// Flywheel speed at constant cadence; unit of the slope 10 km/h.
    FlywheelSpeed,
}

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

impl Driver {
    /// Name of the examination.
    pub fn name(self) -> &'static str {
        match self {
            Self::Cadence => "dependence on cadence",
            Self::FlywheelSpeed => "dependence on flywheel speed",
        }
    }

    fn of(self, window: &SteadyWindow) -> Option<f64> {
        match self {
            Self::Cadence => window.cadence_rpm,
            Self::FlywheelSpeed => window.speed_kmh,
        }
    }

    fn other(self) -> Self {
        match self {
            Self::Cadence => Self::FlywheelSpeed,
            Self::FlywheelSpeed => Self::Cadence,
        }
    }

    /// Range within one level that shows a dependence, in the driver's unit.
    fn least_range(self) -> f64 {
        match self {
            Self::Cadence => 10.0,
            Self::FlywheelSpeed => 5.0,
        }
    }

    fn unit(self) -> &'static str {
        match self {
            Self::Cadence => "rpm",
            Self::FlywheelSpeed => "km/h",
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Cadence => "cadence",
            Self::FlywheelSpeed => "flywheel speed",
        }
    }

    fn advice(self) -> &'static str {
        match self {
            Self::Cadence => {
                "ride one power in one gear at three cadences at least 10 rpm apart, and at one \
                 cadence in three gears, so that the two can be told apart"
            }
            Self::FlywheelSpeed => {
                "ride one power at one cadence in three gears that differ by at least 5 km/h of \
                 flywheel speed"
            }
        }
    }
}

/// Two drivers that go together this closely within levels cannot be told apart.
const INSEPARABLE: f64 = 0.95;

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

/// Which windows share a level.
struct Levels {
    of_window: Vec<usize>,
    count: usize,
}

impl Levels {
    fn of(windows: &[&SteadyWindow]) -> Self {
        let mut known: Vec<f64> = Vec::new();
        let of_window = windows
            .iter()
            .map(|window| {
                let level = window.level_w;
                let same = |k: &f64| super::visits::same_level(*k, level);
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
    fn range_within(&self, x: &[f64]) -> f64 {
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
    fn centred(&self, x: &[f64]) -> Vec<f64> {
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

    fn columns(&self) -> Vec<Vec<f64>> {
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

struct Model {
    slope: Estimate,
    held_apart: Vec<&'static str>,
}

impl Model {
    /// `None` where the two drivers cannot be told apart.
    fn fit(
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

fn report(
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
                .map(|p| {
                    [
                        p.x,
                        p.error_pct - 2.0 * p.u_pct,
                        p.error_pct,
                        p.error_pct + 2.0 * p.u_pct,
                    ]
                })
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

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session, TestWindow};
    use super::*;
    use crate::evidence::Feeds;

    /// Three gears at one cadence and three cadences in one gear, at 200 W, two rides of each.
    fn arms(seed: u64, effect: impl Fn(f64, f64) -> f64) -> Session {
        let mut noise = Noise::new(seed);
        let mut session = Session::empty();
        let conditions = [
            (90.0, 20.0),
            (90.0, 30.0),
            (90.0, 40.0),
            (70.0, 23.3),
            (80.0, 26.7),
            (100.0, 33.3),
        ];
        let mut t = 0.0;
        for _ in 0..2 {
            for (cadence, speed) in conditions {
                let step = session.step(Feeds::FlywheelSpeed, t, t + 150.0, 200.0);
                let own = 0.1 * noise.normal();
                for window in 0..5 {
                    let reference = 200.0 + 2.0 * noise.normal();
                    let error = 1.0 + effect(cadence, speed) + own + 0.3 * noise.normal();
                    session.window(TestWindow {
                        from_s: t + 30.0 * f64::from(window),
                        step,
                        level_w: 200.0,
                        reference_w: reference,
                        under_test_w: reference * (1.0 + error / 100.0),
                        cadence_rpm: cadence + 0.5 * noise.normal(),
                        speed_kmh: speed * (1.0 + 0.005 * noise.normal()),
                        u_pct: 0.3,
                    });
                }
                t += 150.0;
            }
        }
        session
    }

    #[test]
    fn a_dependence_on_speed_is_found_and_not_put_down_to_cadence() {
        let (mut covered, mut false_claims) = (0, 0);
        for seed in 0..60 {
            let session = arms(seed, |_, speed| 0.8 * (speed - 30.0) / 10.0);
            let speed = dependence(&session.given(), Driver::FlywheelSpeed)
                .unwrap()
                .result;
            assert!(speed.claimed, "seed {seed}: {speed:?}");
            covered += usize::from(!excludes(speed.interval_pct_per_10, 0.8));
            let cadence = dependence(&session.given(), Driver::Cadence)
                .unwrap()
                .result;
            assert!(cadence.held_apart.contains(&"flywheel speed"));
            false_claims += usize::from(cadence.claimed);
        }
        assert!(covered >= 54, "{covered} of 60 intervals hold the truth");
        assert!(false_claims <= 7, "{false_claims} of 60");
    }

    #[test]
    fn nothing_is_claimed_where_nothing_is() {
        let claims = (200..260)
            .filter(|&seed| {
                let session = arms(seed, |_, _| 0.0);
                dependence(&session.given(), Driver::FlywheelSpeed)
                    .unwrap()
                    .result
                    .claimed
            })
            .count();
        assert!(claims <= 7, "{claims} of 60");
    }

    #[test]
    fn one_gear_alone_cannot_tell_them_apart() {
        let mut session = arms(1, |_, _| 0.0);
        for window in &mut session.windows {
            window.speed_kmh = window.cadence_rpm.map(|cadence| cadence * 0.35);
        }
        let refused = dependence(&session.given(), Driver::Cadence).unwrap_err();
        assert!(refused.reason.contains("told apart"), "{refused}");
        assert!(dependence(&Session::empty().given(), Driver::FlywheelSpeed).is_err());
        for window in &mut session.windows {
            window.speed_kmh = Some(33.0);
        }
        assert!(dependence(&session.given(), Driver::FlywheelSpeed).is_err());
    }
}
