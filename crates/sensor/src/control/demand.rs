//! What can be asked of a brake, and the bytes that ask it.
//!
//! A demand that a trainer cannot take, or that does not fit its field on the wire, is refused in
//! words here instead of being bent into something nobody asked for.

use crate::fitness_machine::ResistanceWidth;
use crate::fitness_machine::control::Request;
use crate::fitness_machine::simulation::SimulationParameters;
use std::fmt;
use std::ops::RangeInclusive;
use units::{STANDARD_GRAVITY_M_PER_S2, Watts};

/// A lowest target power above this is no release: such a trainer is reset instead. Our own
/// choice; the load of an easy start.
pub const LIGHT_LOAD_W: i16 = 100;

/// The highest level that the one octet of the standard holds, in its steps of 0.1.
const HIGHEST_LEVEL_IN_ONE_OCTET: f64 = 25.5;

/// The target power for which the highest resistance level stands in, W. Our own choice: what a
/// level means in watts depends on the trainer and on the speed of its flywheel.
const HIGHEST_LEVEL_STANDS_FOR_W: f64 = 600.0;
/// The mass, kg, and the speed, m/s, with which a slope stands in for a power: the weight along the
/// slope times the speed. Our own choice, the middle of what trainers assume and riders ride.
const SLOPE_MASS_KG: f64 = 83.0;
const SLOPE_SPEED_M_PER_S: f64 = 8.0;
/// Steepest slope that stands in for a power, %. Our own choice, for the rider's sake.
const STEEPEST_PCT: f64 = 8.0;

/// What the brake is asked to do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Demand {
    /// Hold this power.
    Power(Watts),
    /// A resistance level, in the unit of the control point (unitless).
    ResistanceLevel(f64),
    /// Simulate a slope.
    Slope {
        /// Grade, %.
        grade_pct: f64,
        /// Head wind, m/s.
        wind_m_per_s: f64,
        /// Coefficient of rolling resistance.
        crr: f64,
        /// Wind resistance coefficient, kg/m.
        cw_kg_per_m: f64,
    },
    /// No load.
    Release,
}

impl fmt::Display for Demand {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Power(power) => write!(f, "{power:.0}"),
            Self::ResistanceLevel(level) => write!(f, "resistance {level:.1}"),
            Self::Slope { grade_pct, .. } => write!(f, "slope {grade_pct:.2}\u{a0}%"),
            Self::Release => f.write_str("release"),
        }
    }
}

/// How this trainer is unloaded, chosen from what it says it can do. It also says what the trainer
/// cannot do: target power is preferred, then resistance level, then slope.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ControlMode {
    /// By target power, down to the lowest power it accepts, W.
    Power {
        /// Lowest target power, W.
        lowest_w: i16,
    },
    /// By resistance level, down to the lowest it accepts. It takes no target power: a level
    /// stands in for it.
    Resistance {
        /// Lowest level.
        lowest: f64,
        /// Highest level.
        highest: f64,
    },
    /// By slope: level, without rolling or wind resistance. It takes neither target power nor
    /// resistance level: a slope stands in for the power.
    Slope,
}

/// The two ways to take the load off. If one is refused, the other is tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum ReleaseWay {
    /// The lowest load of the mode.
    Lowest,
    /// The reset that every machine must know; it also ends the control.
    Reset,
}

impl ReleaseWay {
    pub(super) fn other(self) -> Self {
        match self {
            Self::Lowest => Self::Reset,
            Self::Reset => Self::Lowest,
        }
    }
}

