//! Slope simulation: force against the sine of the grade.

use super::bins::Paired;
use super::given::WindFactor;
use super::integral::{Integral, secs};
use super::prepared::Prepared;
use super::road::{air, sine_and_cosine};
use super::{not_tested, words};
use crate::evidence::{Feeds, Load};
use crate::outcome::{Estimate, Ink, NotTested, Outcome, Plot, Tested};
use crate::stats::intervals::interval_95;
use crate::stats::least_squares::{LeastSquares, least_squares};
use crate::stats::order::exceeds;
use crate::stats::step_shape::StepResponse;
use crate::stats::two_samples::Summary;
use units::STANDARD_GRAVITY_M_PER_S2;

/// Name of the examination.
pub const NAME: &str = "slope simulation";

/// What the device makes of a commanded slope.
#[derive(Clone, Debug, PartialEq)]
pub struct Slope {
    /// Mass that the device simulates, kg. The command does not contain it.
    pub mass_kg: Estimate,
    /// 95 % interval of the mass.
    pub mass_interval_kg: [f64; 2],
    /// Rolling force found, N.
    pub rolling_n: Option<Estimate>,
    /// Coefficient of rolling resistance found with that mass.
    pub crr: Option<Estimate>,
    /// Coefficient of rolling resistance commanded.
    pub commanded_crr: f64,
    /// Force over speed squared found, kg/m.
    pub drag_kg_per_m: Option<Estimate>,
    /// Wind coefficient commanded, kg/m.
    pub commanded_cw_kg_per_m: f64,
    /// Factor by which the device applies the commanded coefficient: found over commanded.
    pub wind_factor: Option<Estimate>,
    /// The usual reading of the coefficient that the factor fits, if only one does.
    pub wind_factor_reading: Option<WindFactor>,
    /// Grade beyond which the force rose no more, %, if it was reached.
    pub ceiling_pct: Option<f64>,
    /// Time from the command to 63 % of the change of force, s.
    pub response_s: Option<Estimate>,
    /// The points.
    pub points: Vec<SlopePoint>,
}

/// One steady stretch at one grade.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlopePoint {
    /// Commanded grade, %.
    pub grade_pct: f64,
    /// Speed, m/s.
    pub speed_m_per_s: f64,
    /// Force at the road, flywheel energy taken out, N.
    pub force_n: f64,
    /// Its standard uncertainty, N.
    pub u_n: f64,
    /// Whether the point lies beyond the ceiling and was left out of the fit.
    pub beyond_ceiling: bool,
}

/// Time after a command that is left to settle, and the shortest stretch after that, s.
const SETTLE_S: f64 = 8.0;
const LEAST_S: f64 = 10.0;
/// Fewest stretches and fewest different grades.
const LEAST_POINTS: usize = 4;
const LEAST_GRADES: usize = 3;
/// Slowest speed at which force is power over speed, m/s.
const LEAST_SPEED: f64 = 1.0;
/// A point this far below the line of the gentler grades (share of the force) is beyond the
/// ceiling if its uncertainty allows.
const CEILING_SHARE: f64 = 0.04;

/// One command with what it asked for.
#[derive(Clone, Copy)]
struct Commanded {
    from_s: f64,
    to_s: f64,
    grade_pct: f64,
    wind_m_per_s: f64,
    crr: f64,
    cw_kg_per_m: f64,
}

