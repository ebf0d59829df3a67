//! Coast-down and spin-down: the loss curve of the wheel turning by itself.

use super::integral::{Integral, secs};
use super::prepared::Prepared;
use super::words;
use crate::evidence::{Feeds, StepSpan};
use crate::outcome::{Estimate, Ink, Outcome, Tested, not_tested};
use crate::stats::least_squares::{LeastSquares, least_squares};
use crate::stats::two_samples::Summary;
use units::Series;

/// Name of the examination.
pub const NAME: &str = "coast-down";

/// What slows the flywheel when nobody pedals.
#[derive(Clone, Debug, PartialEq)]
pub struct CoastDown {
    /// One entry per coast-down.
    pub runs: Vec<CoastDownRun>,
    /// Deceleration common to all runs: constant, linear and quadratic part in speed
    /// (m/s², 1/s, 1/m); the last two absent where the runs cannot show them.
    pub deceleration: [Option<Estimate>; 3],
    /// Equivalent moving mass used to turn deceleration into force, kg, if stated.
    pub equivalent_mass_kg: Option<f64>,
    /// Power lost at some speeds, `(km/h, W)`, where the mass is stated.
    pub loss: Vec<(f64, Estimate)>,
    /// Scatter of the time between two common speeds over the runs, %.
    pub repeatability_pct: Option<f64>,
}

/// One coast-down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoastDownRun {
    /// Index of the step.
    pub step: usize,
    /// Speed at the beginning, km/h.
    pub from_kmh: f64,
    /// Speed at the end, km/h.
    pub to_kmh: f64,
    /// Time taken, s.
    pub seconds: f64,
    /// Time between the two speeds common to all runs, s.
    pub common_s: Option<f64>,
}

/// Fewest speeds of one coast-down.
const LEAST_SAMPLES: usize = 6;
/// A coast-down must lose this share of its speed.
const LEAST_FALL: f64 = 0.3;
/// Below this the wheel counts as standing, km/h.
const STANDING_KMH: f64 = 3.0;
/// Speeds at which the loss is listed, km/h.
const LISTED_KMH: [f64; 5] = [10.0, 20.0, 30.0, 40.0, 50.0];

/// A run as times from its beginning (s) and speeds (m/s).
struct Run {
    step: usize,
    t: Vec<f64>,
    v: Vec<f64>,
}

/// Examines the coast-downs: how fast the wheel slows when nobody pedals.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn coast_down(given: &Prepared<'_>) -> Outcome<CoastDown> {
    let under_test = given.under_test(NAME)?;
    let speed = given
        .all_sources()
        .map(|source| &source.stream.speed_kmh)
        .find(|series| !series.is_empty());
    let runs: Vec<Run> = speed.map_or(Vec::new(), |speed| {
        let power = given.power(given.reference(NAME).map_or(under_test.index, |r| r.index));
        given
            .steps(Feeds::CoastDown)
            .filter_map(|(index, step)| run(speed, power, index, step))
            .collect()
    });
    if runs.is_empty() {
        return not_tested(
            NAME,
            "no coast-down with speed; spin up, stop pedalling and let the wheel run down, three \
             times, warm",
        );
    }
    let Some((fit, terms)) = fit(&runs) else {
        return not_tested(
            NAME,
            "the speed falls in too few steps to be judged; repeat it",
        );
    };
    let deceleration: [Option<Estimate>; 3] = std::array::from_fn(|i| {
        let place = terms.iter().position(|term| *term == i)?;
        Some(Estimate {
            value: fit.coefficients[place],
            u: fit.sd(place),
            dof: fit.dof as f64,
        })
    });
    let mass = given
        .bench
        .flywheel
        .map(|flywheel| flywheel.equivalent_mass_kg());
    let top = runs.iter().map(|run| run.v[0]).fold(0.0, f64::max);
    let loss = mass.map_or(Vec::new(), |mass| {
        LISTED_KMH
            .iter()
            .filter(|kmh| **kmh / 3.6 <= top)
            .map(|kmh| (*kmh, loss(&fit, &terms, mass, kmh / 3.6)))
            .collect()
    });
    let common = common(&runs);
    let listed: Vec<CoastDownRun> = runs
        .iter()
        .map(|run| CoastDownRun {
            step: run.step,
            from_kmh: 3.6 * run.v[0],
            to_kmh: 3.6 * run.v[run.v.len() - 1],
            seconds: run.t[run.t.len() - 1],
            common_s: common.and_then(|[high, low]| Some(time_at(run, low)? - time_at(run, high)?)),
        })
        .collect();
    let times: Vec<f64> = listed.iter().filter_map(|run| run.common_s).collect();
    let repeatability_pct = Summary::of(&times)
        .filter(|s| s.mean > 0.0)
        .map(|s| 100.0 * s.variance.sqrt() / s.mean);
    let losses = if loss.is_empty() {
        "; state the flywheel's inertia and ratio to have it in watts".to_owned()
    } else {
        let parts: Vec<String> = loss
            .iter()
            .map(|(kmh, w)| format!("{:.0} W at {kmh:.0} km/h", w.value))
            .collect();
        format!("; loss {}", parts.join(", "))
    };
    let sentence = format!(
        "In {} coast-downs the wheel took {} from {:.0} to {:.0} km/h{losses}.",
        listed.len(),
        times
            .first()
            .map_or("an unknown time".to_owned(), |s| format!("{s:.1} s")),
        common.map_or(0.0, |[high, _]| 3.6 * high),
        common.map_or(0.0, |[_, low]| 3.6 * low)
    );
    let plots = vec![words::plot(
        "coast-down",
        "Speed while coasting",
        ["time, s", "speed, km/h"],
        runs.iter()
            .map(|run| {
                let points = run
                    .t
                    .iter()
                    .zip(&run.v)
                    .map(|(t, v)| [*t, 3.6 * v])
                    .collect();
                words::line(Ink::UnderTest, "coast-down", points)
            })
            .collect(),
        format!("{} runs", runs.len()),
    )];
    let result = CoastDown {
        runs: listed,
        deceleration,
        equivalent_mass_kg: mass,
        loss,
        repeatability_pct,
    };
    Ok(Tested {
        result,
        sentence,
        plots,
    })
}