/// The request that carries a demand.
///
/// # Errors
/// Why this trainer cannot be asked that, in words.
pub(super) fn request(
    demand: Demand,
    mode: ControlMode,
    way: ReleaseWay,
) -> Result<Request, String> {
    match (demand, mode) {
        (Demand::Power(power), ControlMode::Power { .. }) => {
            fits("power", power.get(), -32_768.0..=32_767.0)?;
            Ok(Request::SetTargetPower {
                power_w: power.get().round() as i16,
            })
        }
        (Demand::Power(power), ControlMode::Resistance { .. } | ControlMode::Slope) => {
            fits("power", power.get(), -32_768.0..=32_767.0)?;
            let instead = stand_in(demand, mode)
                .ok_or_else(|| cannot("a target power", "script a slope for it"))?;
            request(instead, mode, way)
        }
        (Demand::ResistanceLevel(_), ControlMode::Slope) => {
            Err(cannot("a resistance level", "script a slope for it"))
        }
        (Demand::ResistanceLevel(level), _) => {
            fits("resistance level", level, -3276.8..=3276.7)?;
            Ok(resistance(level))
        }
        (
            Demand::Slope {
                grade_pct,
                wind_m_per_s,
                crr,
                cw_kg_per_m,
            },
            _,
        ) => {
            fits("grade", grade_pct, -327.68..=327.67)?;
            fits("wind speed", wind_m_per_s, -32.768..=32.767)?;
            fits("rolling coefficient", crr, 0.0..=0.0255)?;
            fits("wind coefficient", cw_kg_per_m, 0.0..=2.55)?;
            Ok(Request::SetSimulation(SimulationParameters {
                wind_speed_m_per_s: wind_m_per_s,
                grade_pct,
                rolling_coefficient: crr,
                wind_coefficient_kg_per_m: cw_kg_per_m,
            }))
        }
        (Demand::Release, mode) => Ok(match way {
            ReleaseWay::Lowest => lowest_load(mode).unwrap_or(Request::Reset),
            ReleaseWay::Reset => Request::Reset,
        }),
    }
}

/// The demand that stands in for a target power where the trainer takes none. It does not hold that
/// power: what the rider makes of it depends on cadence and gear, and the reference tells.
pub(super) fn stand_in(demand: Demand, mode: ControlMode) -> Option<Demand> {
    let Demand::Power(power) = demand else {
        return None;
    };
    let power_w = power.get().max(0.0);
    match mode {
        ControlMode::Power { .. } => None,
        ControlMode::Resistance { lowest, highest } => {
            let share = (power_w / HIGHEST_LEVEL_STANDS_FOR_W).min(1.0);
            let level = lowest + share * (highest - lowest).max(0.0);
            let steps = (level * 10.0).round();
            steps
                .is_finite()
                .then_some(Demand::ResistanceLevel(steps / 10.0))
        }
        ControlMode::Slope => {
            let force_n = power_w / SLOPE_SPEED_M_PER_S;
            let grade_pct = 100.0 * force_n / (SLOPE_MASS_KG * STANDARD_GRAVITY_M_PER_S2);
            Some(Demand::Slope {
                grade_pct: grade_pct.min(STEEPEST_PCT),
                wind_m_per_s: 0.0,
                crr: 0.0,
                cw_kg_per_m: 0.0,
            })
        }
    }
}

/// The lowest load that the mode offers, if that is as good as none.
fn lowest_load(mode: ControlMode) -> Option<Request> {
    match mode {
        ControlMode::Power { lowest_w } => (lowest_w <= LIGHT_LOAD_W).then(|| {
            let power_w = lowest_w.max(0);
            Request::SetTargetPower { power_w }
        }),
        ControlMode::Resistance { lowest, .. } => lowest.is_finite().then(|| resistance(lowest)),
        ControlMode::Slope => Some(Request::SetSimulation(SimulationParameters::default())),
    }
}

/// By the letter a level has one octet, which ends at 25.5; a level outside goes out in two, which
/// some trainers accept (common practice) and the others refuse.
fn resistance(level: f64) -> Request {
    let one_octet = (0.0..=HIGHEST_LEVEL_IN_ONE_OCTET).contains(&level);
    Request::SetTargetResistance {
        level,
        width: if one_octet {
            ResistanceWidth::OneOctet
        } else {
            ResistanceWidth::TwoOctets
        },
    }
}

fn fits(what: &str, value: f64, range: RangeInclusive<f64>) -> Result<(), String> {
    if range.contains(&value) {
        return Ok(());
    }
    Err(format!(
        "a {what} of {value} does not fit its field, which goes from {} to {}",
        range.start(),
        range.end()
    ))
}

