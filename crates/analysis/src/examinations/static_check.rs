//! Static check of a reference with weights of known mass at a crank of known length.
//!
//! Numbers are entered by hand with their uncertainties; nothing comes from a session.

use super::words;
use crate::outcome::{Estimate, Ink, Outcome, Tested, not_tested};
use crate::stats::intervals::{excludes, interval_95};
use crate::stats::least_squares::{LeastSquares, least_squares};

/// Name of the examination.
pub const NAME: &str = "static check";

/// A static check as entered.
#[derive(Clone, Debug, PartialEq)]
pub struct StaticCheck {
    /// Readings, in the order they were taken.
    pub readings: Vec<StaticReading>,
    /// Relative standard uncertainty of the masses.
    pub u_mass_rel: f64,
    /// Standard uncertainty of the arm, m.
    pub u_arm_m: f64,
    /// Largest departure of the arm from level, degrees.
    pub level_deg: f64,
    /// Local acceleration of free fall, m/s².
    pub gravity_m_per_s2: Estimate,
    /// Day of the check, days since 1970-01-01.
    pub day: i64,
    /// Days until the check is due again.
    pub valid_days: i64,
}

/// One reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StaticReading {
    /// Which side.
    pub side: Side,
    /// Mass hung, kg.
    pub mass_kg: f64,
    /// Arm, m.
    pub arm_m: f64,
    /// Torque shown, N·m.
    pub shown_nm: f64,
    /// Whether the mass was reached by adding or by taking off.
    pub direction: Direction,
}

/// Side of the crank.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Side {
    /// Left.
    Left,
    /// Right.
    Right,
}

/// How a load was reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Weights were added.
    Adding,
    /// Weights were taken off.
    TakingOff,
}