/// The falling part of a step: from the highest speed, or from when pedalling stopped after it,
/// until standstill, a gap, pedalling again or the end.
fn run(speed: &Series, power: &Integral, index: usize, step: &StepSpan) -> Option<Run> {
    let range = speed.range(step.from, step.to);
    let top = range
        .clone()
        .max_by(|a, b| speed.values()[*a].total_cmp(&speed.values()[*b]))?;
    let pedalled = |i: usize| {
        let at_s = secs(speed.times()[i]);
        power.mean(at_s, at_s + 0.5, 0.1).is_some_and(|w| w > 10.0)
    };
    // The longest unbroken stretch: a last turn of the legs, or a report of it that comes late, must
    // not cost the whole run.
    let mut best = 0..0;
    let mut start = top;
    for i in top..=range.end {
        let ends = i == range.end
            || speed.values()[i] < STANDING_KMH
            || pedalled(i)
            || (i > start && speed.gap_after(i - 1));
        if ends {
            if i - start > best.len() {
                best = start..i;
            }
            start = i + 1;
        }
    }
    let begin = *speed.times().get(best.start)?;
    let t: Vec<f64> = best
        .clone()
        .map(|i| (speed.times()[i] - begin).as_secs_f64())
        .collect();
    let v: Vec<f64> = best.map(|i| speed.values()[i] / 3.6).collect();
    let (first, last) = (*v.first()?, *v.last()?);
    (v.len() >= LEAST_SAMPLES && last < (1.0 - LEAST_FALL) * first).then_some(Run {
        step: index,
        t,
        v,
    })
}

/// Deceleration over speed from differences two samples wide, with as many terms as the
/// corrected Akaike criterion supports.
fn fit(runs: &[Run]) -> Option<(LeastSquares, Vec<usize>)> {
    let (mut v, mut a) = (Vec::new(), Vec::new());
    for run in runs {
        for i in (0..run.v.len().saturating_sub(2)).step_by(2) {
            let dt = run.t[i + 2] - run.t[i];
            if dt > 0.0 {
                a.push((run.v[i] - run.v[i + 2]) / dt);
                v.push(0.5 * (run.v[i] + run.v[i + 2]));
            }
        }
    }
    let n = a.len() as f64;
    let candidates: [&[usize]; 4] = [&[0], &[0, 1], &[0, 2], &[0, 1, 2]];
    candidates
        .into_iter()
        .filter_map(|terms| {
            let columns: Vec<Vec<f64>> = terms
                .iter()
                .map(|power| v.iter().map(|v| v.powi(*power as i32)).collect())
                .collect();
            let fit = least_squares(&columns, &a, None)?;
            let k = terms.len() as f64 + 1.0;
            let room = n - k - 1.0;
            (room > 0.0).then(|| {
                let criterion =
                    n * (fit.rss / n).max(1e-15).ln() + 2.0 * k + 2.0 * k * (k + 1.0) / room;
                (criterion, fit, terms.to_vec())
            })
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, fit, terms)| (fit, terms))
}