/// Examines the slope simulation: force at the road against the sine of the grade.
///
/// # Errors
/// [`NotTested`] with what to ride.
pub fn slope(given: &Prepared<'_>) -> Outcome<Slope> {
    let bench = Bench::new(given)?;
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

/// Slope commands in steps ridden for them, each until the next command or the end of the step.
fn commands(given: &Prepared<'_>) -> Vec<Commanded> {
    let all = &given.evidence.commands;
    let spans: Vec<[f64; 2]> = given
        .steps(Feeds::Slope)
        .map(|(_, step)| [secs(step.from), secs(step.to)])
        .collect();
    let end_of_recording = secs(given.evidence.end);
    let mut found: Vec<Commanded> = Vec::new();
    for (index, command) in all.iter().enumerate() {
        let Load::Slope {
            grade_pct,
            wind_m_per_s,
            crr,
            cw_kg_per_m,
        } = command.load
        else {
            continue;
        };
        let from_s = secs(command.at);
        let next_s = all
            .get(index + 1)
            .map_or(end_of_recording, |next| secs(next.at));
        let step = spans
            .iter()
            .find(|span| span[0] - 1.0 <= from_s && from_s < span[1]);
        let to_s = match step {
            Some(span) => next_s.min(span[1]),
            None if given.evidence.steps.is_empty() => next_s,
            None => continue,
        };
        if let Some(last) = found.last_mut()
            && last.grade_pct == grade_pct
            && (last.to_s - from_s).abs() < 1e-6
        {
            last.to_s = to_s;
            continue;
        }
        found.push(Commanded {
            from_s,
            to_s,
            grade_pct,
            wind_m_per_s,
            crr,
            cw_kg_per_m,
        });
    }
    found
}

/// Power at the hub by the reference, and speed.
struct Bench<'p> {
    paired: Paired<'p>,
    speed_kmh: &'p Integral,
    efficiency: Estimate,
    stored_kg: f64,
}

impl<'p> Bench<'p> {
    fn new(given: &'p Prepared<'_>) -> Result<Self, NotTested> {
        let paired = Paired::new(given, NAME)?;
        let (under_test, reference) = (given.under_test(NAME)?, given.reference(NAME)?);
        let Some(speed_kmh) = given.speed() else {
            return Err(NotTested {
                examination: NAME,
                reason: "no speed was received; use a device that reports it or add a speed \
                         sensor"
                    .into(),
            });
        };
        Ok(Self {
            paired,
            speed_kmh,
            efficiency: given.efficiency_between(reference.stream.place, under_test.stream.place),
            stored_kg: given.bench.flywheel.map_or(0.0, |f| f.equivalent_mass_kg()),
        })
    }

    fn speed(&self, from_s: f64, to_s: f64) -> Option<f64> {
        Some(self.speed_kmh.mean(from_s, to_s, 0.8)? / 3.6)
    }

    fn point(&self, command: &Commanded) -> Option<SlopePoint> {
        let (from_s, to_s) = (command.from_s + SETTLE_S, command.to_s);
        if to_s - from_s < LEAST_S {
            return None;
        }
        let forces: Vec<f64> = self
            .paired
            .bins(from_s, to_s, 2.0)
            .iter()
            .filter_map(|bin| {
                let speed = self.speed(bin.from_s, bin.to_s)?;
                (speed > LEAST_SPEED).then(|| self.efficiency.value * bin.reference_w / speed)
            })
            .collect();
        let summary = Summary::of(&forces)?;
        let speed_m_per_s = self.speed(from_s, to_s)?;
        // What went into or came out of the flywheel between the two ends.
        let ends = [
            self.speed(from_s - 1.0, from_s + 1.0)?,
            self.speed(to_s - 2.0, to_s)?,
        ];
        let acceleration = (ends[1] - ends[0]) / (to_s - from_s);
        let force_n = summary.mean - self.stored_kg * acceleration;
        let scatter = summary.variance / summary.n * 2.0;
        let drivetrain = summary.mean * self.efficiency.u / self.efficiency.value;
        Some(SlopePoint {
            grade_pct: command.grade_pct,
            speed_m_per_s,
            force_n,
            // Without a stated flywheel its share stays unknown; ten kilograms are plausible.
            u_n: (scatter + drivetrain * drivetrain + (10.0 * acceleration).powi(2))
                .sqrt()
                .max(0.05),
            beyond_ceiling: false,
        })
    }

