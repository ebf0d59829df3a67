//! What the brake is asked to do and what the rider is asked to do.

use std::fmt;
use units::{MetresPerSecond, RevPerMin, Watts};

/// What the brake is asked to do now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Target {
    /// Hold this power whatever the cadence.
    Power(Watts),
    /// A resistance level in the device's own unitless scale.
    Resistance(f64),
    /// Simulate riding on a slope.
    Slope(SlopeLoad),
    /// No load beyond what the device cannot avoid.
    Free,
}

/// The parameters of a simulated slope, as the fitness machine control point takes them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlopeLoad {
    /// Grade in percent, uphill positive.
    pub grade_pct: f64,
    /// Wind in m/s, head wind positive.
    pub wind_m_per_s: f64,
    /// Coefficient of rolling resistance.
    pub crr: f64,
    /// Wind resistance coefficient, kg/m.
    pub cw_kg_per_m: f64,
}

impl fmt::Display for Target {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Power(power) => write!(f, "{power:.0}"),
            Self::Resistance(level) => write!(f, "resistance {level:.1}"),
            Self::Slope(slope) => write!(f, "slope {:.2}\u{a0}%", slope.grade_pct),
            Self::Free => f.write_str("free"),
        }
    }
}

/// A load that does not follow the clock: how the brake stands during a burst or a free ride.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Brake {
    /// No load.
    Free,
    /// A resistance level.
    Resistance(f64),
    /// A grade in percent on still air with the script's coefficients.
    Slope(SlopeLoad),
}

/// How the rider is asked to pedal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pedalling {
    /// Evenly at the cued cadence, seated.
    Evenly,
    /// Easily; the cadence does not matter much.
    Easily,
    /// With all force, from rolling.
    AllOut,
    /// With all force, from standstill.
    AllOutFromStandstill,
    /// Not at all; do not brake the flywheel.
    Stop,
}

/// A gear the rider is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GearCue {
    /// Teeth in front and behind, when the script names them.
    pub teeth: Option<(u32, u32)>,
    /// Metres of road per crank revolution. Equal numbers, equal gears.
    pub development_m: f64,
}

impl fmt::Display for GearCue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.teeth {
            Some((front, rear)) => write!(f, "{front}×{rear}"),
            None => write!(f, "{:.2}\u{a0}m per turn", self.development_m),
        }
    }
}

/// What the rider should do. A simulated rider obeys the same cue.
#[derive(Clone, Debug, PartialEq)]
pub struct Cue {
    /// How to pedal.
    pub pedalling: Pedalling,
    /// Cadence to hold, if it matters.
    pub cadence: Option<RevPerMin>,
    /// Gear to ride, if it matters.
    pub gear: Option<GearCue>,
    /// Flywheel speed to hold, if it matters.
    pub speed: Option<MetresPerSecond>,
    /// Power the rider should aim at where the brake does not decide it.
    pub effort: Option<Watts>,
    /// The same in words.
    pub text: String,
}