fn loss(fit: &LeastSquares, terms: &[usize], mass_kg: f64, v: f64) -> Estimate {
    let along: Vec<f64> = terms.iter().map(|power| v.powi(*power as i32)).collect();
    let deceleration: f64 = along
        .iter()
        .zip(&fit.coefficients)
        .map(|(a, c)| a * c)
        .sum();
    Estimate {
        value: mass_kg * deceleration * v,
        u: mass_kg * v * (fit.variance() * fit.inverse_along(&along)).max(0.0).sqrt(),
        dof: fit.dof as f64,
    }
}

/// The speeds that all runs pass, m/s.
fn common(runs: &[Run]) -> Option<[f64; 2]> {
    let high = runs.iter().map(|run| run.v[0]).fold(f64::MAX, f64::min);
    let low = runs
        .iter()
        .map(|run| run.v[run.v.len() - 1])
        .fold(0.0, f64::max);
    (high > low).then_some([high, low])
}

/// When a run falls through a speed.
fn time_at(run: &Run, v: f64) -> Option<f64> {
    let after = run.v.iter().position(|now| *now <= v)?;
    let Some(before) = after.checked_sub(1) else {
        return Some(run.t[after]);
    };
    let share = (run.v[before] - v) / (run.v[before] - run.v[after]);
    Some(run.t[before] + share * (run.t[after] - run.t[before]))
}

#[cfg(test)]
mod tests {
    use super::super::given::Flywheel;
    use super::super::synthetic::{Noise, Session};
    use super::*;

    /// Three coast-downs from 40 km/h of a wheel that loses a + c·v² of speed per second.
    fn coasting(seed: u64, a: f64, c: f64) -> Session {
        let mut noise = Noise::new(seed);
        let curve = |age: f64| {
            // v' = −(a + c·v²) has the solution of a tangent.
            let root = (a * c).sqrt();
            let start = (40.0 / 3.6 * (c / a).sqrt()).atan();
            ((a / c).sqrt() * (start - root * age).tan()).max(0.0)
        };
        let mut session = Session::pair(
            360,
            |t| {
                if t % 120.0 < 40.0 {
                    (200.0, 200.0)
                } else {
                    (0.0, 0.0)
                }
            },
            |t| {
                let age = t % 120.0 - 40.0;
                let v = if age < 0.0 { 40.0 / 3.6 } else { curve(age) };
                (0.0, 3.6 * v + 0.02 * noise.normal())
            },
        );
        for i in 0..3 {
            session.step(
                Feeds::CoastDown,
                120.0 * f64::from(i) + 40.0,
                120.0 * f64::from(i + 1),
                0.0,
            );
        }
        session.bench.flywheel = Some(Flywheel {
            inertia_kg_m2: 0.05,
            revolutions_per_metre: 5.0,
        });
        session
    }

    #[test]
    fn the_loss_curve_is_found() {
        let mut covered = 0;
        for seed in 0..40 {
            let found = coast_down(&coasting(seed, 0.12, 0.002).given())
                .unwrap()
                .result;
            assert_eq!(found.runs.len(), 3);
            assert!((found.equivalent_mass_kg.unwrap() - 49.348022).abs() < 1e-5);
            let (kmh, loss) = found.loss[2];
            let v = kmh / 3.6;
            let truth = 49.348022 * (0.12 + 0.002 * v * v) * v;
            let [low, high] = crate::stats::intervals::interval_95(loss);
            covered += usize::from(low <= truth && truth <= high);
            assert!((loss.value / truth - 1.0).abs() < 0.1, "{loss:?} {truth}");
            assert!(found.repeatability_pct.unwrap() < 3.0);
        }
        assert!(covered >= 34, "{covered} of 40");
    }

    #[test]
    fn no_coasting_no_curve() {
        assert!(coast_down(&Session::empty().given()).is_err());
        let mut riding = Session::pair(200, |_| (200.0, 200.0), Session::usual_motion);
        riding.step(Feeds::CoastDown, 0.0, 200.0, 0.0);
        assert!(coast_down(&riding.given()).is_err());
        let mut constant = Session::pair(200, |_| (0.0, 0.0), Session::usual_motion);
        constant.step(Feeds::CoastDown, 0.0, 200.0, 0.0);
        assert!(coast_down(&constant.given()).is_err());
    }
}