    /// Time to 63 % of the change of force, over all changes of grade.
    fn response(&self, commands: &[Commanded]) -> Option<Estimate> {
        let times: Vec<f64> = commands
            .windows(2)
            .filter(|pair| {
                (pair[1].grade_pct - pair[0].grade_pct).abs() >= 1.0
                    && (pair[0].to_s - pair[1].from_s).abs() < 0.5
                    && pair[1].to_s - pair[1].from_s >= 20.0
                    && pair[0].to_s - pair[0].from_s >= 10.0
            })
            .filter_map(|pair| self.time_of_change(pair[1].from_s))
            .collect();
        let s = Summary::of(&times)?;
        Some(Estimate {
            value: s.mean,
            u: (s.variance / s.n).sqrt(),
            dof: s.n - 1.0,
        })
    }

    fn time_of_change(&self, at_s: f64) -> Option<f64> {
        let force = |from_s: f64, to_s: f64| {
            let speed = self
                .speed(from_s, to_s)
                .filter(|speed| *speed > LEAST_SPEED)?;
            Some(self.paired.reference.mean(from_s, to_s, 0.8)? / speed)
        };
        let before = force(at_s - 8.0, at_s)?;
        let after = force(at_s + 12.0, at_s + 20.0)?;
        if !exceeds((after - before).abs(), 3.0) {
            return None;
        }
        let t: Vec<f64> = (0..40).map(|i| 0.5 * f64::from(i)).collect();
        let y: Vec<f64> = t
            .iter()
            .map(|t| {
                let now = force(at_s + t - 1.0, at_s + t + 1.0)?;
                Some((now - before) / (after - before))
            })
            .collect::<Option<_>>()?;
        StepResponse { t: &t, y: &y }.crossing(1.0 - (-1f64).exp())
    }
}

type Points = Vec<(Commanded, SlopePoint)>;

/// Marks the points whose grade lies beyond the gentlest grade from which on every point falls
/// short of the line through the gentler ones. The ceiling is where that line reaches the mean
/// force of the points beyond.
fn mark_ceiling(mut points: Points, grades: &[f64]) -> (Points, Option<f64>) {
    for first_steep in grades.iter().skip(3) {
        let gentle: Points = points
            .iter()
            .filter(|(_, p)| p.grade_pct < first_steep - 0.05)
            .copied()
            .collect();
        let Some(model) = Model::fit(&gentle) else {
            continue;
        };
        let steep = |p: &SlopePoint| p.grade_pct >= first_steep - 0.05;
        let short = points.iter().filter(|(_, p)| steep(p)).all(|(command, p)| {
            let line = model.force(command, p);
            line - p.force_n > (4.0 * p.u_n.hypot(model.scatter_n())).max(CEILING_SHARE * line)
        });
        if !short {
            continue;
        }
        // Drag differs from speed to speed, so every point gives a sine of its own.
        let sines: Vec<f64> = points
            .iter()
            .filter(|(_, p)| steep(p))
            .map(|(command, p)| {
                let rest = model.force(command, p) - model.climbing_n(p.grade_pct);
                (p.force_n - rest) / (model.mass_kg() * STANDARD_GRAVITY_M_PER_S2)
            })
            .collect();
        let sine = (sines.iter().sum::<f64>() / sines.len().max(1) as f64).clamp(-0.99, 0.99);
        for (_, point) in &mut points {
            point.beyond_ceiling = steep(point);
        }
        return (points, Some(100.0 * sine / (1.0 - sine * sine).sqrt()));
    }
    (points, None)
}

/// Force = mass·g·sine + rolling·cosine + drag·(air speed)²; the last only where speed varied.
struct Model {
    fit: LeastSquares,
    has_drag: bool,
}

