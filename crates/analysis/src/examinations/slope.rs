//! Slope simulation: force against the sine of the grade.

use super::given::{Given, WindFactor};
use crate::outcome::{Estimate, Outcome};

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

/// Examines the slope simulation.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn slope(_given: &Given<'_>) -> Outcome<Slope> {
    super::not_tested(NAME, "this examination is not written yet")
}