/// What a static check shows.
#[derive(Clone, Debug, PartialEq)]
pub struct StaticFindings {
    /// Shown over applied torque, both sides together.
    pub slope: Estimate,
    /// 95 % interval of the slope.
    pub slope_interval: [f64; 2],
    /// Shown at no load, N·m.
    pub intercept_nm: Estimate,
    /// Per side: slope.
    pub sides: Vec<(Side, Estimate)>,
    /// Largest difference between taking off and adding at one load, N·m.
    pub hysteresis_nm: Option<f64>,
    /// Worst residual of the line, N·m.
    pub worst_residual_nm: f64,
    /// Terms of the uncertainty of the slope: name and relative standard uncertainty in %.
    pub terms: Vec<(&'static str, f64)>,
    /// Day on which the check is due again, days since 1970-01-01.
    pub due_day: i64,
}

/// Fewest readings and fewest different loads.
const LEAST_READINGS: usize = 5;
const LEAST_LOADS: usize = 3;

impl StaticReading {
    /// Torque that the mass applies with a level arm, N·m.
    pub fn applied_nm(&self, gravity_m_per_s2: f64) -> f64 {
        self.mass_kg * gravity_m_per_s2 * self.arm_m
    }
}

/// Normal gravity at sea level by the formula of the Geodetic Reference System 1980, m/s². The
/// constants are from memory; the uncertainty of a local value is the caller's.
pub fn normal_gravity(latitude_deg: f64) -> f64 {
    let sine = latitude_deg.to_radians().sin().powi(2);
    9.780_326_771_5 * (1.0 + 0.001_931_851_353 * sine) / (1.0 - 0.006_694_380_022_9 * sine).sqrt()
}

/// Evaluates a static check: slope and intercept of shown against applied torque.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to hang.
pub fn static_check(check: &StaticCheck) -> Outcome<StaticFindings> {
    let gravity = check.gravity_m_per_s2;
    let usable: Vec<&StaticReading> = check
        .readings
        .iter()
        .filter(|r| {
            r.mass_kg >= 0.0
                && r.arm_m > 0.0
                && r.arm_m.is_finite()
                && r.mass_kg.is_finite()
                && r.shown_nm.is_finite()
        })
        .collect();
    let applied: Vec<f64> = usable.iter().map(|r| r.applied_nm(gravity.value)).collect();
    let mut loads: Vec<f64> = applied.clone();
    loads.sort_by(f64::total_cmp);
    loads.dedup_by(|a, b| (*a - *b).abs() < 0.05);
    if !(gravity.value > 9.7 && gravity.value < 9.9) {
        return not_tested(
            NAME,
            "the acceleration of free fall must be given in m/s², about 9.8",
        );
    }
    if usable.len() < LEAST_READINGS || loads.len() < LEAST_LOADS {
        return not_tested(
            NAME,
            format!(
                "{} readings at {} loads; hang at least five loads, up and down, on both sides",
                usable.len(),
                loads.len()
            ),
        );
    }
    let shown: Vec<f64> = usable.iter().map(|r| r.shown_nm).collect();
    let Some(line) = line(&applied, &shown) else {
        return not_tested(NAME, "the loads make no line; check masses and arm");
    };
    let (slope, terms) = slope(check, &usable, &line);
    let sides: Vec<(Side, Estimate)> = [Side::Left, Side::Right]
        .into_iter()
        .filter_map(|side| {
            let of = |values: &[f64]| -> Vec<f64> {
                values
                    .iter()
                    .zip(&usable)
                    .filter(|(_, r)| r.side == side)
                    .map(|(value, _)| *value)
                    .collect()
            };
            let fit = self::line(&of(&applied), &of(&shown))?;
            let dof = fit.dof as f64;
            Some((
                side,
                Estimate {
                    value: fit.coefficients[1],
                    u: fit.sd(1),
                    dof,
                },
            ))
        })
        .collect();
    let hysteresis_nm = hysteresis(&usable, &applied);
    let worst = line
        .residuals
        .iter()
        .fold(0.0, |worst: f64, r| worst.max(r.abs()));
    let slope_interval = interval_95(slope);
    let due_day = check.day.saturating_add(check.valid_days);
    let off = words::signed(100.0 * (slope.value - 1.0), 2);
    let interval = words::interval(slope_interval.map(|s| 100.0 * (s - 1.0)), 2, "%");
    let sentence = if excludes(slope_interval, 1.0) {
        format!("The reference's scale is off by {off} % ({interval}); due again on day {due_day}.")
    } else {
        format!(
            "No error of the reference's scale is shown: {off} % ({interval}); due again on day \
             {due_day}."
        )
    };
    let residuals = |direction: Direction| -> Vec<[f64; 2]> {
        applied
            .iter()
            .zip(&line.residuals)
            .zip(&usable)
            .filter(|(_, r)| r.direction == direction)
            .map(|((applied, residual), _)| [*applied, *residual])
            .collect()
    };
    let plots = vec![words::plot(
        "static-check",
        "Residuals of the static check",
        ["applied torque, N·m", "shown minus line, N·m"],
        vec![
            words::level(Ink::Fit, "line", 0.0),
            words::points(Ink::Reference, "adding", residuals(Direction::Adding)),
            words::points(
                Ink::SecondReference,
                "taking off",
                residuals(Direction::TakingOff),
            ),
        ],
        format!("{} readings at {} loads", usable.len(), loads.len()),
    )];
    let result = StaticFindings {
        slope,
        slope_interval,
        intercept_nm: Estimate {
            value: line.coefficients[0],
            u: line.sd(0),
            dof: line.dof as f64,
        },
        sides,
        hysteresis_nm,
        worst_residual_nm: worst,
        terms,
        due_day,
    };
    Ok(Tested {
        result,
        sentence,
        plots,
    })
}

fn line(applied: &[f64], shown: &[f64]) -> Option<LeastSquares> {
    least_squares(&[vec![1.0; applied.len()], applied.to_vec()], shown, None)
        .filter(|fit| fit.dof > 0)
}

/// Slope with its budget. The arm is longest when level: an arm off by an angle applies the
/// cosine of it, so the departure only lowers the torque; half of it is taken off and as much is
/// left as the half-width of a rectangular distribution.
fn slope(
    check: &StaticCheck,
    usable: &[&StaticReading],
    line: &LeastSquares,
) -> (Estimate, Vec<(&'static str, f64)>) {
    let arm = usable.iter().map(|r| r.arm_m).sum::<f64>() / usable.len() as f64;
    let half = 0.5 * (1.0 - check.level_deg.to_radians().cos());
    let raw = line.coefficients[1];
    let value = raw / (1.0 - half);
    let repeat = line.sd(1) / raw.abs().max(1e-9);
    let terms = vec![
        ("mass", 100.0 * check.u_mass_rel.abs()),
        ("arm", 100.0 * check.u_arm_m.abs() / arm),
        ("level of the arm", 100.0 * half / 3f64.sqrt()),
        (
            "free fall",
            100.0 * check.gravity_m_per_s2.u / check.gravity_m_per_s2.value,
        ),
        ("repeats and line", 100.0 * repeat),
    ];
    let relative = terms
        .iter()
        .map(|(_, pct)| (pct / 100.0).powi(2))
        .sum::<f64>()
        .sqrt();
    // Only the scatter has few degrees of freedom (Welch and Satterthwaite).
    let dof = if repeat > 0.0 {
        line.dof as f64 * (relative / repeat).powi(4)
    } else {
        f64::MAX
    };
    (
        Estimate {
            value,
            u: relative * value.abs(),
            dof: dof.min(f64::MAX),
        },
        terms,
    )
}

/// Largest difference of what is shown at one load of one side, taking off against adding.
fn hysteresis(usable: &[&StaticReading], applied: &[f64]) -> Option<f64> {
    let mean = |side: Side, direction: Direction, load: f64| {
        let here: Vec<f64> = usable
            .iter()
            .zip(applied)
            .filter(|(r, a)| r.side == side && r.direction == direction && (*a - load).abs() < 0.05)
            .map(|(r, _)| r.shown_nm)
            .collect();
        (!here.is_empty()).then(|| here.iter().sum::<f64>() / here.len() as f64)
    };
    usable
        .iter()
        .zip(applied)
        .filter_map(|(r, load)| {
            let adding = mean(r.side, Direction::Adding, *load)?;
            Some(mean(r.side, Direction::TakingOff, *load)? - adding)
        })
        .max_by(|a, b| a.abs().total_cmp(&b.abs()))
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::Noise;
    use super::*;
    use units::STANDARD_GRAVITY_M_PER_S2;

    fn check(seed: u64, scale: f64, hysteresis: f64) -> StaticCheck {
        let mut noise = Noise::new(seed);
        let mut readings = Vec::new();
        for _ in 0..3 {
            for side in [Side::Left, Side::Right] {
                for (direction, extra) in
                    [(Direction::Adding, 0.0), (Direction::TakingOff, hysteresis)]
                {
                    for mass_kg in [2.0, 5.0, 10.0, 15.0, 20.0] {
                        let applied = mass_kg * STANDARD_GRAVITY_M_PER_S2 * 0.1725;
                        readings.push(StaticReading {
                            side,
                            mass_kg,
                            arm_m: 0.1725,
                            shown_nm: scale * applied + extra + 0.03 * noise.normal(),
                            direction,
                        });
                    }
                }
            }
        }
        StaticCheck {
            readings,
            u_mass_rel: 0.0005,
            u_arm_m: 0.0003,
            level_deg: 2.0,
            gravity_m_per_s2: Estimate {
                value: STANDARD_GRAVITY_M_PER_S2,
                u: 0.001 * STANDARD_GRAVITY_M_PER_S2,
                dof: f64::MAX,
            },
            day: 20_000,
            valid_days: 182,
        }
    }

    /// Torque of hung masses with standard gravity (9.80665 m/s², 3rd CGPM 1901).
    #[test]
    fn torque_of_a_mass() {
        for (mass_kg, arm_m, torque) in [
            (1.0, 1.0, 9.80665),
            (20.0, 0.1725, 33.8329425),
            (10.0, 0.1725, 16.91647125),
            (25.0, 0.170, 41.6782625),
        ] {
            let reading = StaticReading {
                side: Side::Left,
                mass_kg,
                arm_m,
                shown_nm: 0.0,
                direction: Direction::Adding,
            };
            assert!((reading.applied_nm(STANDARD_GRAVITY_M_PER_S2) - torque).abs() < 1e-9);
        }
    }

    /// Normal gravity of GRS80 (constants from memory): equator, 45°, 51.5°, 60°, pole.
    #[test]
    fn gravity_differs_from_place_to_place() {
        for (latitude, gravity) in [
            (0.0, 9.78033),
            (45.0, 9.80620),
            (51.5, 9.81204),
            (60.0, 9.81918),
            (90.0, 9.83219),
        ] {
            assert!((normal_gravity(latitude) - gravity).abs() < 6e-6);
        }
    }

    #[test]
    fn a_scale_error_is_found_and_none_not_claimed() {
        let mut covered = 0;
        for seed in 0..40 {
            let found = static_check(&check(seed, 0.985, 0.0)).unwrap().result;
            // The true arm is level here; half of the possible departure was allowed for.
            covered += usize::from(!excludes(found.slope_interval, 0.985));
            assert!(excludes(found.slope_interval, 1.0));
            assert!((100.0 * found.slope.u - 0.21).abs() < 0.03, "{found:?}");
            assert_eq!(found.due_day, 20_182);
            let sound = static_check(&check(seed, 1.0, 0.0)).unwrap().result;
            assert!(!excludes(sound.slope_interval, 1.0));
        }
        assert!(covered >= 38, "{covered} of 40");
    }

    #[test]
    fn hysteresis_is_found() {
        let found = static_check(&check(3, 1.0, 0.2)).unwrap().result;
        assert!((found.hysteresis_nm.unwrap() - 0.2).abs() < 0.08);
        assert_eq!(found.sides.len(), 2);
    }

    #[test]
    fn too_little_was_hung() {
        let mut few = check(1, 1.0, 0.0);
        few.readings.truncate(4);
        assert!(static_check(&few).is_err());
        let mut same = check(1, 1.0, 0.0);
        for reading in &mut same.readings {
            reading.mass_kg = 5.0;
        }
        assert!(static_check(&same).is_err());
        let mut odd = check(1, 1.0, 0.0);
        odd.gravity_m_per_s2.value = 0.0;
        assert!(static_check(&odd).is_err());
    }
}