impl Model {
    fn fit(points: &[(Commanded, SlopePoint)]) -> Option<Self> {
        let kept: Vec<&(Commanded, SlopePoint)> = points
            .iter()
            .filter(|(_, point)| !point.beyond_ceiling)
            .collect();
        let sines = kept
            .iter()
            .map(|(_, p)| STANDARD_GRAVITY_M_PER_S2 * sine_and_cosine(p.grade_pct / 100.0).0)
            .collect();
        let cosines = kept
            .iter()
            .map(|(_, p)| sine_and_cosine(p.grade_pct / 100.0).1)
            .collect();
        let airs: Vec<f64> = kept
            .iter()
            .map(|(c, p)| air(p.speed_m_per_s, c.wind_m_per_s))
            .collect();
        let forces: Vec<f64> = kept.iter().map(|(_, p)| p.force_n).collect();
        let weights: Vec<f64> = kept.iter().map(|(_, p)| 1.0 / (p.u_n * p.u_n)).collect();
        let span = airs.iter().copied().fold(f64::MIN, f64::max)
            - airs.iter().copied().fold(f64::MAX, f64::min);
        let mean = airs.iter().sum::<f64>() / airs.len().max(1) as f64;
        let has_drag = kept.len() >= 5 && span > 0.5 * mean.abs() && span > 5.0;
        let mut columns: Vec<Vec<f64>> = vec![sines, cosines];
        if has_drag {
            columns.push(airs);
        }
        let fit = least_squares(&columns, &forces, Some(&weights))?;
        (fit.dof > 0).then_some(Self { fit, has_drag })
    }

    fn mass_kg(&self) -> f64 {
        self.fit.coefficients[0]
    }

    fn climbing_n(&self, grade_pct: f64) -> f64 {
        self.mass_kg() * STANDARD_GRAVITY_M_PER_S2 * sine_and_cosine(grade_pct / 100.0).0
    }

    fn force(&self, command: &Commanded, point: &SlopePoint) -> f64 {
        let drag = if self.has_drag {
            self.fit.coefficients[2] * air(point.speed_m_per_s, command.wind_m_per_s)
        } else {
            0.0
        };
        self.climbing_n(point.grade_pct)
            + self.fit.coefficients[1] * sine_and_cosine(point.grade_pct / 100.0).1
            + drag
    }

    fn scatter_n(&self) -> f64 {
        let n = self.fit.residuals.len() as f64;
        (self.fit.residuals.iter().map(|r| r * r).sum::<f64>() / n.max(1.0)).sqrt()
    }

    fn estimate(&self, index: usize) -> Estimate {
        Estimate {
            value: self.fit.coefficients[index],
            u: (self.fit.inverse[index][index] * self.fit.variance().max(1.0)).sqrt(),
            dof: self.fit.dof as f64,
        }
    }
}

fn report(
    points: &[(Commanded, SlopePoint)],
    model: Model,
    ceiling_pct: Option<f64>,
    response_s: Option<Estimate>,
) -> Tested<Slope> {
    let mass_kg = model.estimate(0);
    let mass_interval_kg = interval_95(mass_kg);
    let n = points.len() as f64;
    let mean = |f: fn(&Commanded) -> f64| points.iter().map(|(c, _)| f(c)).sum::<f64>() / n;
    let (commanded_crr, commanded_cw) = (mean(|c| c.crr), mean(|c| c.cw_kg_per_m));
    // Without a drag term the constant part holds rolling and air together and says neither.
    let rolling_n = model.has_drag.then(|| model.estimate(1));
    let drag_kg_per_m = model.has_drag.then(|| model.estimate(2));
    let weight = mass_kg.value * STANDARD_GRAVITY_M_PER_S2;
    let crr = rolling_n.filter(|_| weight > 0.0).map(|rolling| Estimate {
        value: rolling.value / weight,
        u: (rolling.u / weight).hypot(rolling.value * mass_kg.u / (weight * mass_kg.value)),
        dof: rolling.dof,
    });
    let wind_factor = drag_kg_per_m
        .filter(|_| commanded_cw > 0.0)
        .map(|drag| Estimate {
            value: drag.value / commanded_cw,
            u: drag.u / commanded_cw,
            dof: drag.dof,
        });
    let wind_factor_reading = wind_factor.and_then(|found| {
        let [low, high] = interval_95(found);
        let fits = |factor: WindFactor| low <= factor.value() && factor.value() <= high;
        match (fits(WindFactor::Whole), fits(WindFactor::Half)) {
            (true, false) => Some(WindFactor::Whole),
            (false, true) => Some(WindFactor::Half),
            _ => None,
        }
    });
    let mut sentence = format!(
        "The simulated slope behaves like a mass of {:.0} kg ({})",
        mass_kg.value,
        words::interval_of_size(mass_interval_kg, 0, "kg")
    );
    if let Some(factor) = wind_factor {
        let reading = match wind_factor_reading {
            Some(WindFactor::Whole) => " – the coefficient is applied whole",
            Some(WindFactor::Half) => " – the coefficient is applied by half",
            None => "",
        };
        sentence += &format!(
            "; drag is {} times the commanded coefficient{reading}",
            words::plain(factor.value, 2)
        );
    }
    match ceiling_pct {
        Some(ceiling) => sentence += &format!("; beyond {ceiling:.1} % the force rises no more"),
        None => sentence += "; no ceiling was reached",
    }
    let plots = vec![plot_of(points, &model, ceiling_pct)];
    let result = Slope {
        mass_kg,
        mass_interval_kg,
        rolling_n,
        crr,
        commanded_crr,
        drag_kg_per_m,
        commanded_cw_kg_per_m: commanded_cw,
        wind_factor,
        wind_factor_reading,
        ceiling_pct,
        response_s,
        points: points.iter().map(|(_, point)| *point).collect(),
    };
    Tested {
        result,
        sentence: sentence + ".",
        plots,
    }
}

