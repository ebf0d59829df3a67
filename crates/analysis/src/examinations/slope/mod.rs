//! Slope simulation: force against the sine of the grade.

mod model;
mod report;
mod stretches;

use super::prepared::Prepared;
use crate::outcome::{Outcome, not_tested};
use model::{Model, mark_ceiling};
pub use report::Slope;
use report::report;
pub use stretches::SlopePoint;
use stretches::{Bench, Commanded, commands};

/// Name of the examination.
pub const NAME: &str = "slope simulation";
/// Fewest stretches and fewest different grades.
const LEAST_POINTS: usize = 4;
const LEAST_GRADES: usize = 3;

/// Examines the slope simulation: force at the road against the sine of the grade.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn slope(given: &Prepared<'_>) -> Outcome<Slope> {
    let bench = Bench::new(given, NAME)?;
    let commands = commands(given);
    let points: Vec<(Commanded, SlopePoint)> = commands
        .iter()
        .filter_map(|command| Some((*command, bench.point(command)?)))
        .collect();
    let mut grades: Vec<f64> = points.iter().map(|(_, point)| point.grade_pct).collect();
    grades.sort_by(f64::total_cmp);
    grades.dedup_by(|a, b| (*a - *b).abs() < 0.05);
    if points.len() < LEAST_POINTS || grades.len() < LEAST_GRADES {
        return not_tested(
            NAME,
            format!(
                "{} steady stretches at {} grades; in slope mode ride at least four grades from \
                 flat to steep, half a minute each, at two speeds",
                points.len(),
                grades.len()
            ),
        );
    }
    let (points, ceiling_pct) = mark_ceiling(points, &grades);
    let Some(model) = Model::fit(&points) else {
        return not_tested(
            NAME,
            "force, grade and speed make no line; ride each grade steadily at the same gear",
        );
    };
    let response_s = bench.response(&commands);
    Ok(report(&points, model, ceiling_pct, response_s))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::{Feeds, Load};
    use crate::examinations::WindFactor;
    use crate::examinations::road::Road;
    use crate::examinations::synthetic::{Noise, Session};
    use crate::stats::intervals::interval_95;

    /// Grades in steps of 2 % at two speeds, 40 s each; the force stops rising at `ceiling`.
    fn climb(seed: u64, factor: WindFactor, ceiling: f64) -> Session {
        let mut noise = Noise::new(seed);
        let grades = [0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0];
        let speeds = [4.0, 9.0];
        let place = |t: f64| {
            let stretch = (t / 40.0) as usize;
            (grades[stretch % 7], speeds[(stretch / 7).min(1)])
        };
        let power = |t: f64| {
            let (grade_pct, speed) = place(t);
            Road {
                mass_kg: 82.0,
                grade: f64::min(grade_pct, ceiling) / 100.0,
                crr: 0.004,
                cw_kg_per_m: 0.4,
                wind_factor: factor,
                wind_m_per_s: 0.0,
            }
            .power_w(speed)
        };
        let mut session = Session::pair(
            560,
            |t| (power(t) + 0.02 * power(t) * noise.normal(), power(t)),
            |t| (80.0, 3.6 * place(t).1),
        );
        session.step(Feeds::Slope, 0.0, 560.0, 0.0);
        for stretch in 0..14 {
            let (grade_pct, _) = place(40.0 * f64::from(stretch));
            session.command(
                40.0 * f64::from(stretch),
                Load::Slope {
                    grade_pct,
                    wind_m_per_s: 0.0,
                    crr: 0.004,
                    cw_kg_per_m: 0.4,
                },
            );
        }
        session
    }

    #[test]
    fn mass_rolling_and_factor_are_found() {
        let (mut masses, mut factors) = (0, 0);
        for seed in 0..40 {
            let found = slope(&climb(seed, WindFactor::Half, 99.0).given())
                .unwrap()
                .result;
            let [low, high] = found.mass_interval_kg;
            masses += usize::from(low <= 82.0 && 82.0 <= high);
            let factor = interval_95(found.wind_factor.unwrap());
            factors += usize::from(factor[0] <= 0.5 && 0.5 <= factor[1]);
            assert!(
                (found.crr.unwrap().value - 0.004).abs() < 0.003,
                "{found:?}"
            );
            assert_eq!(found.ceiling_pct, None);
        }
        assert!(masses >= 35 && factors >= 35, "{masses} {factors} of 40");
        let found = slope(&climb(1, WindFactor::Half, 99.0).given())
            .unwrap()
            .result;
        assert_eq!(found.wind_factor_reading, Some(WindFactor::Half));
        let found = slope(&climb(1, WindFactor::Whole, 99.0).given())
            .unwrap()
            .result;
        assert_eq!(found.wind_factor_reading, Some(WindFactor::Whole));
    }

    #[test]
    fn a_ceiling_is_found() {
        for seed in 0..20 {
            let found = slope(&climb(seed, WindFactor::Whole, 7.0).given())
                .unwrap()
                .result;
            let ceiling = found.ceiling_pct.unwrap();
            assert!((ceiling - 7.0).abs() < 0.6, "{ceiling}");
            assert!((found.mass_kg.value - 82.0).abs() < 8.0, "{found:?}");
            assert_eq!(found.points.iter().filter(|p| p.beyond_ceiling).count(), 6);
        }
    }

    #[test]
    fn too_few_grades_are_not_tested() {
        assert!(slope(&Session::empty().given()).is_err());
        let mut session = climb(1, WindFactor::Whole, 99.0);
        session.evidence.commands.truncate(2);
        session.evidence.steps[0].to = crate::examinations::synthetic::at(80.0);
        assert!(slope(&session.given()).is_err());
        let mut still = climb(1, WindFactor::Whole, 99.0);
        for stream in &mut still.evidence.streams {
            stream.speed_kmh = units::Series::new();
        }
        assert!(slope(&still.given()).unwrap_err().reason.contains("speed"));
    }
}
