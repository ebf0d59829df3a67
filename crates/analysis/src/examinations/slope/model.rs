//! The mass, rolling and drag that the forces of all stretches show, and the grade beyond which the
//! force rises no more.

use super::stretches::{Commanded, SlopePoint};
use crate::examinations::road::{air, sine_and_cosine};
use crate::outcome::Estimate;
use crate::stats::least_squares::{LeastSquares, least_squares};
use units::STANDARD_GRAVITY_M_PER_S2;

/// A point this far below the line of the gentler grades (share of the force) is beyond the
/// ceiling if its uncertainty allows.
const CEILING_SHARE: f64 = 0.04;

/// Force = mass·g·sine + rolling·cosine + drag·(air speed)²; the last only where speed varied.
pub(super) struct Model {
    pub(super) fit: LeastSquares,
    pub(super) has_drag: bool,
}

impl Model {
    pub(super) fn fit(points: &[(Commanded, SlopePoint)]) -> Option<Self> {
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

    pub(super) fn climbing_n(&self, grade_pct: f64) -> f64 {
        self.mass_kg() * STANDARD_GRAVITY_M_PER_S2 * sine_and_cosine(grade_pct / 100.0).0
    }

    pub(super) fn force(&self, command: &Commanded, point: &SlopePoint) -> f64 {
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

    pub(super) fn estimate(&self, index: usize) -> Estimate {
        Estimate {
            value: self.fit.coefficients[index],
            u: (self.fit.inverse[index][index] * self.fit.variance().max(1.0)).sqrt(),
            dof: self.fit.dof as f64,
        }
    }
}

type Points = Vec<(Commanded, SlopePoint)>;

/// Marks the points whose grade lies beyond the gentlest grade from which on every point falls
/// short of the line through the gentler ones. The ceiling is where that line reaches the mean
/// force of the points beyond.
pub(super) fn mark_ceiling(mut points: Points, grades: &[f64]) -> (Points, Option<f64>) {
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