fn plot_of(points: &[(Commanded, SlopePoint)], model: &Model, ceiling: Option<f64>) -> Plot {
    let sine = |p: &SlopePoint| sine_and_cosine(p.grade_pct / 100.0).0;
    // Drag is taken out, so that points of all speeds lie on one line.
    let still = |c: &Commanded, p: &SlopePoint| {
        let drag = model.force(c, p)
            - model.climbing_n(p.grade_pct)
            - model.fit.coefficients[1] * sine_and_cosine(p.grade_pct / 100.0).1;
        p.force_n - drag
    };
    let bars = |beyond: bool| -> Vec<[f64; 4]> {
        points
            .iter()
            .filter(|(_, p)| p.beyond_ceiling == beyond)
            .map(|(c, p)| {
                let force = still(c, p);
                [sine(p), force - 2.0 * p.u_n, force, force + 2.0 * p.u_n]
            })
            .collect()
    };
    let ends = points
        .iter()
        .fold([f64::MAX, f64::MIN], |[low, high], (_, p)| {
            [low.min(p.grade_pct), high.max(p.grade_pct)]
        });
    let line = ends.map(|grade_pct| {
        let (sine, cosine) = sine_and_cosine(grade_pct / 100.0);
        [
            sine,
            model.climbing_n(grade_pct) + model.fit.coefficients[1] * cosine,
        ]
    });
    words::plot(
        "force-by-slope",
        "Force against the sine of the commanded grade",
        ["sine of the grade", "force at the road without drag, N"],
        vec![
            words::line(Ink::Fit, "fitted mass", line.to_vec()),
            words::intervals(Ink::UnderTest, "steady stretches", bars(false)),
            words::intervals(Ink::Beyond, "beyond the ceiling", bars(true)),
        ],
        format!(
            "{} stretches; force by the reference{}",
            points.len(),
            ceiling.map_or(String::new(), |c| format!("; ceiling at {c:.1} %"))
        ),
    )
}

#[cfg(test)]
mod tests {
    use super::super::road::Road;
    use super::super::synthetic::{Noise, Session};
    use super::*;

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
        session.evidence.steps[0].to = super::super::synthetic::at(80.0);
        assert!(slope(&session.given()).is_err());
        let mut still = climb(1, WindFactor::Whole, 99.0);
        for stream in &mut still.evidence.streams {
            stream.speed_kmh = units::Series::new();
        }
        assert!(slope(&still.given()).unwrap_err().reason.contains("speed"));
    }
}
