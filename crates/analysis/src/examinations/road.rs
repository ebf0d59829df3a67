//! Forces on a rider on the road, and the mass that a turning flywheel stands for.
//!
//! The factor in front of the commanded wind coefficient is explicit: one sensor protocol defines
//! the coefficient as area × drag coefficient × density, without the half of the drag equation,
//! and devices differ in which they apply.

use super::given::{Flywheel, WindFactor};
use std::f64::consts::TAU;
use units::STANDARD_GRAVITY_M_PER_S2;

/// A road as a slope command describes it, with the mass that the command does not contain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Road {
    /// Mass of rider and bicycle, kg.
    pub mass_kg: f64,
    /// Grade, rise over run.
    pub grade: f64,
    /// Coefficient of rolling resistance.
    pub crr: f64,
    /// Wind coefficient, kg/m.
    pub cw_kg_per_m: f64,
    /// Which factor belongs to it.
    pub wind_factor: WindFactor,
    /// Head wind, m/s.
    pub wind_m_per_s: f64,
}

impl Road {
    /// Force against the rider at a speed, N: climbing, rolling and air.
    pub fn force_n(&self, speed_m_per_s: f64) -> f64 {
        let (sine, cosine) = sine_and_cosine(self.grade);
        let weight = self.mass_kg * STANDARD_GRAVITY_M_PER_S2;
        weight * (sine + self.crr * cosine)
            + self.wind_factor.value() * self.cw_kg_per_m * air(speed_m_per_s, self.wind_m_per_s)
    }

    /// Power to hold a speed, W.
    pub fn power_w(&self, speed_m_per_s: f64) -> f64 {
        self.force_n(speed_m_per_s) * speed_m_per_s
    }
}

/// Sine and cosine of the angle of a grade (rise over run).
pub fn sine_and_cosine(grade: f64) -> (f64, f64) {
    let hypotenuse = 1f64.hypot(grade);
    (grade / hypotenuse, 1.0 / hypotenuse)
}

/// Air speed times its size, m²/s²: a tail wind faster than the rider pushes.
pub fn air(speed_m_per_s: f64, wind_m_per_s: f64) -> f64 {
    let through_air = speed_m_per_s + wind_m_per_s;
    through_air * through_air.abs()
}

impl Flywheel {
    /// Moving mass with the same kinetic energy at every speed, kg: I·ω²/v².
    pub fn equivalent_mass_kg(self) -> f64 {
        let radians_per_metre = TAU * self.revolutions_per_metre;
        self.inertia_kg_m2 * radians_per_metre * radians_per_metre
    }

    /// Moment of inertia that a moving mass amounts to with this ratio, kg·m².
    pub fn inertia_of(mass_kg: f64, revolutions_per_metre: f64) -> f64 {
        let radians_per_metre = TAU * revolutions_per_metre;
        mass_kg / (radians_per_metre * radians_per_metre)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, expected: f64, tolerance: f64) {
        assert!(
            (found - expected).abs() <= tolerance,
            "{found} is not {expected}"
        );
    }

    /// Martin et al. 1998, Journal of Applied Biomechanics 14:276, worked example of Appendix I,
    /// as a public unit test transcribes it. Density 1.2234 kg/m³ and g = 9.81 m/s² are from
    /// memory; they reproduce the printed figures.
    #[test]
    fn worked_example_of_martin() {
        let (mass, speed, grade) = (90.0, 8.36, 0.003);
        let to_radians = std::f64::consts::PI / 180.0;
        let air_speed = speed + 2.94 * ((310.0f64 - 340.0) * to_radians).cos();
        let area = 0.9 * 0.285 + 0.0044;
        close(
            0.5 * 1.2234 * area * air(speed, air_speed - speed) * speed,
            158.8,
            0.15,
        );
        let (sine, cosine) = sine_and_cosine(grade);
        let rolling = speed * cosine * 0.0032 * mass * 9.81;
        close(rolling, 23.6, 0.05);
        let climbing = speed * mass * 9.81 * sine;
        close(climbing, 22.1, 0.05);
        let bearings = speed * (91.0 + 8.7 * speed) * 1e-3;
        close(bearings, 1.4, 0.05);
        let wheels = Flywheel {
            inertia_kg_m2: 0.14,
            revolutions_per_metre: 1.0 / (TAU * 0.311),
        };
        close(wheels.equivalent_mass_kg(), 1.447462, 1e-6);
        let kinetic =
            0.5 * (mass + wheels.equivalent_mass_kg()) * (8.45f64.powi(2) - 8.28f64.powi(2))
                / (100.0 - 43.58);
        close(kinetic, 2.3, 0.05);
        let total = (158.6934 + rolling + bearings + climbing + kinetic) / 0.976;
        close(total, 213.3, 0.1);
    }

    /// Cases computed independently for the project's check list, both readings of the factor.
    #[test]
    fn force_of_a_slope_command() {
        let road = |mass_kg, grade, crr, cw_kg_per_m, wind_m_per_s, wind_factor| Road {
            mass_kg,
            grade,
            crr,
            cw_kg_per_m,
            wind_factor,
            wind_m_per_s,
        };
        let whole = WindFactor::Whole;
        close(
            road(80.0, 0.05, 0.004, 0.255, 0.0, whole).force_n(5.0),
            48.686871,
            1e-6,
        );
        close(
            road(80.0, 0.05, 0.004, 0.255, 0.0, whole).power_w(5.0),
            243.434356,
            1e-6,
        );
        close(
            road(80.0, -0.03, 0.004, 0.255, 0.0, whole).power_w(12.0),
            195.976090,
            1e-6,
        );
        close(
            road(80.0, 0.0, 0.0033, 0.25, 3.0, whole).power_w(10.0),
            448.389556,
            1e-6,
        );
        close(
            road(75.0, 0.0, 0.004, 0.51, 0.0, whole).power_w(10.0),
            539.419950,
            1e-6,
        );
        close(
            road(75.0, 0.0, 0.004, 0.51, 0.0, WindFactor::Half).power_w(10.0),
            284.419950,
            1e-6,
        );
    }

    /// OpenStax College Physics, "Calculating Helicopter Energies": four blades of 50 kg and 4 m
    /// at 300 r/min: 1067 kg·m², 5.26·10⁵ J. Ratio 0.380 and height 53.7 m are from memory. The
    /// flywheel of 0.05 kg·m² at 3000 r/min and 10 m/s was computed for the check list.
    #[test]
    fn energy_of_rotation() {
        let inertia = 4.0 / 3.0 * 50.0 * 4.0 * 4.0;
        close(inertia, 1067.0, 0.5);
        let speed = 300.0 * TAU / 60.0;
        close(0.5 * inertia * speed * speed, 5.26e5, 500.0);
        close(
            0.5 * 1000.0 * 400.0 / (0.5 * inertia * speed * speed),
            0.380,
            5e-4,
        );
        close(0.5 * inertia * speed * speed / (1000.0 * 9.8), 53.7, 0.05);
        let flywheel = Flywheel {
            inertia_kg_m2: 0.05,
            revolutions_per_metre: 50.0 / 10.0,
        };
        close(flywheel.equivalent_mass_kg(), 49.348022, 1e-6);
        close(
            0.5 * flywheel.equivalent_mass_kg() * 100.0,
            2467.401100,
            1e-6,
        );
        close(Flywheel::inertia_of(49.348022, 5.0), 0.05, 1e-9);
    }
}