fn cannot(what: &str, remedy: &str) -> String {
    format!(
        "this trainer says that it takes no {what}; {remedy}",
        what = what.trim_start_matches("a ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    const POWER: ControlMode = ControlMode::Power { lowest_w: 0 };
    const RESISTANCE: ControlMode = ControlMode::Resistance {
        lowest: 1.0,
        highest: 25.0,
    };

    fn bytes(demand: Demand, mode: ControlMode) -> Vec<u8> {
        request(demand, mode, ReleaseWay::Lowest).unwrap().encode()
    }

    fn slope(grade_pct: f64, crr: f64) -> Demand {
        Demand::Slope {
            grade_pct,
            wind_m_per_s: 1.0,
            crr,
            cw_kg_per_m: 0.51,
        }
    }

    /// Bytes T3, T4, T6 and T7 of the shared vectors, worked by hand from table 4.16 of the
    /// Fitness Machine Service 1.0.
    #[test]
    fn a_demand_becomes_the_bytes_of_the_standard() {
        assert_eq!(bytes(Demand::Power(Watts(200.4)), POWER), [5, 0xC8, 0]);
        assert_eq!(bytes(Demand::Power(Watts(-50.0)), POWER), [5, 0xCE, 0xFF]);
        assert_eq!(bytes(Demand::ResistanceLevel(5.0), RESISTANCE), [4, 0x32]);
        assert_eq!(
            bytes(slope(4.0, 0.004), ControlMode::Slope),
            [0x11, 0xE8, 0x03, 0x90, 0x01, 0x28, 0x33]
        );
    }

    #[test]
    fn a_level_beyond_one_octet_takes_two_instead_of_becoming_another_level() {
        let level = |level| bytes(Demand::ResistanceLevel(level), POWER);
        assert_eq!(level(25.5), [4, 255]);
        assert_eq!(level(80.0), [4, 0x20, 0x03]);
        assert_eq!(level(-1.0), [4, 0xF6, 0xFF]);
    }

    #[test]
    fn the_way_to_release_follows_the_mode_and_a_heavy_lowest_load_is_none() {
        let release = |mode| bytes(Demand::Release, mode);
        let lowest_w = |lowest_w| ControlMode::Power { lowest_w };
        assert_eq!(release(lowest_w(-100)), [5, 0, 0]);
        assert_eq!(release(lowest_w(50)), [5, 50, 0]);
        assert_eq!(release(lowest_w(400)), [1]);
        assert_eq!(release(RESISTANCE), [4, 10]);
        assert_eq!(
            release(ControlMode::Resistance {
                lowest: f64::NAN,
                highest: 25.0
            }),
            [1]
        );
        assert_eq!(release(ControlMode::Slope), [0x11, 0, 0, 0, 0, 0, 0]);
    }

    /// By hand: 200 of 600 W are a third of the way from level 1 to 25, which is 9.0 or 0x5A steps
    /// of 0.1. And 200 W / 8 m/s = 25 N, over 83 kg · 9.80665 m/s² = 813.95 N, is 3.0714 %, or
    /// 0x0133 steps of 0.01 %.
    #[test]
    fn a_level_or_a_slope_stands_in_for_a_power_that_the_trainer_does_not_take() {
        let power = Demand::Power(Watts(200.0));
        assert_eq!(bytes(power, RESISTANCE), [4, 0x5A]);
        assert_eq!(
            bytes(power, ControlMode::Slope),
            [0x11, 0, 0, 0x33, 0x01, 0, 0]
        );
        let most = Demand::Power(Watts(2000.0));
        assert_eq!(bytes(most, RESISTANCE), [4, 250]);
        assert_eq!(
            bytes(most, ControlMode::Slope),
            [0x11, 0, 0, 0x20, 0x03, 0, 0]
        );
        assert_eq!(bytes(Demand::Power(Watts(-5.0)), RESISTANCE), [4, 10]);
        assert_eq!(stand_in(power, POWER), None);
    }

    #[test]
    fn what_a_trainer_cannot_take_is_refused_in_words() {
        let refused = |demand, mode| request(demand, mode, ReleaseWay::Lowest).unwrap_err();
        let cases = [
            (Demand::Power(Watts(f64::NAN)), RESISTANCE, "does not fit"),
            (
                Demand::Power(Watts(f64::NAN)),
                ControlMode::Slope,
                "does not fit",
            ),
            (
                Demand::ResistanceLevel(3.0),
                ControlMode::Slope,
                "takes no resistance level",
            ),
            (Demand::Power(Watts(f64::NAN)), POWER, "does not fit"),
            (Demand::Power(Watts(40_000.0)), POWER, "does not fit"),
            (
                Demand::ResistanceLevel(f64::INFINITY),
                POWER,
                "does not fit",
            ),
            (slope(400.0, 0.004), POWER, "grade"),
            (slope(4.0, 0.4), POWER, "rolling coefficient"),
        ];
        for (demand, mode, part) in cases {
            let words = refused(demand, mode);
            assert!(words.contains(part), "{words}");
        }
    }
}
